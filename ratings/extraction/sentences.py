"""Each check in one sentence, in the reader's units: what is asked and what there is."""

from __future__ import annotations

from collections.abc import Callable

from fleet.quantities import Quantity, plain_number
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.extraction.verdict import Check, CheckKey, Outcome, UnitVerdict
from ratings.mechanics.standing import Standing

SET_UP = "enter it under Yard set-up"


def check_sentence(
    check: Check, unit: Unit, hammer: str, job: Job, stretch_in: float | None, system: str
) -> str:
    """Return what a check says of a unit. hammer: the mark of the hammer it hangs over."""
    if check.key in _STATES:
        return _STATES[check.key](check, unit, system)
    if check.outcome is Outcome.UNKNOWN:
        return _unknown(check, unit, hammer, job)
    if check.key is CheckKey.AMPLITUDE:
        return _amplitude(check, system)
    asked, given = _force(check.demand, system), _force(check.supply, system)
    lead = _LEADS[check.key].format(asked=asked, given=given, at=_at(stretch_in, job, system))
    return f"{lead}: {_difference(check, system)}."


def range_sentence(verdict: UnitVerdict, low_lbf: float, high_lbf: float, system: str) -> str:
    """Return whether a verdict holds over the ground's range, and where it turns."""
    span = f"{_force(low_lbf, system)} to {_force(high_lbf, system)}"
    if verdict.holds_over_range:
        lead = f"Holds over the ground’s range, {span} of resistance."
    else:
        lead = (
            f"Does not hold over the ground’s range: {verdict.low} at {_force(low_lbf, system)} "
            f"of resistance, {verdict.high} at {_force(high_lbf, system)}."
        )
    if verdict.flip_lbf is None:
        return lead
    if verdict.flip_lbf <= 0.0:
        return f"{lead} Its forces fall short even without the ground’s hold."
    return f"{lead} Above {_force(verdict.flip_lbf, system)} it is not suitable."


def margin_words(margin: float | None) -> str:
    """Return a margin such as "1.42×", rounded down: 1.249 is not yet 1.25."""
    if margin is None:
        return "–"
    return f"{int(margin * 100 + 1e-9) / 100:.2f}×"


def amount_words(check: Check, value: float | None, system: str) -> str:
    """Return a demand or a supply of a check with its unit, "–" where there is none."""
    if value is None:
        return "not known" if check.outcome is Outcome.UNKNOWN else "–"
    if check.key is CheckKey.AMPLITUDE:
        return Quantity.DIAMETER.words(value, system, 2 if system == "us" else 1)
    if check.key is CheckKey.INSPECTION:
        return f"{value:.0f} days"
    if check.key is CheckKey.DISTANCE:
        return Quantity.DISTANCE.words(value, system)
    return _force(value, system)


_LEADS = {
    CheckKey.LINE_PULL: "The pads must carry {asked}; they are good for {given}{at}",
    CheckKey.CRANE: "The crane must hold {asked}, hook block and all; its chart allows {given}",
    CheckKey.RIGGING: "A leg of the rigging bears {asked}; its working load limit is {given}",
    CheckKey.CENTRIFUGAL: (
        "The weights must overcome {asked} of the ground’s hold while it is vibrated; they make "
        "{given}"
    ),
    CheckKey.CLAMP: "The clamp must hold {asked}; its jaws grip with {given}",
    CheckKey.TENSION: "The head of the pile is pulled with {asked}; it may be with {given}",
}


def _at(stretch_in: float | None, job: Job, system: str) -> str:
    if stretch_in is None:
        return ""
    words = f" at {Quantity.LENGTH.words(stretch_in, system)} of stretch"
    return f"{words}, half the amplitude short of the usable travel" if job.is_vibrating else words


def _difference(check: Check, system: str) -> str:
    if check.demand is None or check.supply is None:
        return "not known"
    spare = check.supply - check.demand
    words = f"{_force(abs(spare), system)} {'short' if spare < 0 else 'to spare'}"
    return f"{words}, inside the margin for care" if check.outcome is Outcome.CARE else words


def _amplitude(check: Check, system: str) -> str:
    needed, given = (amount_words(check, each, system) for each in (check.demand, check.supply))
    verb = {Outcome.FAILS: "too little", Outcome.CARE: "enough, just"}.get(check.outcome, "enough")
    return f"The soil asks for {needed} from peak to peak; the hammer gives {given}: {verb}."


def _unknown(check: Check, unit: Unit, hammer: str, job: Job) -> str:
    missing = _missing(check.key, unit, hammer, job)
    return f"Not known: {'; '.join(missing)}." if missing else "Not known."


