"""Units and jobs without a database, and what the check says of them in words."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fleet.models import Hammer, SuppressorHousing
from ratings.jobs.answer import UnitAnswer, calculate
from ratings.jobs.candidates import Candidate
from ratings.jobs.words import check_sentence
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.job import Crane, Job, Pile, PileKind, PileOfJob
from ratings.mechanics.extraction.outcomes import CheckKey, UnitVerdict
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.supply import stretch_while_vibrating_in
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.soil import Layer, LayerKind
from ratings.mechanics.standing import Standing

UNIT = Unit(
    mark="S-07",
    groups=(PadGroup(count=8, rate_lbf_in=1000.0, tested_stretch_in=8.0, lot="KX"),),
    usable_travel_in=6.0,
    standing=Standing.MEETS_LISTING,
    eccentric_moment_lb_in=4400.0,
    frequency_vpm=1600.0,
    exciter_weight_lb=8000.0,
    clamp_weight_lb=2000.0,
    clamp_force_lbf=250_000.0,
    housing_weight_lb=4000.0,
    days_since_count=3,
    clamp_kinds=tuple(PileKind),
)
# Holds 10,000 lbf on a foot of perimeter over 20 ft at rest, a tenth of it while vibrated.
JOB = Job(
    pile=Pile(PileKind.H, 73.0, 12.0, 50.0, 20.0, area_in2=21.4, yield_strength_ksi=50.0),
    layers=(
        Layer(
            LayerKind.OTHER,
            0.0,
            30.0,
            120.0,
            friction_psf=500.0,
            vibration_factor=0.5,
            needed_amplitude_in=0.16,
        ),
    ),
    crane=Crane(160_000.0, 2000.0, 800.0, 100_000.0),
)


def calculated(
    unit: Unit = UNIT, job: Job = JOB, housing: str = UNIT.mark, hammer: str = "V-107"
) -> UnitAnswer:
    """A unit's answer, whose housing and hammer are in no database."""
    candidate = Candidate(SuppressorHousing(mark=housing), Hammer(mark=hammer), None, unit)
    return calculate(candidate, (PileOfJob(1, "", 1, job),), ExtractionPolicy())


def verdict(job: Job = JOB, **changes: Any) -> UnitVerdict:
    return check(replace(UNIT, **changes), job, ExtractionPolicy())


def sentence(key: CheckKey, job: Job = JOB, system: str = "us", **changes: Any) -> str:
    """What the check says, of a unit changed so."""
    unit = replace(UNIT, **changes)
    found = check(unit, job, ExtractionPolicy()).check(key)
    assert found is not None
    stretch_in = stretch_while_vibrating_in(unit, job)
    return check_sentence(found, unit, "V-107", job, stretch_in, system)
