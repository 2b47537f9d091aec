"""The shaft cut into pieces: where, and what friction they come to."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.soil import (
    THICKEST_SLICE_FT,
    Density,
    Layer,
    LayerKind,
    effective_stress_psf,
    slices,
    unit_friction_psf,
)
from tests.ratings.mechanics.pulls import layers, waters

CLAY_ON_SAND = (
    Layer(LayerKind.COHESIVE, 0.0, 10.0, 110.0, undrained_strength_psf=400.0),
    Layer(LayerKind.GRANULAR, 10.0, 20.0, 120.0, density=Density.DENSE_SAND),
)


def friction_lb_ft(ground: tuple[Layer, ...], water_ft: float | None, toe_ft: float) -> float:
    """Friction along the shaft per foot of its perimeter."""
    return math.fsum(
        piece.friction_psf * piece.thickness_ft for piece in slices(ground, water_ft, toe_ft)
    )


def finely_ft(ground: tuple[Layer, ...], water_ft: float | None, toe_ft: float) -> float:
    """The same by pieces a thousandth of the shaft thick, cut anywhere."""
    pieces, total = 1_000, 0.0
    for piece in range(pieces):
        depth_ft = (piece + 0.5) * toe_ft / pieces
        layer = next((each for each in ground if depth_ft <= each.bottom_ft), ground[-1])
        stress_psf = effective_stress_psf(ground, water_ft, depth_ft)
        total += unit_friction_psf(layer, stress_psf) * toe_ft / pieces
    return total


def test_clay_on_sand_worked_by_hand() -> None:
    # Water at 10 ft. Clay: σ′ comes to s_u at 400/110 = 3.63636 ft. In the middle of what is
    # above, 1.81818 ft, σ′ = 200 and f = 0.5·s_u^0.75·σ′^0.25 = 0.5·89.4427·3.76060 = 168.179.
    # From there to 5 ft, 4.31818 ft, σ′ = 475 and f = 0.5·√(400·475) = 217.945.
    # From 5 to 10 ft, 7.5 ft, σ′ = 825 and f = 0.5·√(400·825) = 287.228.
    # Sand: σ′ = 1,100 + 57.6·2.5 = 1,244 and 1,100 + 57.6·7.5 = 1,532; times 0.46.
    found = slices(CLAY_ON_SAND, 10.0, 20.0)
    assert [piece.layer for piece in found] == [0, 0, 0, 1, 1]
    assert [piece.stress_psf for piece in found] == pytest.approx([200, 475, 825, 1_244, 1_532])
    assert [piece.friction_psf for piece in found] == pytest.approx(
        [168.179, 217.945, 287.228, 572.24, 704.72], rel=5e-6
    )
    # 168.179·3.63636 + 217.945·1.36364 + (287.228 + 572.24 + 704.72)·5.
    assert friction_lb_ft(CLAY_ON_SAND, 10.0, 20.0) == pytest.approx(8_729.7, abs=0.05)


def test_sand_that_comes_to_its_limit_worked_by_hand() -> None:
    # 130·z·0.46 comes to 2,000 at 33.445 ft: half of 2,000 on average above, 2,000 below.
    sand = (Layer(LayerKind.GRANULAR, 0.0, 80.0, 130.0, density=Density.DENSE_SAND),)
    full_ft = 2_000.0 / (130.0 * 0.46)
    by_hand = 1_000.0 * full_ft + 2_000.0 * (80.0 - full_ft)
    assert friction_lb_ft(sand, None, 80.0) == pytest.approx(by_hand, rel=1e-12)


def test_clay_is_cut_where_alpha_changes_its_branch() -> None:
    # 110·z comes to the strength of 440 psf at 4 ft.
    clay = (Layer(LayerKind.COHESIVE, 0.0, 10.0, 110.0, undrained_strength_psf=440.0),)
    assert [piece.bottom_ft for piece in slices(clay, None, 10.0)] == [4.0, 5.0, 10.0]


def test_the_shaft_is_cut_at_the_water_at_every_layer_and_at_the_toe() -> None:
    # Below the water 330 psf grow by 47.6 a foot to the 400 at which alpha changes its branch.
    bend_ft = 3.0 + 70.0 / 47.6
    found = slices(CLAY_ON_SAND, 3.0, 17.0)
    edges = [found[0].top_ft, *(piece.bottom_ft for piece in found)]
    assert edges == pytest.approx([0.0, 3.0, bend_ft, 5.0, 10.0, 15.0, 17.0])


def test_a_toe_at_the_ground_has_no_shaft() -> None:
    assert friction_lb_ft(CLAY_ON_SAND, None, 0.0) == 0.0


def test_layers_below_the_toe_are_not_touched() -> None:
    assert {piece.layer for piece in slices(CLAY_ON_SAND, None, 10.0)} == {0}


@given(layers(), waters, st.floats(0.05, 1.0))
def test_pieces_follow_each_other_from_the_ground_to_the_toe(
    ground: tuple[Layer, ...], water_ft: float | None, share: float
) -> None:
    toe_ft = share * ground[-1].bottom_ft
    found = slices(ground, water_ft, toe_ft)
    assert found[0].top_ft == 0.0
    assert found[-1].bottom_ft == pytest.approx(toe_ft, abs=2e-6)
    for above, below in pairwise(found):
        assert above.bottom_ft == below.top_ft
    assert all(0.0 < piece.thickness_ft <= THICKEST_SLICE_FT * (1 + 1e-12) for piece in found)


@given(layers(), waters, st.floats(0.05, 1.0), st.floats(0.05, 1.0))
def test_a_longer_shaft_never_has_less_friction(
    ground: tuple[Layer, ...], water_ft: float | None, one: float, other: float
) -> None:
    short, long = sorted(share * ground[-1].bottom_ft for share in (one, other))
    less = friction_lb_ft(ground, water_ft, short)
    assert friction_lb_ft(ground, water_ft, long) >= less * (1.0 - 1e-12)


@given(layers((LayerKind.GRANULAR,)), st.floats(-20.0, 120.0), st.floats(0.0, 60.0))
def test_a_water_level_raised_never_raises_granular_friction(
    ground: tuple[Layer, ...], water_ft: float, rise_ft: float
) -> None:
    toe_ft = ground[-1].bottom_ft
    before = friction_lb_ft(ground, water_ft, toe_ft)
    assert friction_lb_ft(ground, water_ft - rise_ft, toe_ft) <= before * (1.0 + 1e-9) + 1e-3


@given(layers((LayerKind.GRANULAR, LayerKind.OTHER)), waters)
def test_friction_of_sand_is_that_of_pieces_as_thin_as_may_be(
    ground: tuple[Layer, ...], water_ft: float | None
) -> None:
    toe_ft = ground[-1].bottom_ft
    # The comparison itself steps over the edges of layers, by a thousandth of the shaft each.
    most_psf = max(piece.friction_psf for piece in slices(ground, water_ft, toe_ft))
    step = len(ground) * toe_ft / 1_000.0 * most_psf
    found = friction_lb_ft(ground, water_ft, toe_ft)
    assert found == pytest.approx(finely_ft(ground, water_ft, toe_ft), rel=1e-4, abs=step + 1e-9)


@given(st.floats(200.0, 8_000.0), st.floats(63.0, 140.0), st.floats(1.0, 120.0), waters)
def test_friction_of_clay_errs_to_the_heavy_side_and_never_by_much(
    strength_psf: float, weight: float, toe_ft: float, water_ft: float | None
) -> None:
    # Within a piece friction flattens, so its middle says a little too much. Most in one piece
    # from the ground down, where friction goes with the root of depth: √½ over ⅔ is 1.061. (In
    # clay so weak that alpha comes to 1 within that piece it is up to a fifth, there alone.)
    clay = (Layer(LayerKind.COHESIVE, 0.0, 120.0, weight, undrained_strength_psf=strength_psf),)
    found, fine = friction_lb_ft(clay, water_ft, toe_ft), finely_ft(clay, water_ft, toe_ft)
    assert 0.9999 * fine <= found <= 1.062 * fine