def _missing(key: CheckKey, unit: Unit, hammer: str, job: Job) -> list[str]:
    """What is not on record, and where to enter it."""
    told = [
        f"the {words} of {hammer} is not on record ({SET_UP})"
        for name, words in _HAMMER_FACTS.get(key, ())
        if getattr(unit, name) is None and (job.is_vibrating or name not in _VIBRATION_FACTS)
    ]
    if key in (CheckKey.CRANE, CheckKey.RIGGING) and unit.housing_weight_lb is None:
        told.append(f"the weight of housing {unit.mark} is not on record ({SET_UP})")
    if key is CheckKey.LINE_PULL and unit.usable_travel_in is None:
        told.append("the unit is unrated (its page says what is missing)")
    if key is CheckKey.CRANE and job.crane.capacity_lbf is None:
        told.append("the crane’s capacity is blank (read it from its chart for this radius)")
    if key is CheckKey.RIGGING and job.crane.rigging_limit_lbf is None:
        told.append("the rigging’s working load limit is blank (read it from its tag)")
    if key is CheckKey.TENSION and _lacks_tension_limit(job):
        told.append("what the pile may be pulled with is blank (give it, or area and yield)")
    return told


_WEIGHTS = (("exciter_weight_lb", "exciter weight"), ("clamp_weight_lb", "clamp weight"))
_VIBRATION = (
    ("eccentric_moment_lb_in", "eccentric moment"),
    ("frequency_vpm", "frequency"),
)
_VIBRATION_FACTS = {name for name, _ in _VIBRATION}
_HAMMER_FACTS: dict[CheckKey, tuple[tuple[str, str], ...]] = {
    CheckKey.LINE_PULL: (*_WEIGHTS, _VIBRATION[0]),
    CheckKey.CRANE: _WEIGHTS,
    CheckKey.RIGGING: _WEIGHTS,
    CheckKey.CENTRIFUGAL: _VIBRATION,
    CheckKey.AMPLITUDE: (*_WEIGHTS, _VIBRATION[0]),
    CheckKey.CLAMP: (("clamp_force_lbf", "clamp force"), *_WEIGHTS, *_VIBRATION),
    CheckKey.TENSION: (*_WEIGHTS, *_VIBRATION),
}


def _lacks_tension_limit(job: Job) -> bool:
    pile = job.pile
    if pile.tension_limit_lbf is not None:
        return False
    return not pile.kind.is_steel or pile.area_in2 is None or pile.yield_strength_ksi is None


def _standing(check: Check, unit: Unit, system: str) -> str:
    means = {
        Standing.MEETS_LISTING: "meets its listing",
        Standing.NOT_PROVEN: "is not proven against its listing",
        Standing.BELOW_LISTING: "is below its listing",
        Standing.UNRATED: "is unrated: its page says what is missing",
    }
    end = " By the yard’s rules it does not go out." if check.outcome is Outcome.FAILS else ""
    return f"The unit {means[unit.standing]}.{end}"


def _inspection(check: Check, unit: Unit, system: str) -> str:
    allowed = plain_number(check.supply or 0.0, 0)
    if unit.days_since_inspection is None:
        return f"The unit was never inspected; {allowed} days are allowed."
    days = unit.days_since_inspection
    words = f"On the first day the last inspection is {days} day{'' if days == 1 else 's'} old"
    if check.outcome is Outcome.FAILS:
        return f"{words}; {allowed} are allowed: overdue, inspect it first."
    return f"{words}; {allowed} are allowed."


def _service(check: Check, unit: Unit, system: str) -> str:
    return f"Out of service: {unit.out_of_service}." if unit.out_of_service else "In service."


def _rating(check: Check, unit: Unit, system: str) -> str:
    if unit.stale_lots:
        return f"The rate of lot {', '.join(unit.stale_lots)} is stale: test it again."
    return "No rate it rests on is stale."


def _dates(check: Check, unit: Unit, system: str) -> str:
    return f"Held by {unit.committed}." if unit.committed else "Free on these days."


def _distance(check: Check, unit: Unit, system: str) -> str:
    words = f"Its yard is {Quantity.DISTANCE.words(check.demand or 0.0, system)} away"
    if check.supply is None:
        return f"{words}."
    return f"{words}; {Quantity.DISTANCE.words(check.supply, system)} is the farthest asked for."


_STATES: dict[CheckKey, Callable[[Check, Unit, str], str]] = {
    CheckKey.STANDING: _standing,
    CheckKey.INSPECTION: _inspection,
    CheckKey.SERVICE: _service,
    CheckKey.RATING: _rating,
    CheckKey.DATES: _dates,
    CheckKey.DISTANCE: _distance,
}


def _force(value: float | None, system: str) -> str:
    return "not known" if value is None else Quantity.FORCE.words(value, system, _places(system))


def _places(system: str) -> int:
    return 0 if system == "us" else 1
