"""An answer in words: figures, days, checks, ranges, and what is not recorded."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum

from fleet.dates import day_count_words
from fleet.quantities import Quantity, plain_number
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.outcomes import (
    BEARS_GROUND,
    Check,
    CheckKey,
    Condition,
    ConditionKey,
    ConditionState,
    Outcome,
    UnitVerdict,
    Verdict,
)
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.standing import Standing

NONE = "–"
UNKNOWN = "not known"
# Decimals of the finest force that a sentence tells apart.
_FINEST = {"us": 0, "si": 2}


def margin_words(margin: float | None) -> str:
    """Return a margin such as "1.42×", rounded down: 1.249 is not yet 1.25."""
    if margin is None:
        return NONE
    return f"{math.floor(margin * 100 + 1e-9) / 100:.2f}×"


def amount_words(check: Check, value: float | None, system: str) -> str:
    """Return a demand or a supply of a check in full with its unit, "–" where there is none."""
    if value is None:
        return UNKNOWN if check.outcome is Outcome.UNKNOWN else NONE
    if check.key is CheckKey.AMPLITUDE:
        return Quantity.DIAMETER.words(value, system, 2 if system == "us" else 1)
    if check.key is CheckKey.ACCELERATION:
        return f"{plain_number(value, 1)} g"
    return Quantity.FORCE.words(value, system, 0 if system == "us" else 1)


def condition_amounts(condition: Condition, system: str) -> tuple[str, str]:
    """Return what there is of a condition and the most there may be, "–" where it has none."""
    figures = (condition.value, condition.limit)
    if condition.key is ConditionKey.INSPECTION:
        is_never = condition.value is None
        days = [NONE if each is None else day_count_words(round(each)) for each in figures]
        return ("never" if is_never else days[0]), days[1]
    if condition.key is ConditionKey.DISTANCE:
        miles = [
            NONE if each is None else Quantity.DISTANCE.words(each, system) for each in figures
        ]
        return miles[0], miles[1]
    return NONE, NONE


def capitalized(words: str) -> str:
    """Return words with their first letter large and all others as they are."""
    return f"{words[0].upper()}{words[1:]}"


def half_up(steps: float) -> int:
    """Round as people do: a half goes up."""
    return math.floor(steps + 0.5)


def about(force_lbf: float, system: str, whole: Callable[[float], int] = half_up) -> str:
    """Return a force to three figures, such as "61,300 lbf". whole: how it is rounded."""
    shown = Quantity.FORCE.shown(force_lbf, system)
    return _in_full(shown, _places(shown, system), system, whole)


def at_least(force_lbf: float, system: str) -> str:
    """Return a force to three figures, never less than it is."""
    # A hair of leave, so that 61,300 is not raised for its last bit; below, the same.
    return about(force_lbf, system, lambda steps: math.ceil(steps - 1e-9))


def at_most(force_lbf: float, system: str) -> str:
    """Return a force to three figures, never more than it is."""
    return about(force_lbf, system, lambda steps: math.floor(steps + 1e-9))


def compared(demand_lbf: float, supply_lbf: float, system: str) -> tuple[str, str, str]:
    """Return demand, supply and what is between them, so that the three agree as they stand.

    To three figures of the smaller, no more than four of the larger; to more where two that
    differ would else read the same.
    """
    demand, supply = (Quantity.FORCE.shown(each, system) for each in (demand_lbf, supply_lbf))
    finest = _FINEST[system]
    places = min(
        _places(min(demand, supply), system), _places(max(demand, supply), system) + 1, finest
    )
    while places < finest and _rounded(demand, places) == _rounded(supply, places):
        places += 1
    between = abs(_rounded(supply, places) - _rounded(demand, places))
    asked, given, spare = (_in_full(each, places, system) for each in (demand, supply, between))
    return asked, given, spare


def _places(shown: float, system: str) -> int:
    """Decimals that leave three figures, less than 0 for tens, hundreds and so on."""
    if shown == 0.0:
        return 0
    return min(_FINEST[system], 2 - math.floor(math.log10(abs(shown))))


def _rounded(shown: float, places: int, whole: Callable[[float], int] = half_up) -> float:
    return whole(shown * 10.0**places) / 10.0**places


def _in_full(
    shown: float, places: int, system: str, whole: Callable[[float], int] = half_up
) -> str:
    words = plain_number(_rounded(shown, places, whole), max(0, places))
    return f"{words} {Quantity.FORCE.symbol(system)}"


class Place(StrEnum):
    """The page on which a missing fact is entered, or something is put right."""

    NOWHERE = ""
    COUNT = "count"
    SERVICE = "service"
    HAMMER = "hammer"
    CLAMP = "clamp"
    HOUSING = "housing"
    UNIT = "unit"
    JOB = "job"


@dataclass(frozen=True)
class Missing:
    """A fact that isn't there: the name of its field, and what people call it."""

    place: Place
    field: str
    words: str


