"""Density and strength from penetration tests.

Classes by blows: as read in the Texas DOT Geotechnical Manual (LRFD), tables 4-1 and 4-2 (0.125,
0.25, 0.50, 1.0 and 2.0 tons per square foot at 2, 4, 8, 15 and 30 blows). Baldi's formula and
bounds of the cone factor (8 to 30): as read in the source of an open library of the field.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.field_tests import (
    KPA_PSF,
    density_from_cpt,
    density_from_spt,
    relative_density_from_cone,
    strength_from_cpt,
    strength_from_spt,
)
from ratings.mechanics.soil import Density

ORDER = (
    Density.LOOSER,
    Density.MEDIUM_DENSE_SAND,
    Density.DENSE_SAND,
    Density.VERY_DENSE_SAND,
)


@pytest.mark.parametrize(
    ("blows", "name", "density"),
    [
        (0, "very loose", Density.LOOSER),
        (4, "loose", Density.LOOSER),
        (10, "medium dense", Density.MEDIUM_DENSE_SAND),
        (29, "medium dense", Density.MEDIUM_DENSE_SAND),
        (30, "dense", Density.DENSE_SAND),
        (50, "very dense", Density.VERY_DENSE_SAND),
    ],
)
def test_blows_tell_the_density(blows: float, name: str, density: Density) -> None:
    found = density_from_spt(blows)
    assert (found.name, found.density) == (name, density)
    assert "Terzaghi" in found.source


def test_silty_soil_takes_the_class_of_silt() -> None:
    assert density_from_spt(20, is_silty=True).density is Density.MEDIUM_DENSE_SAND_SILT
    assert density_from_cpt(2e5, 2_000.0, is_silty=True).density is Density.DENSE_SAND_SILT


def test_loose_soil_says_that_the_method_has_no_value() -> None:
    assert "enter a friction" in density_from_spt(5).doubt
    assert density_from_spt(20).doubt == ""


def test_a_test_stopped_short_is_doubted() -> None:
    assert "stopped short" in density_from_spt(80).doubt
    assert "stopped short" in strength_from_spt(80).doubt


@pytest.mark.parametrize(
    ("blows", "tons"), [(2, 0.125), (4, 0.25), (8, 0.50), (15, 1.0), (30, 2.0)]
)
def test_blows_tell_the_strength_at_the_bounds_of_each_consistency(
    blows: float, tons: float
) -> None:
    assert strength_from_spt(blows).strength_psf == pytest.approx(tons * 2_000.0)


def test_a_strength_from_blows_lies_in_the_range_of_its_consistency() -> None:
    found = strength_from_spt(11.5)
    assert (found.name, found.low_psf, found.high_psf) == ("stiff", 1_000.0, 2_000.0)
    assert found.strength_psf == pytest.approx(1_500.0)


def test_a_relative_density_by_hand() -> None:
    # 10 MPa at 100 kPa: ln(10,000 / (157 · 100^0.55)) / 2.41.
    by_hand = math.log(10_000.0 / (157.0 * 100.0**0.55)) / 2.41
    found = relative_density_from_cone(10_000.0 * KPA_PSF, 100.0 * KPA_PSF)
    assert found == pytest.approx(by_hand)
    assert 0.65 < found < 0.70
    assert density_from_cpt(10_000.0 * KPA_PSF, 100.0 * KPA_PSF).density is Density.DENSE_SAND


def test_a_strength_from_a_cone_by_hand() -> None:
    # (32,000 − 2,000) / 15; range 20 to 10.
    found = strength_from_cpt(32_000.0, 2_000.0)
    assert (found.strength_psf, found.low_psf, found.high_psf) == (2_000.0, 1_500.0, 3_000.0)
    assert found.name == "very stiff"
    assert "not this ground’s own" in found.doubt
    assert strength_from_cpt(32_000.0, 2_000.0, 12.0).doubt == ""


blow_counts = st.floats(0.1, 100.0)


@given(blow_counts, blow_counts)
def test_more_blows_never_tell_weaker_soil(one: float, other: float) -> None:
    few, many = sorted((one, other))
    assert strength_from_spt(few).strength_psf <= strength_from_spt(many).strength_psf
    weak, strong = (density_from_spt(each).density for each in (few, many))
    assert ORDER.index(weak) <= ORDER.index(strong)
    found = strength_from_spt(few)
    assert found.low_psf <= found.strength_psf <= found.high_psf


@given(st.floats(1e3, 2.5e6), st.floats(1e3, 2.5e6), st.floats(50.0, 2e4))
def test_a_stronger_cone_never_tells_weaker_soil(one: float, other: float, stress: float) -> None:
    less, more = sorted((one, other))
    assert relative_density_from_cone(less, stress) <= relative_density_from_cone(more, stress)
    if less > stress:
        weak, strong = (strength_from_cpt(each, stress) for each in (less, more))
        assert weak.strength_psf <= strong.strength_psf
        assert weak.low_psf <= weak.strength_psf <= weak.high_psf


@pytest.mark.parametrize("blows", [-1.0, 101.0, float("nan"), "many", True])
def test_a_blow_count_that_cannot_be_is_refused(blows: object) -> None:
    for method in (density_from_spt, strength_from_spt):
        with pytest.raises(ValueError, match="blows_per_ft"):
            method(blows)  # type: ignore[arg-type]


def test_no_blows_tell_no_strength() -> None:
    with pytest.raises(ValueError, match="sank by their weight"):
        strength_from_spt(0)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((0.0, 100.0), "cone_psf is 0"),
        ((3e6, 100.0), "120 MPa"),
        ((1_000.0, 1_000.0), "give more than the 1000 psf of ground"),
        ((9_000.0, -1.0), "total_stress_psf"),
        ((9_000.0, 100.0, 7.9), "give 8 to 30"),
        ((9_000.0, 100.0, 31.0), "give 8 to 30"),
    ],
)
def test_a_cone_that_cannot_be_is_refused(arguments: tuple[float, ...], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        strength_from_cpt(*arguments)
    if len(arguments) == 2 and arguments[1] != 1_000.0 and "total" not in says:
        with pytest.raises(ValueError, match=says):
            density_from_cpt(*arguments)


def test_a_cone_without_ground_above_tells_no_density() -> None:
    with pytest.raises(ValueError, match="stress_psf is 0"):
        relative_density_from_cone(9_000.0, 0.0)
