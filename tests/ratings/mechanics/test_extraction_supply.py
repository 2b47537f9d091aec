"""What a unit gives at a stretch: the rating's own arithmetic, at another travel."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ratings.mechanics.extraction.job import Job, PullMethod
from ratings.mechanics.extraction.supply import (
    capacity_lbf,
    stretch_at_pull_in,
    stretch_while_vibrating_in,
)
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import PadGroup, pull_at
from ratings.mechanics.load_curve import CurveDoubt, monotone_curve
from ratings.mechanics.unit_rating import (
    SOUND,
    LotRate,
    Policy,
    Position,
    UnitInputs,
    pad_groups,
    rate_unit,
)
from tests.ratings.mechanics.pulls import JOB, PADS, UNIT, groups, jobs, units

# The knots of an invented curve that bends upward, 20 % off a straight line.
KNOTS = monotone_curve(
    [1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [900.0, 1850.0, 2900.0, 4100.0, 5600.0, 7600.0]
)
DOUBT = CurveDoubt(force_lbf=12.0, stretch_in=0.02, share=0.004, scatter_lbf=15.0)
STRAIGHT = LotRate("P1", 1_000.0, 8.0, 9.0, 1.0, 6.5, ())
BENT = LotRate("P2", 1_050.0, 9.0, 7.0, 20.0, 6.0, KNOTS.knots, curve_doubt=DOUBT)
MEASURED = LotRate("P3", 1_100.0, 5.0, 11.0, 0.5, 7.0, (), 40.0, 4.0)


def of(*fitted: tuple[LotRate, int], policy: Policy | None = None) -> UnitInputs:
    lots = [rate.lot for rate, count in fitted for _ in range(count)]
    positions = [
        Position("AB"[place % 2], place // 2 + 1, SOUND, lot) for place, lot in enumerate(lots)
    ]
    return UnitInputs(
        tuple(positions),
        tuple(rate for rate, _ in fitted),
        5.5,
        50_000.0,
        policy or Policy(),
    )


def unit_of(inputs: UnitInputs) -> Unit:
    return replace(
        UNIT,
        groups=pad_groups(inputs),
        usable_travel_in=rate_unit(inputs).usable_travel_in,
        travel_uncertainty_in=inputs.policy.travel_uncertainty_in,
        confidence=inputs.policy.confidence,
    )


INPUTS = [
    pytest.param(of((STRAIGHT, 24)), id="linear lot"),
    pytest.param(of((BENT, 24)), id="lot that is not linear"),
    pytest.param(of((STRAIGHT, 10), (BENT, 6), (MEASURED, 8)), id="three lots"),
    pytest.param(of((MEASURED, 12)), id="measured spread"),
    pytest.param(of((STRAIGHT, 24), policy=Policy(confidence=0.99)), id="99 %"),
    pytest.param(of((BENT, 8), policy=Policy(linearity_limit_pct=50.0)), id="taken as linear"),
    pytest.param(of((replace(STRAIGHT, degrees_of_freedom=None), 24)), id="infinite freedom"),
]


@pytest.mark.parametrize("inputs", INPUTS)
@pytest.mark.parametrize("share", [0.05, 0.3, 0.5, 0.77, 0.95, 1.0])
def test_capacity_at_a_stretch_is_that_of_a_rating_at_that_travel(
    inputs: UnitInputs, share: float
) -> None:
    unit = unit_of(inputs)
    assert unit.usable_travel_in is not None
    stretch_in = share * unit.usable_travel_in
    rated = rate_unit(replace(inputs, travel_in=stretch_in)).working_capacity_lbf
    assert capacity_lbf(unit, stretch_in) == pytest.approx(rated, rel=1e-9)


def test_capacity_worked_by_hand() -> None:
    # 24 pads of 1,000 lbf/in at 4 in, spread 50: u = √24·200 = 979.80; 96,000 − 1.6449·979.80.
    unit = replace(UNIT, groups=(replace(PADS, spread_lbf_in=50.0),))
    assert capacity_lbf(unit, 4.0) == pytest.approx(96_000.0 - 1.6449 * 979.796, abs=0.01)


def test_there_is_no_capacity_at_rest() -> None:
    assert capacity_lbf(UNIT, 0.0) == 0.0


def test_a_unit_without_pads_holds_nothing() -> None:
    assert capacity_lbf(replace(UNIT, groups=()), 3.0) == 0.0


@pytest.mark.parametrize("given", [-0.1, math.nan, math.inf, "3", True])
def test_a_stretch_that_cant_be_is_refused(given: Any) -> None:
    with pytest.raises(ValueError, match=r"^travel_in is .*: give"):
        capacity_lbf(UNIT, given)


def test_the_stretch_while_vibrating_keeps_half_the_amplitude_from_the_stops() -> None:
    # 5 − 0.5/2.
    assert stretch_while_vibrating_in(UNIT, JOB) == pytest.approx(4.75, rel=1e-14)


def test_the_stretch_of_a_still_pull_is_the_whole_usable_travel() -> None:
    assert stretch_while_vibrating_in(UNIT, replace(JOB, method=PullMethod.STILL)) == 5.0


def test_the_stretch_is_none_below_rest() -> None:
    assert stretch_while_vibrating_in(replace(UNIT, eccentric_moment_lb_in=90_000.0), JOB) == 0.0


@pytest.mark.parametrize("fact", ["usable_travel_in", "eccentric_moment_lb_in", "clamp_weight_lb"])
def test_the_stretch_isnt_known_without_the_facts_it_rests_on(fact: str) -> None:
    unknown: dict[str, Any] = {fact: None}
    assert stretch_while_vibrating_in(replace(UNIT, **unknown), JOB) is None


@given(units(), jobs())
def test_the_stretch_while_vibrating_is_within_the_usable_travel(unit: Unit, job: Job) -> None:
    stretch_in = stretch_while_vibrating_in(unit, job)
    if stretch_in is not None:
        assert unit.usable_travel_in is not None
        assert 0.0 <= stretch_in <= unit.usable_travel_in


def test_the_stretch_at_a_pull_worked_by_hand() -> None:
    # 60,000 / (24·1,000) = 2.5 in.
    assert stretch_at_pull_in(UNIT, 60_000.0) == pytest.approx(2.5, rel=1e-12)


def test_there_is_no_stretch_for_a_pull_the_pads_dont_reach() -> None:
    assert stretch_at_pull_in(UNIT, 120_001.0) is None
    assert stretch_at_pull_in(replace(UNIT, usable_travel_in=None), 1.0) is None


@given(units(), st.floats(0.01, 0.99))
def test_at_the_stretch_of_a_pull_the_pads_carry_it(unit: Unit, share: float) -> None:
    assume(unit.usable_travel_in is not None)
    assert unit.usable_travel_in is not None
    wanted = share * pull_at(unit.groups, unit.usable_travel_in)
    stretch_in = stretch_at_pull_in(unit, wanted)
    assert stretch_in is not None
    assert pull_at(unit.groups, stretch_in) == pytest.approx(wanted, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("given", [-1.0, math.nan, math.inf, "3", True])
def test_a_pull_that_cant_be_is_refused(given: Any) -> None:
    with pytest.raises(ValueError, match=r"^pull_lbf is .*: give"):
        stretch_at_pull_in(UNIT, given)


@given(groups(), st.integers(1, 12), st.floats(0.05, 1.0))
def test_more_sound_pads_never_lower_the_supply(group: PadGroup, more: int, share: float) -> None:
    # At the same degrees of freedom: all are taken as infinite. With few of them the coverage
    # factor can grow faster than the pull, as linepull.line_pull says.
    sure = replace(group, degrees_of_freedom=math.inf, spread_degrees_of_freedom=math.inf)
    fewer = replace(UNIT, groups=(sure,), usable_travel_in=share * group.tested_stretch_in)
    added = replace(fewer, groups=(replace(sure, count=sure.count + more),))
    stretch_in = fewer.usable_travel_in
    assert stretch_in is not None
    before, after = capacity_lbf(fewer, stretch_in), capacity_lbf(added, stretch_in)
    assert after >= before * (1.0 - 1e-12)


@given(units(), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_pads_without_doubt_never_give_less_at_a_larger_stretch(
    unit: Unit, one: float, other: float
) -> None:
    assume(unit.usable_travel_in is not None)
    assert unit.usable_travel_in is not None
    sure = tuple(
        replace(group, standard_error_lbf_in=0.0, spread_lbf_in=0.0) for group in unit.groups
    )
    certain = replace(unit, groups=sure, travel_uncertainty_in=0.0)
    small, large = sorted(share * unit.usable_travel_in for share in (one, other))
    less, more = capacity_lbf(certain, small), capacity_lbf(certain, large)
    assert less <= more * (1.0 + 1e-9) + 1e-9
