"""Effective vertical stress of layered ground, σ′ = Σγ·h − γ_w·(z − z_w).

Published, as read: worked examples A, B and C in the manual of the open-source library edafos
(repository nickmachairas/edafos, docs/soil/stresses.rst; checked in its tests/test_stresses.py),
which takes 62.4 lb/ft³ for water; practice question 78 of pegenius.com; example 1 of NPTEL course
105103097, chapter 5, section 7.
"""

from __future__ import annotations

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.soil import WATER_LB_FT3, Layer, LayerKind, effective_stress_psf
from tests.ratings.mechanics.pulls import layers, waters


def ground(*pieces: tuple[float, float]) -> tuple[Layer, ...]:
    """Layers of (thickness ft, unit weight lb/ft³) from the ground down."""
    top_ft, made = 0.0, []
    for thickness_ft, weight in pieces:
        bottom_ft = top_ft + thickness_ft
        made.append(Layer(LayerKind.OTHER, top_ft, bottom_ft, weight, friction_psf=1.0))
        top_ft = bottom_ft
    return tuple(made)


@pytest.mark.parametrize(("depth_ft", "stress_psf"), [(6.0, 540.0), (14.0, 1_010.4)])
def test_one_layer_with_water_in_it(depth_ft: float, stress_psf: float) -> None:
    # Published: edafos case A, 16 ft of sand at 90 lb/ft³, water at 10 ft.
    stress = effective_stress_psf(ground((16.0, 90.0)), 10.0, depth_ft)
    assert stress == pytest.approx(stress_psf, rel=1e-14)


@pytest.mark.parametrize(("depth_ft", "stress_psf"), [(6.0, 560.0), (14.0, 1_190.4)])
def test_two_layers_with_water_in_the_lower(depth_ft: float, stress_psf: float) -> None:
    # Published: edafos case B, 5 ft at 90 lb/ft³ on 11 ft at 110, water at 10 ft.
    stress = effective_stress_psf(ground((5.0, 90.0), (11.0, 110.0)), 10.0, depth_ft)
    assert stress == pytest.approx(stress_psf, rel=1e-14)


def test_two_layers_under_open_water() -> None:
    # Published: edafos case C, 4.5 ft at 90 lb/ft³ on 4.5 ft at 110 under 7 ft of water;
    # 7 ft down 1,116.8 − 873.6 = 243.2.
    stress = effective_stress_psf(ground((4.5, 90.0), (4.5, 110.0)), -7.0, 7.0)
    assert stress == pytest.approx(243.2, rel=1e-12)


def test_three_layers_of_a_practice_question() -> None:
    # Published: pegenius.com 78, 80·8 + (120 − 62.4)·10 + (130 − 62.4)·15/2 = 1,723.
    stress = effective_stress_psf(ground((8.0, 80.0), (10.0, 120.0), (15.0, 130.0)), 8.0, 25.5)
    assert stress == pytest.approx(1_723.0, rel=1e-14)


@pytest.mark.parametrize(("depth_m", "stress_t_m2"), [(4.0, 3.68), (11.0, 11.38)])
def test_two_layers_in_metric_tonnes(depth_m: float, stress_t_m2: float) -> None:
    # Published: NPTEL example 1, 4 m at 1.92 t/m³ on 7 m at 2.1, water at the ground and 1 t/m³.
    # Ours is 62.4 lb/ft³, 0.9996 of that, hence the tolerance.
    units: pint.UnitRegistry[float] = pint.UnitRegistry()
    feet = units.Quantity(1.0, "m").to("ft").magnitude
    weight = units.Quantity(1.0, "t/m**3").to("lb/ft**3").magnitude
    stress = effective_stress_psf(
        ground((4.0 * feet, 1.92 * weight), (7.0 * feet, 2.1 * weight)), 0.0, depth_m * feet
    )
    assert stress / (weight * feet) == pytest.approx(stress_t_m2, rel=2e-3)


def test_three_layers_worked_by_hand() -> None:
    # Water at 15 ft, within the middle layer.
    # 10 ft: 110·10 = 1,100.  15 ft: 1,100 + 120·5 = 1,700.
    # 25 ft: 1,700 + (120 − 62.4)·10 = 2,276.  40 ft: 2,276 + (130 − 62.4)·15 = 3,290.
    made = ground((10.0, 110.0), (15.0, 120.0), (15.0, 130.0))
    depths_ft = (0.0, 10.0, 15.0, 25.0, 40.0)
    stresses = [effective_stress_psf(made, 15.0, depth_ft) for depth_ft in depths_ft]
    assert stresses == pytest.approx([0.0, 1_100.0, 1_700.0, 2_276.0, 3_290.0], rel=1e-14)


def test_without_water_the_stress_is_the_weight_above() -> None:
    # By hand: 100·10 + 130·5 = 1,650.
    assert effective_stress_psf(ground((10.0, 100.0), (9.0, 130.0)), None, 15.0) == 1_650.0


def test_water_below_the_toe_changes_nothing() -> None:
    made = ground((10.0, 100.0), (9.0, 130.0))
    assert effective_stress_psf(made, 50.0, 15.0) == effective_stress_psf(made, None, 15.0)


def test_water_standing_above_the_ground_weighs_as_much_as_it_presses() -> None:
    made = ground((10.0, 100.0), (9.0, 130.0))
    at_the_ground = effective_stress_psf(made, 0.0, 15.0)
    assert effective_stress_psf(made, -12.0, 15.0) == at_the_ground
    # By hand: 1,650 − 62.4·15.
    assert at_the_ground == pytest.approx(714.0, rel=1e-14)


def test_ground_no_heavier_than_water_presses_on_nothing_under_water() -> None:
    assert effective_stress_psf(ground((20.0, WATER_LB_FT3)), 0.0, 17.3) == 0.0


@given(layers(), waters, st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_stress_never_falls_with_depth(
    made: tuple[Layer, ...], water_ft: float | None, one: float, other: float
) -> None:
    shallow, deep = sorted(share * made[-1].bottom_ft for share in (one, other))
    above = effective_stress_psf(made, water_ft, shallow)
    assert effective_stress_psf(made, water_ft, deep) >= above - 1e-9 * (1.0 + above)


@given(layers(), st.floats(-20.0, 150.0), st.floats(0.0, 50.0), st.floats(0.0, 1.0))
def test_a_water_level_raised_never_raises_the_stress(
    made: tuple[Layer, ...], water_ft: float, rise_ft: float, share: float
) -> None:
    depth_ft = share * made[-1].bottom_ft
    before = effective_stress_psf(made, water_ft, depth_ft)
    assert effective_stress_psf(made, water_ft - rise_ft, depth_ft) <= before + 1e-9
