"""Each check in one sentence, in the reader's units: what is asked, what there is, what follows."""

from __future__ import annotations

from collections.abc import Callable

from fleet.quantities import Quantity, plain_number
from ratings.extraction.amounts import UNKNOWN, amount_words, compared, margin_words
from ratings.extraction.missing import missing_facts, missing_sentences
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.extraction.verdict import Check, CheckKey, Outcome
from ratings.mechanics.standing import Standing


def check_sentence(
    check: Check, unit: Unit, hammer: str, job: Job, stretch_in: float | None, system: str
) -> str:
    """Return what a check says of a unit. hammer: the mark of the hammer it hangs over."""
    if check.key in _STATES:
        return _STATES[check.key](check, unit, system)
    if check.outcome is Outcome.UNKNOWN or check.supply is None:
        return _unknown(check, unit, hammer, job)
    if check.key is CheckKey.AMPLITUDE:
        return _amplitude(check, system)
    if check.demand is None:
        return _unknown(check, unit, hammer, job)
    asked, given, between = compared(check.demand, check.supply, system)
    lead = _LEADS[check.key].format(
        asked=asked, given=given, at=_at(stretch_in, job, system), hold=_hold(job)
    )
    return f"{lead}: {between} {_ends(check)}."


def short_words(check: Check, unit: Unit) -> str:
    """Return a check that doesn't hold in a few words, for a list of reasons."""
    if check.key is CheckKey.STANDING:
        return unit.standing
    if check.outcome is Outcome.UNKNOWN:
        return f"{check.key} {UNKNOWN}"
    if check.key in _SHORT:
        return _SHORT[check.key]
    return f"{check.key} {margin_words(check.margin)}"


_LEADS = {
    CheckKey.LINE_PULL: "The pads must carry {asked}; they are good for {given}{at}",
    CheckKey.CRANE: "The crane must hold {asked}, hook block and all; its chart allows {given}",
    CheckKey.RIGGING: "A leg of the rigging bears {asked}; its working load limit is {given}",
    CheckKey.CENTRIFUGAL: "{hold} {asked}; the turning weights make {given}",
    CheckKey.CLAMP: "The clamp must hold {asked}; its jaws grip with {given}",
    CheckKey.TENSION: "The head of the pile is pulled with {asked}; it may be with {given}",
}
# What follows where a check fails.
_MEANS = {
    CheckKey.LINE_PULL: "the housing would come to its stops",
    CheckKey.CRANE: "the crane would be overloaded",
    CheckKey.RIGGING: "the rigging would be overloaded",
    CheckKey.CENTRIFUGAL: "the ground would not let go",
    CheckKey.CLAMP: "the jaws could slip",
    CheckKey.TENSION: "the pile could tear",
}
_SHORT = {
    CheckKey.INSPECTION: "inspection overdue",
    CheckKey.SERVICE: "out of service",
    CheckKey.RATING: "a stale rate",
    CheckKey.DATES: "held on these days",
    CheckKey.DISTANCE: "farther than asked for",
}


def _hold(job: Job) -> str:
    return "While vibrated the ground holds with" if job.is_vibrating else "The ground holds with"


def _at(stretch_in: float | None, job: Job, system: str) -> str:
    if stretch_in is None:
        return ""
    if stretch_in == 0.0:
        return ", for half the amplitude takes all of the usable travel"
    words = f" at {Quantity.LENGTH.words(stretch_in, system)} of stretch"
    return f"{words}, half the amplitude short of the usable travel" if job.is_vibrating else words


def _ends(check: Check) -> str:
    if check.outcome is Outcome.FAILS:
        return f"short, and {_MEANS[check.key]}"
    return "to spare, inside the margin for care" if check.outcome is Outcome.CARE else "to spare"


def _amplitude(check: Check, system: str) -> str:
    needed, given = (amount_words(check, each, system) for each in (check.demand, check.supply))
    verb = {
        Outcome.FAILS: "too little to free the pile",
        Outcome.CARE: "enough, inside the margin for care",
    }.get(check.outcome, "enough")
    return f"The soil asks for {needed} from peak to peak; the hammer gives {given}: {verb}."


def _unknown(check: Check, unit: Unit, hammer: str, job: Job) -> str:
    facts = missing_facts(check.key, unit, job)
    words = " ".join(each for _, each in missing_sentences(facts, unit.mark, hammer))
    return words or "A figure it rests on is not known."


def _standing(check: Check, unit: Unit, system: str) -> str:
    means = {
        Standing.MEETS_LISTING: "The unit meets its listing.",
        Standing.NOT_PROVEN: "The unit is not proven against its listing: its line pull meets it, "
        "its working capacity does not.",
        Standing.BELOW_LISTING: "The unit is below its listing.",
        Standing.UNRATED: "The unit is unrated: its page says why.",
    }
    end = " By the yard’s rules it does not go out." if check.outcome is Outcome.FAILS else ""
    return f"{means[unit.standing]}{end}"


def _inspection(check: Check, unit: Unit, system: str) -> str:
    allowed = plain_number(check.supply or 0.0, 0)
    days = unit.days_since_inspection
    if days is None:
        return f"The unit was never inspected; an inspection holds for {allowed} days."
    words = f"On the first day its last inspection is {_days(days)} old"
    if check.outcome is Outcome.FAILS:
        over = days - round(check.supply or 0.0)
        return f"{words}; {allowed} are allowed: overdue by {_days(over)}."
    return f"{words}; {allowed} are allowed."


def _days(many: int) -> str:
    return f"{plain_number(many, 0)} day{'' if many == 1 else 's'}"


def _service(check: Check, unit: Unit, system: str) -> str:
    return (
        f"Out of service: {unit.out_of_service.rstrip('.')}."
        if unit.out_of_service
        else "In service."
    )


def _rating(check: Check, unit: Unit, system: str) -> str:
    if not unit.stale_lots:
        return "No rate it rests on is stale."
    lots = ", ".join(unit.stale_lots)
    many = len(unit.stale_lots) > 1
    return f"The rate{'s' * many} of lot{'s' * many} {lots} {'are' if many else 'is'} stale."


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
