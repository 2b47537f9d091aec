"""Unit friction of a shaft: the alpha and the beta method at their tabled points.

API RP 2GEO and ISO 19901-4 themselves were not opened. Published, as read: formulas and classes in
the function API_unit_shaft_friction_clay and API_unit_shaft_friction_sand_rp2geo of the
open-source library groundhog (repository snakesonabrain/groundhog,
groundhog/deepfoundations/axialcapacity/skinfriction.py), which name API RP 2GEO, 2011, as theirs,
and in that repository's tests/deepfoundations/test_skinfriction.py. Limits in kip/ft² from memory
of the same table.
"""

from __future__ import annotations

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.soil import (
    BETAS,
    Density,
    Layer,
    LayerKind,
    alpha,
    unit_friction_psf,
)

PSF_PER_KPA = pint.UnitRegistry().Quantity(1.0, "kPa").to("lbf/ft**2").magnitude

# ψ = strength over stress, α: 0.5·ψ^−0.5 up to 1, 0.5·ψ^−0.25 beyond.
ALPHAS = [(0.25, 1.0), (0.5, 0.5 / math.sqrt(0.5)), (1.0, 0.5), (4.0, 0.5 / math.sqrt(2.0))]

# class, β, limit in kPa, limit in kip/ft²
CLASSES = [
    (Density.MEDIUM_DENSE_SAND_SILT, 0.29, 67.0, 1.4),
    (Density.MEDIUM_DENSE_SAND, 0.37, 81.0, 1.7),
    (Density.DENSE_SAND_SILT, 0.37, 81.0, 1.7),
    (Density.DENSE_SAND, 0.46, 96.0, 2.0),
    (Density.VERY_DENSE_SAND_SILT, 0.46, 96.0, 2.0),
    (Density.VERY_DENSE_SAND, 0.56, 115.0, 2.4),
]


def clay(strength_psf: float) -> Layer:
    return Layer(LayerKind.COHESIVE, 0.0, 40.0, 120.0, undrained_strength_psf=strength_psf)


def sand(density: Density) -> Layer:
    return Layer(LayerKind.GRANULAR, 0.0, 40.0, 120.0, density=density)


@pytest.mark.parametrize(("ratio", "expected"), ALPHAS)
def test_alpha_at_its_tabled_points(ratio: float, expected: float) -> None:
    # Published formula; printed to four digits 1.0, 0.7071, 0.5, 0.3536.
    assert alpha(ratio * 1_000.0, 1_000.0) == pytest.approx(expected, rel=1e-14)


def test_alpha_is_one_where_the_ground_is_weaker_than_a_quarter_of_the_stress() -> None:
    # Published limit α ≤ 1: at ψ = 0.04 the formula alone would give 2.5.
    assert alpha(40.0, 1_000.0) == 1.0


def test_alpha_has_no_step_where_its_two_branches_meet() -> None:
    assert alpha(1_000.0, 1_000.0) == pytest.approx(alpha(1_000.001, 1_000.0), rel=1e-6)


@given(st.floats(1.0, 20_000.0), st.floats(0.0, 20_000.0))
def test_alpha_lies_between_nothing_and_one(strength: float, stress: float) -> None:
    assert 0.0 <= alpha(strength, stress) <= 1.0


@given(st.floats(1.0, 20_000.0), st.floats(1e-3, 20_000.0), st.floats(1.0, 5.0))
def test_neither_more_strength_nor_more_stress_lowers_friction_of_clay(
    strength: float, stress: float, growth: float
) -> None:
    before = unit_friction_psf(clay(strength), stress)
    hair = 1.0 - 1e-12
    assert unit_friction_psf(clay(strength * growth), stress) >= before * hair
    assert unit_friction_psf(clay(strength), stress * growth) >= before * hair


def test_friction_of_clay_as_that_library_tests_it() -> None:
    # Published, as read in its test: 50 kPa at a stress of 100 kPa gives 35.355 kPa.
    friction = unit_friction_psf(clay(50.0 * PSF_PER_KPA), 100.0 * PSF_PER_KPA)
    assert friction / PSF_PER_KPA == pytest.approx(35.355, abs=5e-4)


def test_friction_of_sand_as_that_library_tests_it() -> None:
    # Published, as read in its test: medium dense sand at 50 kPa gives 18.5 kPa.
    friction = unit_friction_psf(sand(Density.MEDIUM_DENSE_SAND), 50.0 * PSF_PER_KPA)
    assert friction / PSF_PER_KPA == pytest.approx(18.5, rel=1e-12)


@pytest.mark.parametrize(("density", "factor", "limit_kpa", "limit_ksf"), CLASSES)
def test_each_class_has_its_published_beta(
    density: Density, factor: float, limit_kpa: float, limit_ksf: float
) -> None:
    assert unit_friction_psf(sand(density), 1_000.0) == pytest.approx(factor * 1_000.0, rel=1e-14)


@pytest.mark.parametrize(("density", "factor", "limit_kpa", "limit_ksf"), CLASSES)
def test_friction_of_sand_stops_at_the_limit_of_its_class(
    density: Density, factor: float, limit_kpa: float, limit_ksf: float
) -> None:
    limit_psf = limit_ksf * 1_000.0
    assert unit_friction_psf(sand(density), 1.001 * limit_psf / factor) == limit_psf
    assert unit_friction_psf(sand(density), 1e6) == limit_psf
    assert unit_friction_psf(sand(density), 0.999 * limit_psf / factor) < limit_psf


@pytest.mark.parametrize(("density", "factor", "limit_kpa", "limit_ksf"), CLASSES)
def test_limits_in_kip_per_square_foot_are_those_in_kilopascals_rounded(
    density: Density, factor: float, limit_kpa: float, limit_ksf: float
) -> None:
    # The kilopascals are published, as read.
    assert BETAS[density].limit_psf == limit_ksf * 1_000.0
    assert round(limit_kpa * PSF_PER_KPA / 1_000.0, 1) == limit_ksf


def test_the_method_has_no_value_for_anything_looser() -> None:
    # Published, as read: that library raises an error for loose and very loose.
    assert Density.LOOSER not in BETAS
    with pytest.raises(ValueError, match="enter one"):
        unit_friction_psf(sand(Density.LOOSER), 1_000.0)


def test_a_friction_somebody_entered_stands_in_place_of_the_methods() -> None:
    entered = Layer(
        LayerKind.COHESIVE, 0.0, 9.0, 120.0, undrained_strength_psf=500.0, friction_psf=123.0
    )
    assert unit_friction_psf(entered, 1_000.0) == 123.0


def test_a_friction_of_nothing_may_be_entered() -> None:
    entered = Layer(LayerKind.GRANULAR, 0.0, 9.0, 120.0, friction_psf=0.0)
    assert unit_friction_psf(entered, 1_000.0) == 0.0
