"""Digging about a pile: the friction above is gone, the lower shaft stays.

By hand throughout. The relief under a wide hole is Boussinesq's, under the middle of a loaded
circle; published influence values, from memory of any handbook's table: 0.646 at a depth of one
radius, 0.284 at two, 0.911 at half of one.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.extraction.check import embedment_to_suit_ft
from ratings.mechanics.extraction.excavation import excavation_to_suit_ft
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.holds import HoldKind, OtherHold
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.soil import (
    Density,
    Hole,
    Layer,
    LayerKind,
    relieved_share,
    stress_below_hole_psf,
)
from tests.ratings.mechanics.pulls import (
    GROUND,
    JOB,
    POLICY,
    UNIT,
    jobs,
    units,
    with_crane,
)

SAND = Layer(
    LayerKind.GRANULAR,
    0.0,
    40.0,
    120.0,
    density=Density.DENSE_SAND,
    vibration_factor=0.2,
    needed_amplitude_in=0.2,
)
# A weak top of 20 ft on strong ground: 100 and 900 psf.
WEAK_TOP = (
    replace(GROUND[0], bottom_ft=20.0, friction_psf=100.0),
    replace(GROUND[0], top_ft=20.0, friction_psf=900.0),
)


def of(*layers: Layer, water_depth_ft: float | None = None) -> Job:
    return replace(JOB, layers=layers, water_depth_ft=water_depth_ft)


def test_the_friction_above_the_bottom_is_gone_and_the_rest_stays() -> None:
    # 500 psf · 5 ft · 30 ft · 0.2 left of 40 ft.
    assert ground(JOB, POLICY, hole=Hole(10.0)).resistance_lbf == pytest.approx(15_000.0)


def test_digging_a_weak_top_frees_far_less_than_raising_the_toe() -> None:
    job = of(*WEAK_TOP)
    # By hand: 17 ft of 100 psf dug are 1,700 lbf; raised, 17 ft of 900 psf would be 15,300.
    whole = ground(job, POLICY).resistance_lbf
    assert whole - ground(job, POLICY, hole=Hole(17.0)).resistance_lbf == pytest.approx(1_700.0)
    assert whole - ground(job, POLICY, 23.0).resistance_lbf == pytest.approx(15_300.0)


def test_the_depth_to_dig_by_hand() -> None:
    # Holds 20,000 vibrated. A pull may use 36,000 of the crane: hanging 14,000, housing, rigging,
    # block 5,000 and 17,000 of ground: 34 ft left, 6 dug.
    job = with_crane(of(*GROUND), capacity_lbf=36_000.0 / 0.75)
    assert excavation_to_suit_ft(UNIT, job, POLICY) == pytest.approx(6.0, abs=1e-4)
    # With 1.25: 28,800 − 19,000 = 9,800 of ground: 19.6 ft left.
    assert excavation_to_suit_ft(UNIT, job, POLICY, 1.25) == pytest.approx(20.4, abs=1e-4)


def test_nothing_is_dug_where_the_unit_suits_and_nothing_helps_where_weights_are_too_much() -> None:
    assert excavation_to_suit_ft(UNIT, JOB, POLICY) == 0.0
    assert excavation_to_suit_ft(UNIT, with_crane(capacity_lbf=15_000.0), POLICY) is None
    assert excavation_to_suit_ft(UNIT, with_crane(capacity_lbf=None), POLICY) is None


def test_other_holds_are_not_dug_away() -> None:
    hold = OtherHold(HoldKind.INTERLOCK, per_ft_lbf=100.0, note="neighbours left in")
    job = replace(JOB, holds=(hold,))
    assert ground(job, POLICY, hole=Hole(40.0)).resistance_lbf == pytest.approx(4_000.0)


@pytest.mark.parametrize(
    ("width_ft", "below_ft", "share"),
    [(20.0, 10.0, 0.646), (20.0, 20.0, 0.284), (20.0, 5.0, 0.911), (0.0, 3.0, 0.0)],
)
def test_a_hole_relieves_what_the_published_influence_values_say(
    width_ft: float, below_ft: float, share: float
) -> None:
    assert relieved_share(width_ft, below_ft) == pytest.approx(share, abs=1e-3)


def test_a_hole_without_end_leaves_the_ground_of_a_lower_surface() -> None:
    hole = Hole(10.0, 1e6)
    assert stress_below_hole_psf((SAND,), None, 25.0, hole) == pytest.approx(15.0 * 120.0)
    # Water at 4 ft: full of water; below 10 ft the ground weighs 57.6 lb/ft³ in it.
    assert stress_below_hole_psf((SAND,), 4.0, 25.0, hole) == pytest.approx(15.0 * 57.6)
    # Water at 16 ft: 6 ft of 120 and 9 of 57.6.
    assert stress_below_hole_psf((SAND,), 16.0, 25.0, hole) == pytest.approx(720.0 + 518.4)


def test_a_narrow_hole_leaves_the_stress_below_it() -> None:
    assert stress_below_hole_psf((SAND,), None, 25.0, Hole(10.0)) == pytest.approx(3_000.0)


def test_a_wide_hole_loosens_sand_but_no_clay_and_no_friction_entered() -> None:
    narrow, wide = Hole(10.0), Hole(10.0, 40.0)
    clay = replace(SAND, kind=LayerKind.COHESIVE, density=None, undrained_strength_psf=1_500.0)
    for layer, is_loosened in ((SAND, True), (clay, False), (GROUND[0], False)):
        both = [ground(of(layer), POLICY, hole=each).resistance_lbf for each in (narrow, wide)]
        assert (both[1] < both[0] * 0.99) is is_loosened


def test_a_depth_above_the_bottom_has_no_stress_below_it() -> None:
    with pytest.raises(ValueError, match="give 10 or more"):
        stress_below_hole_psf((SAND,), None, 5.0, Hole(10.0))


@pytest.mark.parametrize("hole", [(-1.0, 0.0), (1.0, -2.0), (float("nan"), 0.0)])
def test_a_hole_that_cannot_be_is_refused(hole: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="give"):
        Hole(*hole)


shares, widths = st.floats(0.0, 1.0), st.floats(0.0, 100.0)


@given(jobs(), shares, shares, widths)
def test_a_deeper_hole_never_leaves_more(job: Job, one: float, other: float, wide: float) -> None:
    shallow, deep = (job.pile.embedment_ft * each for each in sorted((one, other)))
    job = with_factors(job)
    left = [ground(job, POLICY, hole=Hole(each, wide)).resistance_lbf for each in (shallow, deep)]
    # Below a wide hole stress bends; the middle of a piece stands for it to a hundredth.
    assert left[1] <= left[0] * (1.0 + (1e-9 if wide == 0.0 else 1e-2)) + 1e-6


@given(jobs(), shares, widths, widths)
def test_a_wider_hole_never_leaves_more(job: Job, share: float, one: float, other: float) -> None:
    job, depth_ft = with_factors(job), share * job.pile.embedment_ft
    narrow, wide = sorted((max(one, 0.01), max(other, 0.01)))
    left = [
        ground(job, POLICY, hole=Hole(depth_ft, each)).resistance_lbf for each in (narrow, wide)
    ]
    assert left[1] <= left[0] * (1.0 + 1e-12) + 1e-9


@given(units(), jobs(), st.floats(1.0, 1.5))
def test_digging_never_comes_to_more_than_raising_where_ground_strengthens_downward(
    unit: Unit, job: Job, margin: float
) -> None:
    sand = replace(SAND, bottom_ft=job.layers[-1].bottom_ft)
    job = replace(job, layers=(sand,))
    dug = excavation_to_suit_ft(unit, job, POLICY, margin)
    left = embedment_to_suit_ft(unit, job, POLICY, margin)
    if dug is not None and left is not None:
        assert dug >= job.pile.embedment_ft - left - 1e-3


def with_factors(job: Job) -> Job:
    return replace(
        job,
        layers=tuple(
            replace(each, vibration_factor=0.2, needed_amplitude_in=0.2) for each in job.layers
        ),
    )
