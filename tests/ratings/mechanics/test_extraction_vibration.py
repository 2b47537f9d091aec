"""What turning weights do: F = M·ω²/g and 2·M/W, in US and in SI.

The formulas from memory (a weight that turns presses outward by m·r·ω²; a free body that is shaken
far above its suspension's own frequency moves m·r/m to either side). Published, as read: US Army
EI 02G001, 1 July 1997, page 2-9 (buildingcriteria1.tpub.com/ufc_3_220_02), which gives the peak
acceleration in g as 102·F/M, F in kN, M in kg: all that is not dampened, vibrator, clamp, pile.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.extraction.supply import GRAVITY_IN_S2, amplitude_in, centrifugal_force_lbf

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()

moments = st.floats(1.0, 50_000.0)
speeds = st.floats(1.0, 4_000.0)
weights = st.floats(100.0, 200_000.0)


def test_centrifugal_force_worked_by_hand() -> None:
    # ω = 2π·1,500/60 = 157.0796 rad/s, ω² = 24,674.011; 3,500·24,674.011/386.0886 = 223,677.
    assert centrifugal_force_lbf(3_500.0, 1_500.0) == pytest.approx(223_677.0, abs=0.5)


def test_centrifugal_force_by_the_constant_of_the_us_form() -> None:
    # F = 2.84034e-5·M·n², computed once outside this project.
    assert centrifugal_force_lbf(4_400.0, 1_600.0) == pytest.approx(
        2.84034e-5 * 4_400.0 * 1_600.0**2, rel=1e-6
    )


@given(moments, speeds)
def test_centrifugal_force_is_that_of_the_si_form(moment: float, vpm: float) -> None:
    mass_moment_kg_m = UNITS.Quantity(moment, "lb * inch").to("kg * m").magnitude
    omega_rad_s = 2.0 * math.pi * vpm / 60.0
    force_n = mass_moment_kg_m * omega_rad_s**2
    expected = UNITS.Quantity(force_n, "N").to("lbf").magnitude
    assert centrifugal_force_lbf(moment, vpm) == pytest.approx(expected, rel=1e-12)


def test_amplitude_worked_by_hand() -> None:
    # 2·3,500 lb·in / 14,000 lb = 0.5 in from peak to peak.
    assert amplitude_in(3_500.0, 14_000.0) == 0.5


@given(moments, weights)
def test_amplitude_is_that_of_the_si_form(moment: float, weight: float) -> None:
    # Half of it is mass moment over mass.
    mass_moment_kg_m = UNITS.Quantity(moment, "lb * inch").to("kg * m").magnitude
    mass_kg = UNITS.Quantity(weight, "lb").to("kg").magnitude
    expected = UNITS.Quantity(2.0 * mass_moment_kg_m / mass_kg, "m").to("inch").magnitude
    assert amplitude_in(moment, weight) == pytest.approx(expected, rel=1e-12)


@given(moments, speeds, weights)
def test_force_and_amplitude_give_the_published_peak_acceleration(
    moment: float, vpm: float, weight: float
) -> None:
    # Published: n = 102·F/M. The 102 is 1,000 over 9.80665 rounded up, hence the tolerance.
    force_kn = UNITS.Quantity(centrifugal_force_lbf(moment, vpm), "lbf").to("kN").magnitude
    mass_kg = UNITS.Quantity(weight, "lb").to("kg").magnitude
    omega_rad_s = 2.0 * math.pi * vpm / 60.0
    peak_g = amplitude_in(moment, weight) / 2.0 * omega_rad_s**2 / GRAVITY_IN_S2
    assert peak_g == pytest.approx(102.0 * force_kn / mass_kg, rel=4e-4)


def test_gravity_is_the_standard_one() -> None:
    # From memory: 9.80665 m/s², exact.
    assert pytest.approx(386.0886, abs=5e-5) == GRAVITY_IN_S2


@given(moments, speeds)
def test_twice_the_speed_is_four_times_the_force(moment: float, vpm: float) -> None:
    assert centrifugal_force_lbf(moment, 2.0 * vpm) == pytest.approx(
        4.0 * centrifugal_force_lbf(moment, vpm), rel=1e-14
    )


def test_a_hammer_that_stands_still_gives_nothing() -> None:
    assert centrifugal_force_lbf(3_500.0, 0.0) == 0.0
    assert centrifugal_force_lbf(0.0, 1_500.0) == 0.0
    assert amplitude_in(0.0, 14_000.0) == 0.0


ARGUMENTS: list[tuple[str, Callable[[Any], object]]] = [
    ("eccentric_moment_lb_in", lambda v: centrifugal_force_lbf(v, 1_500.0)),
    ("frequency_vpm", lambda v: centrifugal_force_lbf(3_500.0, v)),
    ("eccentric_moment_lb_in", lambda v: amplitude_in(v, 14_000.0)),
    ("vibrating_weight_lb", lambda v: amplitude_in(3_500.0, v)),
]


@pytest.mark.parametrize("given", ["5", math.nan, math.inf, -1.0, 10**400, True, None])
@pytest.mark.parametrize(("name", "call"), ARGUMENTS)
def test_no_other_kind_of_number_is_taken(
    name: str, call: Callable[[Any], object], given: object
) -> None:
    with pytest.raises(ValueError, match=rf"^{name} is .*: give"):
        call(given)


def test_something_must_vibrate() -> None:
    with pytest.raises(ValueError, match=re.escape("vibrating_weight_lb is 0: give more than 0")):
        amplitude_in(3_500.0, 0.0)