def missing_sentences(
    keys: Iterable[CheckKey], unit: Unit, job: Job, hammer: str
) -> list[tuple[Missing, str]]:
    """Say what checks of a unit lack and where to enter it, one sentence for each place.

    hammer: the mark of the one it hangs over. Nothing where they lack nothing.
    """
    lacks: list[Missing] = []
    for key in keys:
        always, while_vibrating = _RESTS_ON.get(key, ((), ()))
        of_hammer = (*always, *while_vibrating) if job.is_vibrating else always
        lacks += [each for each in of_hammer if getattr(unit, each.field) is None]
        is_unrated = key in _OF_PADS and unit.usable_travel_in is None
        # Whatever share of its steel: it is known or not.
        is_tension_missing = key is CheckKey.TENSION and job.pile.allowed_tension_lbf(1.0) is None
        for fact, is_missing in (
            (
                _HOUSING_WEIGHT,
                key in (*_OF_CRANE, *_OF_RIGGING) and unit.housing_weight_lb is None,
            ),
            (_RATING, is_unrated),
            (_CAPACITY, key in _OF_CRANE and job.crane.capacity_lbf is None),
            (_RIGGING_LIMIT, key in _OF_RIGGING and job.crane.rigging_limit_lbf is None),
            (_TENSION[job.pile.kind.is_steel], is_tension_missing),
        ):
            if is_missing:
                lacks.append(fact)
    lacks = list(dict.fromkeys(lacks))
    sentences = []
    for place, mark, page in (
        (Place.HAMMER, hammer, "Set-up"),
        (Place.CLAMP, f"the clamp on {hammer}", "Clamps and power packs"),
        (Place.HOUSING, f"housing {unit.mark}", "Set-up"),
    ):
        of_place = [each for each in lacks if each.place is place]
        if of_place:
            *others, last = (each.words for each in of_place)
            listed = f"{', '.join(others)} and {last}" if others else last
            are, them = ("are", "them") if others else ("is", "it")
            words = f"{capitalized(listed)} of {mark} {are} not on record: enter {them} under "
            sentences.append((of_place[0], f"{words}{page}."))
    return sentences + [
        (each, each.words) for each in lacks if each.place in (Place.UNIT, Place.JOB)
    ]


_WEIGHTS = (
    Missing(Place.HAMMER, "exciter_weight_lb", "exciter weight"),
    Missing(Place.CLAMP, "clamp_weight_lb", "weight"),
)
_MOMENT = (Missing(Place.HAMMER, "eccentric_moment_lb_in", "eccentric moment"),)
_FREQUENCY = (Missing(Place.HAMMER, "frequency_vpm", "frequency"),)
_CLAMP = (Missing(Place.CLAMP, "clamp_force_lbf", "clamp force"),)
# Facts of the hammer a check rests on: in every pull, and besides while it vibrates.
_RESTS_ON: dict[CheckKey, tuple[tuple[Missing, ...], tuple[Missing, ...]]] = {
    CheckKey.LINE_PULL: (_WEIGHTS, _MOMENT),
    CheckKey.CRANE: (_WEIGHTS, ()),
    CheckKey.RIGGING: (_WEIGHTS, ()),
    CheckKey.CENTRIFUGAL: ((), (*_MOMENT, *_FREQUENCY)),
    CheckKey.AMPLITUDE: ((), (*_MOMENT, *_WEIGHTS)),
    CheckKey.CLAMP: (_CLAMP, (*_MOMENT, *_FREQUENCY, *_WEIGHTS)),
    CheckKey.TENSION: ((), (*_MOMENT, *_FREQUENCY, *_WEIGHTS)),
    CheckKey.TOGETHER: (_WEIGHTS, (*_MOMENT, *_FREQUENCY)),
    CheckKey.ACCELERATION: ((), (*_MOMENT, *_FREQUENCY, *_WEIGHTS)),
    CheckKey.LIFT: ((*_WEIGHTS, *_CLAMP), _MOMENT),
}
_OF_PADS = (CheckKey.LINE_PULL, CheckKey.TOGETHER, CheckKey.LIFT)
_OF_CRANE = (CheckKey.CRANE, CheckKey.LIFT)
_OF_RIGGING = (CheckKey.RIGGING, CheckKey.LIFT)
_HOUSING_WEIGHT = Missing(Place.HOUSING, "weight_lb", "weight")
_RATING = Missing(Place.UNIT, "standing", "The unit is unrated: its page says why.")
_CAPACITY = Missing(
    Place.JOB,
    "capacity_lbf",
    "The crane’s capacity is blank: enter what its chart allows at this radius.",
)
_RIGGING_LIMIT = Missing(
    Place.JOB,
    "rigging_limit_lbf",
    "The rigging’s working load limit is blank: enter it from the tag of a leg.",
)
# By whether the pile is of steel.
_TENSION = {
    is_steel: Missing(
        Place.JOB,
        "pile-0-tension_limit_lbf",
        f"What the pile may be pulled with is not known: enter {lacks}.",
    )
    for is_steel, lacks in (
        (True, "the area and yield strength of its steel, or a tension limit"),
        (False, "a tension limit, from somebody who knows this pile"),
    )
}


