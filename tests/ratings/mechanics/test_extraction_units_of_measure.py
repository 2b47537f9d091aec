"""Every number in US equals its SI form: by conversion there and back, and by SI arithmetic."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from typing import Any, TypeVar

import pint
import pytest
from hypothesis import assume, given

from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.job import Crane, Job, Pile, PileKind
from ratings.mechanics.extraction.outcomes import CheckKey, UnitVerdict
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.soil import WATER_LB_FT3, Density, Layer, LayerKind
from ratings.mechanics.standing import Standing
from tests.ratings.mechanics.pulls import POLICY, jobs, units

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()
Given = TypeVar("Given", Pile, Crane, Layer, Unit, Job)

# The end of a name tells its unit; the longest that fits counts.
SI_OF = {
    "_lb_in": ("lb*inch", "kg*m"),
    "_lb_ft3": ("lbf/ft**3", "kN/m**3"),
    "_lb_ft": ("lb/ft", "kg/m"),
    "_lb": ("lb", "kg"),
    "_lbf": ("lbf", "kN"),
    "_psf": ("lbf/ft**2", "kPa"),
    "_ksi": ("kip/inch**2", "MPa"),
    "_in2": ("inch**2", "cm**2"),
    "_in": ("inch", "mm"),
    "_ft": ("ft", "m"),
    "_mi": ("mile", "km"),
    "_vpm": ("1/minute", "Hz"),
}
UNITS.define("kip = 1000 * pound_force")


def to_si(name: str, value: float) -> float:
    us, si = _units_of(name)
    return float(UNITS.Quantity(value, us).to(si).magnitude)


def to_us(name: str, value: float) -> float:
    us, si = _units_of(name)
    return float(UNITS.Quantity(value, si).to(us).magnitude)


def _units_of(name: str) -> tuple[str, str]:
    return SI_OF[max((end for end in SI_OF if name.endswith(end)), key=len)]


def there_and_back(facts: Given) -> Given:
    """Each number that carries a unit, converted to SI and back."""
    changed: dict[str, Any] = {
        each.name: to_us(each.name, to_si(each.name, getattr(facts, each.name)))
        for each in fields(facts)
        if isinstance(getattr(facts, each.name), float)
        and any(each.name.endswith(end) for end in SI_OF)
    }
    return replace(facts, **changed)


def whole_job_there_and_back(job: Job) -> Job:
    return replace(
        there_and_back(job),
        # Rounded alike, so that a pile no longer than its embedment stays so.
        pile=there_and_back(job.pile),
        crane=there_and_back(job.crane),
        layers=tuple(there_and_back(layer) for layer in job.layers),
    )


def assert_alike(one: UnitVerdict, other: UnitVerdict, rel: float) -> None:
    for mine, theirs in zip(one.checks, other.checks, strict=True):
        assert mine.key is theirs.key
        for name in ("demand", "supply", "margin"):
            expected = getattr(theirs, name)
            if expected is not None:
                expected = pytest.approx(expected, rel=rel, abs=1e-3)
            assert getattr(mine, name) == expected, (mine.key, name)
    assert one.flip_lbf == (
        None if other.flip_lbf is None else pytest.approx(other.flip_lbf, rel=rel, abs=0.1)
    )


@given(units(), jobs())
def test_a_job_converted_to_si_and_back_gets_the_same_answer(unit: Unit, job: Job) -> None:
    # Ground a hair above the weight of water may come back a hair below it.
    assume(all(layer.unit_weight_lb_ft3 > WATER_LB_FT3 + 0.01 for layer in job.layers))
    bare = replace(unit, groups=(), usable_travel_in=None)
    before = check(bare, job)
    after = check(there_and_back(bare), whole_job_there_and_back(job))
    assert_alike(after, before, rel=1e-6)
    # Where no margin is a rounding away from a limit the words are the same too.
    limits = (1.0, POLICY.care_margin)
    margins = [each.margin for each in before.checks if each.margin is not None]
    if all(abs(margin - limit) > 1e-4 for margin in margins for limit in limits):
        assert (after.verdict, after.governing) == (before.verdict, before.governing)


CLAY_ON_SAND = (
    Layer(
        LayerKind.COHESIVE,
        0.0,
        to_us("top_ft", 3.0),
        to_us("unit_weight_lb_ft3", 17.5),
        undrained_strength_psf=to_us("undrained_strength_psf", 25.0),
        soil="soft loam or marl, soft loess, stiff cliff",
    ),
    Layer(
        LayerKind.GRANULAR,
        to_us("top_ft", 3.0),
        to_us("top_ft", 12.0),
        to_us("unit_weight_lb_ft3", 19.0),
        density=Density.MEDIUM_DENSE_SAND,
        soil="round fine sand",
    ),
)
SI_JOB = Job(
    Pile(
        PileKind.SHEET_PAIR,
        weight_lb_ft=to_us("weight_lb_ft", 150.0),
        perimeter_in=to_us("perimeter_in", 3_000.0),
        length_ft=to_us("length_ft", 14.0),
        embedment_ft=to_us("embedment_ft", 12.0),
        area_in2=to_us("area_in2", 190.0),
        yield_strength_ksi=to_us("yield_strength_ksi", 355.0),
    ),
    CLAY_ON_SAND,
    Crane(
        capacity_lbf=to_us("capacity_lbf", 600.0),
        hook_block_lb=to_us("hook_block_lb", 700.0),
        rigging_weight_lb=to_us("rigging_weight_lb", 250.0),
        rigging_limit_lbf=to_us("rigging_limit_lbf", 300.0),
        legs=2,
        leg_angle_deg=60.0,
    ),
    water_depth_ft=to_us("water_depth_ft", 3.0),
)
SI_UNIT = Unit(
    mark="SI",
    groups=(PadGroup(24, to_us("x_lbf", 0.175) / to_us("x_in", 1.0), to_us("x_in", 150.0)),),
    usable_travel_in=to_us("usable_travel_in", 120.0),
    standing=Standing.MEETS_LISTING,
    eccentric_moment_lb_in=to_us("eccentric_moment_lb_in", 50.0),
    frequency_vpm=to_us("frequency_vpm", 25.0),
    exciter_weight_lb=to_us("exciter_weight_lb", 4_000.0),
    clamp_weight_lb=to_us("clamp_weight_lb", 1_000.0),
    clamp_force_lbf=to_us("clamp_force_lbf", 1_500.0),
    housing_weight_lb=to_us("housing_weight_lb", 2_000.0),
    days_since_count=2,
)


def vibrated_kn() -> float:
    """The same ground by SI arithmetic, in layers a millimetre thick."""
    water = to_si("unit_weight_lb_ft3", WATER_LB_FT3)
    most = to_si("x_psf", 1_700.0)
    total = 0.0
    for millimetre in range(12_000):
        depth_m = (millimetre + 0.5) / 1_000.0
        if depth_m <= 3.0:
            stress_kpa = 17.5 * depth_m
            ratio = 25.0 / stress_kpa
            alpha = min(1.0, 0.5 * ratio ** (-0.5 if ratio <= 1.0 else -0.25))
            total += 0.12 * alpha * 25.0 * 3.0 / 1_000.0
        else:
            stress_kpa = 17.5 * 3.0 + (19.0 - water) * (depth_m - 3.0)
            total += 0.20 * min(0.37 * stress_kpa, most) * 3.0 / 1_000.0
    return total


def test_the_ground_by_si_arithmetic() -> None:
    # Clay in 5 ft pieces says a little more than in a thousand.
    held = check(SI_UNIT, SI_JOB).check(CheckKey.CENTRIFUGAL)
    assert held is not None
    assert held.demand is not None
    assert to_si("x_lbf", held.demand) == pytest.approx(vibrated_kn(), rel=2e-3)


def test_every_demand_and_supply_by_si_arithmetic() -> None:
    gravity, shaken_kg = 9.80665, 4_000.0 + 1_000.0 + 150.0 * 14.0
    verdict = check(SI_UNIT, SI_JOB)
    centrifugal = verdict.check(CheckKey.CENTRIFUGAL)
    assert centrifugal is not None
    assert centrifugal.demand is not None
    ground_kn = to_si("x_lbf", centrifugal.demand)
    force_kn = 50.0 * (2.0 * math.pi * 25.0) ** 2 / 1_000.0
    amplitude_mm = 2.0 * 50.0 / shaken_kg * 1_000.0
    at_pads_kn = shaken_kg * gravity / 1_000.0 + ground_kn
    at_hook_kn = at_pads_kn + 2_250.0 * gravity / 1_000.0
    pile_kn = 2_100.0 * gravity / 1_000.0
    at_head_kn = ground_kn + pile_kn + force_kn * 2_100.0 / shaken_kg
    by_hand = {
        CheckKey.LINE_PULL: (at_pads_kn, 24 * 0.175 * (120.0 - amplitude_mm / 2.0)),
        CheckKey.CRANE: (at_hook_kn + 700.0 * gravity / 1_000.0, 0.75 * 600.0),
        CheckKey.RIGGING: (at_hook_kn / math.sin(math.radians(60.0)) / 2.0, 300.0),
        CheckKey.CENTRIFUGAL: (ground_kn, force_kn),
        CheckKey.CLAMP: (at_head_kn, 2.0 * 0.3 * 1_500.0),
        CheckKey.TENSION: (at_head_kn, 0.6 * 355.0 * 190.0 / 10.0),
    }
    for key, expected in by_hand.items():
        found = verdict.check(key)
        assert found is not None
        assert found.demand is not None
        assert found.supply is not None
        in_si = (to_si("x_lbf", found.demand), to_si("x_lbf", found.supply))
        assert in_si == pytest.approx(expected, rel=1e-9), key
    amplitude = verdict.check(CheckKey.AMPLITUDE)
    assert amplitude is not None
    assert amplitude.supply is not None
    assert to_si("x_in", amplitude.supply) == pytest.approx(amplitude_mm, rel=1e-12)
