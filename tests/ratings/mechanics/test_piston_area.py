"""Piston areas of a cylinder.

Handbook bores and the ISO 3320 bore are quoted from memory; neither was opened.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.bench import Cylinder

IN2_PER_CM2 = 1.0 / 6.4516


@pytest.mark.parametrize(
    ("bore_in", "area_in2"),
    # Handbook tables, from memory.
    [(4.0, 12.566), (5.0, 19.635), (6.0, 28.274), (8.0, 50.265)],
)
def test_a_handbook_bore_has_its_handbook_area(bore_in: float, area_in2: float) -> None:
    assert round(Cylinder(bore_in).area_in2("blind"), 3) == area_in2


def test_a_bore_of_100_mm_has_78_54_cm2() -> None:
    # ISO 3320 bore, from memory.
    area_cm2 = Cylinder(100.0 / 25.4).area_in2("blind") / IN2_PER_CM2
    assert round(area_cm2, 2) == 78.54


def test_the_rod_end_has_the_ring_round_the_rod() -> None:
    # By hand: π/4·(5² − 3²) = 4π.
    assert Cylinder(5.0, 3.0).area_in2("rod") == pytest.approx(4.0 * math.pi, rel=1e-15)


def test_the_rod_takes_nothing_from_the_blind_end() -> None:
    assert Cylinder(5.0, 3.0).area_in2("blind") == Cylinder(5.0).area_in2("blind")


@given(bore=st.floats(0.5, 30.0), share=st.floats(0.0, 0.95))
def test_ring_and_rod_make_up_the_bore(bore: float, share: float) -> None:
    rod = bore * share
    cylinder = Cylinder(bore, rod)
    of_rod = math.pi / 4.0 * rod * rod
    assert cylinder.area_in2("rod") + of_rod == pytest.approx(cylinder.area_in2("blind"), rel=1e-12)


def test_force_is_pressure_times_area_at_the_end_used() -> None:
    cylinder = Cylinder(5.0, 3.0)
    assert cylinder.force_lbf(100.0, "rod") == pytest.approx(400.0 * math.pi, rel=1e-15)
    assert cylinder.force_lbf(100.0, "blind") == pytest.approx(625.0 * math.pi, rel=1e-15)


def test_an_end_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match=r"end is 'middle'"):
        Cylinder(5.0).area_in2("middle")


@pytest.mark.parametrize("rod_in", [5.0, 5.5])
def test_a_rod_as_wide_as_the_bore_is_refused(rod_in: float) -> None:
    with pytest.raises(ValueError, match=rf"rod_in is {rod_in:g}: .*bore of 5 in"):
        Cylinder(5.0, rod_in)