def range_sentence(verdict: UnitVerdict, low_lbf: float, high_lbf: float, system: str) -> str:
    """Return whether a verdict holds over the ground's range, and where it turns, in full."""
    low, high = about(low_lbf, system), about(high_lbf, system)
    if verdict.holds_over_range:
        lead = (
            f"{capitalized(verdict.verdict)} over the whole of the ground’s range, {low} to {high}."
        )
    else:
        lead = (
            f"The verdict does not hold over the ground’s range: {verdict.low} at {low} of "
            f"resistance, {verdict.high} at {high}."
        )
    turns = _turns(verdict, system)
    return f"{lead} {turns}" if turns else lead


def range_words(verdict: UnitVerdict, high_lbf: float, system: str) -> str:
    """Return the same in a line, for a row of the ranking."""
    holds = "Holds over the range of the ground"
    flip_lbf, care_lbf = verdict.flip_lbf, verdict.care_flip_lbf
    if not verdict.verdict.may_go:
        return _turns(verdict, system) or (f"{holds}." if verdict.holds_over_range else "")
    if verdict.holds_over_range:
        end = "" if flip_lbf is None else f"; {_above('not suitable', flip_lbf, system)}"
        return f"{holds}{end}."
    if flip_lbf is not None and not verdict.high.may_go:
        words = _above("not suitable", flip_lbf, system)
    elif verdict.high is Verdict.CARE and care_lbf is not None:
        words = _above("suitable only with care", care_lbf, system)
    else:
        low = capitalized(verdict.low)
        return f"{low} at the low end of the range, {verdict.high} at the high end."
    return f"{capitalized(words)}, and the range goes to {about(high_lbf, system)}."


def _turns(verdict: UnitVerdict, system: str) -> str:
    """Say where the verdict turns, by all checks that bear the ground's hold; "" if nowhere."""
    flip_lbf, care_lbf = verdict.flip_lbf, verdict.care_flip_lbf
    if flip_lbf is None:
        return ""
    if flip_lbf <= 0.0:
        words = "Its forces fall short even without the ground’s hold."
    elif not verdict.verdict.may_go:
        words = f"Its forces hold up to {at_most(flip_lbf, system)} of ground resistance."
    elif care_lbf is not None and 0.0 < care_lbf < flip_lbf:
        words = (
            f"Its forces hold with the margin needed up to {at_most(care_lbf, system)} of ground "
            f"resistance; it {_above('not suitable', flip_lbf, system)}."
        )
    else:
        words = f"It {_above('not suitable', flip_lbf, system)}."
    if any(each.key in BEARS_GROUND and each.outcome is Outcome.UNKNOWN for each in verdict.checks):
        return f"By the checks that can be calculated: {words[0].lower()}{words[1:]}"
    return words


def _above(verdict: str, flip_lbf: float, system: str) -> str:
    return f"turns {verdict} above {at_most(flip_lbf, system)} of ground resistance"


