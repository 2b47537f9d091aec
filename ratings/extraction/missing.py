"""What an extraction check lacks: which fact is not on record, and where it is entered."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.extraction.verdict import CheckKey


class Place(StrEnum):
    """Where a missing fact is entered."""

    HAMMER = "hammer"
    HOUSING = "housing"
    UNIT = "unit"
    JOB = "job"


@dataclass(frozen=True)
class Missing:
    """A fact that isn't there: the name of its field, and what people call it."""

    place: Place
    field: str
    words: str


def missing_facts(key: CheckKey, unit: Unit, job: Job) -> list[Missing]:
    """Return what a check of a unit lacks, nothing where it lacks nothing."""
    lacks = [each for each in _of_hammer(key, job) if getattr(unit, each.field) is None]
    if key in (CheckKey.CRANE, CheckKey.RIGGING) and unit.housing_weight_lb is None:
        lacks.append(Missing(Place.HOUSING, "weight_lb", "weight"))
    if key is CheckKey.STANDING or (key is CheckKey.LINE_PULL and unit.usable_travel_in is None):
        lacks.append(Missing(Place.UNIT, "standing", "The unit is unrated: its page says why."))
    return lacks + _of_job(key, job)


def missing_sentences(
    facts: Iterable[Missing], housing: str, hammer: str
) -> list[tuple[Missing, str]]:
    """Say what is missing and where to enter it, one sentence for each place."""
    told = list(dict.fromkeys(facts))
    sentences = []
    for place, mark in ((Place.HAMMER, hammer), (Place.HOUSING, f"housing {housing}")):
        of_place = [each for each in told if each.place is place]
        if of_place:
            sentences.append((of_place[0], _sentence([each.words for each in of_place], mark)))
    others = [(each, each.words) for each in told if each.place in (Place.UNIT, Place.JOB)]
    return sentences + others


def _sentence(names: list[str], mark: str) -> str:
    listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    is_or_are, it = ("is", "it") if len(names) == 1 else ("are", "them")
    return (
        f"{listed[0].upper()}{listed[1:]} of {mark} {is_or_are} not on record: enter {it} under "
        "Yard set-up."
    )


def _of_hammer(key: CheckKey, job: Job) -> tuple[Missing, ...]:
    """The facts of the hammer that a check rests on in this way of pulling."""
    grips = _CLAMP if key is CheckKey.CLAMP else ()
    if key in (CheckKey.CRANE, CheckKey.RIGGING):
        return _WEIGHTS
    if key is CheckKey.LINE_PULL:
        return (*_WEIGHTS, *(_MOMENT if job.is_vibrating else ()))
    if not job.is_vibrating:
        return grips
    return (*grips, *_VIBRATION_FACTS.get(key, ()))


_WEIGHTS = (
    Missing(Place.HAMMER, "exciter_weight_lb", "exciter weight"),
    Missing(Place.HAMMER, "clamp_weight_lb", "clamp weight"),
)
_MOMENT = (Missing(Place.HAMMER, "eccentric_moment_lb_in", "eccentric moment"),)
_FREQUENCY = (Missing(Place.HAMMER, "frequency_vpm", "frequency"),)
_CLAMP = (Missing(Place.HAMMER, "clamp_force_lbf", "clamp force"),)
_VIBRATION_FACTS = {
    CheckKey.CENTRIFUGAL: (*_MOMENT, *_FREQUENCY),
    CheckKey.AMPLITUDE: (*_MOMENT, *_WEIGHTS),
    CheckKey.CLAMP: (*_MOMENT, *_FREQUENCY, *_WEIGHTS),
    CheckKey.TENSION: (*_MOMENT, *_FREQUENCY, *_WEIGHTS),
}


def _of_job(key: CheckKey, job: Job) -> list[Missing]:
    if key is CheckKey.CRANE and job.crane.capacity_lbf is None:
        words = "The crane’s capacity is blank: enter what its chart allows at this radius."
        return [Missing(Place.JOB, "capacity_lbf", words)]
    if key is CheckKey.RIGGING and job.crane.rigging_limit_lbf is None:
        words = "The rigging’s working load limit is blank: enter it from the tag of a leg."
        return [Missing(Place.JOB, "rigging_limit_lbf", words)]
    if key is CheckKey.TENSION and _lacks_tension_limit(job):
        return [Missing(Place.JOB, "tension_limit_lbf", _TENSION[job.pile.kind.is_steel])]
    return []


_TENSION = {
    True: (
        "What the pile may be pulled with is not known: enter the area and yield strength of its "
        "steel, or a tension limit."
    ),
    False: (
        "What the pile may be pulled with is not known: enter a tension limit, from somebody who "
        "knows this pile."
    ),
}


def _lacks_tension_limit(job: Job) -> bool:
    pile = job.pile
    if pile.tension_limit_lbf is not None:
        return False
    return not pile.kind.is_steel or pile.area_in2 is None or pile.yield_strength_ksi is None