def check_sentence(
    check: Check, unit: Unit, hammer: str, job: Job, stretch_in: float | None, system: str
) -> str:
    """Return what a check says of a unit. hammer: the mark of the hammer it hangs over."""
    if check.outcome is Outcome.UNKNOWN or check.supply is None or check.demand is None:
        lacks = missing_sentences([check.key], unit, job, hammer)
        return " ".join(words for _, words in lacks) or "A figure it rests on is not known."
    if check.key is CheckKey.ACCELERATION:
        needed, given = (amount_words(check, each, system) for each in (check.demand, check.supply))
        return (
            f"A pile of this kind asks for a peak acceleration of {needed}; the hammer with all it "
            f"shakes comes to {given}: {_ACCELERATION_ENDS[check.outcome]}."
        )
    if check.key is CheckKey.AMPLITUDE:
        needed, given = (amount_words(check, each, system) for each in (check.demand, check.supply))
        return (
            f"The soil asks for {needed} from peak to peak; the hammer gives {given}: "
            f"{_AMPLITUDE_ENDS[check.outcome]}."
        )
    asked, given, between = compared(check.demand, check.supply, system)
    hold = "While vibrated the ground holds with" if job.is_vibrating else "The ground holds with"
    at = ""
    if stretch_in == 0.0:
        at = ", for half the amplitude takes all of the usable travel"
    elif stretch_in is not None:
        short = ", half the amplitude short of the usable travel" if job.is_vibrating else ""
        at = f" at {Quantity.LENGTH.words(stretch_in, system)} of stretch{short}"
    lead = _LEADS[check.key].format(asked=asked, given=given, at=at, hold=hold)
    end = _ENDS.get(check.outcome) or f"short, and {_MEANS[check.key]}"
    return f"{lead}: {between} {end}."


def short_words(check: Check) -> str:
    """Return a check that doesn't hold in a few words, for a list of reasons."""
    if check.outcome is Outcome.UNKNOWN:
        return f"{check.key} {UNKNOWN}"
    return f"{check.key} {margin_words(check.margin)}"


def short_condition(condition: Condition, unit: Unit) -> str:
    """Return a condition that doesn't hold in a few words, for a list of reasons."""
    if condition.key is ConditionKey.STANDING:
        return unit.standing
    if condition.key is ConditionKey.CLAMP_KIND and unit.clamp_kinds is None:
        return "what its clamp holds is not on record"
    if condition.key is ConditionKey.INSPECTION and condition.state is ConditionState.CARE:
        return "a full count falls due while it is held"
    if condition.key is ConditionKey.CALIBRATION and not unit.calibration_lapsing:
        return "no load indicator is named"
    return _SHORT[condition.key]


_LEADS = {
    CheckKey.LINE_PULL: "The pads must carry {asked}; they are good for {given}{at}",
    CheckKey.CRANE: "The crane must hold {asked}, hook block and all; a pull may use {given} of "
    "its chart",
    CheckKey.RIGGING: "A leg of the rigging bears {asked}; its working load limit is {given}",
    CheckKey.CENTRIFUGAL: "{hold} {asked}; the turning weights make {given}",
    CheckKey.CLAMP: "The clamp must hold {asked}; its jaws grip with {given}",
    CheckKey.TENSION: "The head of the pile is pulled with {asked}; it may be with {given}",
    CheckKey.TOGETHER: "Ground and all that hangs hold with {asked}; the turning weights and the "
    "pads make {given} together",
    CheckKey.LIFT: "Once the pile is free {asked} hangs where it is lifted with least to spare; "
    "there {given} may",
}
# What follows where a check fails.
_MEANS = {
    CheckKey.LINE_PULL: "the housing would come to its stops",
    CheckKey.CRANE: "the crane would be overloaded",
    CheckKey.RIGGING: "the rigging would be overloaded",
    CheckKey.CENTRIFUGAL: "the ground would not let go",
    CheckKey.CLAMP: "the jaws could slip",
    CheckKey.TENSION: "the pile could tear",
    CheckKey.TOGETHER: "the ground would not let go",
    CheckKey.LIFT: "it could not be lifted away",
}
_SHORT = {
    ConditionKey.INSPECTION: "inspection overdue",
    ConditionKey.SERVICE: "out of service",
    ConditionKey.RATING: "a stale rate",
    ConditionKey.CALIBRATION: "a calibration runs out",
    ConditionKey.CLAMP_KIND: "its clamp does not hold this kind of pile",
    ConditionKey.DATES: "held on these days",
    ConditionKey.DISTANCE: "farther than asked for",
}


_ENDS = {Outcome.HOLDS: "to spare", Outcome.CARE: "to spare, inside the margin for care"}
_AMPLITUDE_ENDS = {
    Outcome.HOLDS: "enough",
    Outcome.CARE: "enough, inside the margin for care",
    Outcome.FAILS: "too little to free the pile",
}
_ACCELERATION_ENDS = {
    Outcome.HOLDS: "enough",
    Outcome.CARE: "enough, inside the margin for care",
    Outcome.FAILS: "too little",
}
_STANDINGS = {
    Standing.MEETS_LISTING: "The unit meets its listing.",
    Standing.NOT_PROVEN: "The unit is not proven against its listing: its line pull meets it, its "
    "working capacity does not.",
    Standing.BELOW_LISTING: "The unit is below its listing.",
    Standing.UNRATED: "The unit is unrated: its page says why.",
}


FREE = "Free on these days. Its days on the way there and back are looked at as it is committed."


def condition_sentence(condition: Condition, unit: Unit, system: str) -> str:
    """Return what a condition says of a unit."""
    if condition.key is ConditionKey.STANDING:
        is_refused = unit.standing is Standing.BELOW_LISTING and not condition.state.lets_go
        end = " By the yard’s rules it does not go out so." if is_refused else ""
        return f"{_STANDINGS[unit.standing]}{end}"
    if condition.key is ConditionKey.INSPECTION:
        return _inspection_sentence(condition, unit)
    if condition.key is ConditionKey.SERVICE:
        reason = unit.out_of_service.rstrip(".")
        return f"Out of service: {reason}." if unit.out_of_service else "In service."
    if condition.key is ConditionKey.RATING:
        return _rating_sentence(unit)
    if condition.key is ConditionKey.CALIBRATION:
        return _calibration_sentence(unit)
    if condition.key is ConditionKey.CLAMP_KIND:
        if unit.clamp_kinds is None:
            return "Which piles its clamp holds is not on record: enter it before it goes."
        if condition.state is ConditionState.HOLDS:
            return "Its clamp holds a pile of this kind."
        holds = ", ".join(unit.clamp_kinds) or "none"
        return f"Its clamp does not hold a pile of this kind; on record are: {holds}."
    if condition.key is ConditionKey.DATES:
        return f"Held by {unit.committed}." if unit.committed else FREE
    away = f"Its yard is {Quantity.DISTANCE.words(condition.value or 0.0, system)} away"
    if condition.limit is None:
        return f"{away}."
    return f"{away}; {Quantity.DISTANCE.words(condition.limit, system)} is the farthest asked for."


def _calibration_sentence(unit: Unit) -> str:
    if unit.calibration_lapsing:
        lapsing = ", ".join(unit.calibration_lapsing)
        return (
            f"Not calibrated on every day of the hold: {lapsing}. Have it calibrated, or choose "
            "another load indicator on the job."
        )
    if unit.watched_by:
        return (
            f"The calibration of {unit.watched_by}, which watches the pull, lasts to the last day."
        )
    if unit.watched_by is None:
        return "Every calibration it rests on holds to the last day."
    return (
        "No load indicator is named for this job, and here the load alone tells where to stop: "
        "choose one on the job, in calibration to the last day."
    )


def _inspection_sentence(condition: Condition, unit: Unit) -> str:
    days, most_days = unit.days_since_count, round(condition.limit or 0.0)
    if days is None:
        most = day_count_words(most_days)
        return f"The unit was never counted in full; a full count holds for {most}."
    # As planned, only the day on which the newest count is oldest is judged: not always the first.
    on = "When it is oldest" if unit.is_ahead and not unit.days_held else "On the first day"
    old = f"{on} its last full count is {day_count_words(days)} old"
    over = f": overdue by {day_count_words(days - most_days)}" if days > most_days else ""
    lead = f"{old}; {most_days:,} are allowed{over}."
    last_days = round(condition.last_value or 0.0)
    if over or last_days <= most_days:
        return lead
    return f"{lead} On the last day it is {day_count_words(last_days)} old: count it again by then."


def _rating_sentence(unit: Unit) -> str:
    if not unit.stale_lots and not unit.lapsing_lots:
        return "No rate it rests on is stale."
    sentences = []
    for lots, then in ((unit.stale_lots, ""), (unit.lapsing_lots, " before the last day is over")):
        if lots:
            many = len(lots) > 1
            verb = ("go" if many else "goes") if then else ("are" if many else "is")
            sentences.append(
                f"The rate{'s' * many} of lot{'s' * many} {', '.join(lots)} {verb} stale{then}."
            )
    return " ".join(sentences)
