"""Whole numbers and the numbers of numpy are taken, and calculated with as floats."""

from __future__ import annotations

import math

import numpy as np

from ratings.mechanics.bench import BenchSetUp, Cylinder
from ratings.mechanics.line_fit import fit_rate
from ratings.mechanics.linepull import PadGroup, line_pull
from ratings.mechanics.load_curve import Knot, LinearCurve, MonotoneCurve

# Kept to seven digits only, so that arithmetic left in its own width would show.
NARROW = np.float32(5.13)


def test_a_narrow_bore_gives_an_area_in_full_digits() -> None:
    area_in2 = Cylinder(float(NARROW)).area_in2()
    assert Cylinder(NARROW).area_in2() == area_in2  # type: ignore[arg-type]
    assert type(Cylinder(NARROW).area_in2()) is float  # type: ignore[arg-type]


def test_fields_of_a_set_up_become_plain_numbers() -> None:
    set_up = BenchSetUp(Cylinder(5), "blind", np.int64(2), 12)  # type: ignore[arg-type]
    assert (type(set_up.pads_in_test), type(set_up.tape_datum_in)) == (int, float)
    assert type(set_up.cylinder.bore_in) is float


def test_a_fit_of_numpy_readings_is_the_fit_of_plain_ones() -> None:
    plain = fit_rate([1.0, 2.0, 3.0], [100.0, 210.0, 290.0])
    of_numpy = fit_rate(np.array([1, 2, 3]), np.array([100.0, 210.0, 290.0]))  # type: ignore[arg-type]
    assert of_numpy == plain
    assert type(of_numpy.rate_lbf_in) is float


def test_a_pull_of_narrow_rates_is_the_pull_of_full_ones() -> None:
    narrow = PadGroup(np.int64(3), NARROW, 6, NARROW, NARROW, np.float64(4.0))  # type: ignore[arg-type]
    full = PadGroup(3, float(NARROW), 6.0, float(NARROW), float(NARROW), 4.0)
    assert narrow == full
    assert line_pull([narrow], 5) == line_pull([full], 5.0)
    assert PadGroup(1, 1.0, 1.0).degrees_of_freedom == math.inf


def test_curves_keep_plain_numbers() -> None:
    assert type(LinearCurve(NARROW, 6).force_lbf(2)) is float  # type: ignore[arg-type]
    (_, last) = MonotoneCurve((Knot(0, 0, 1), Knot(NARROW, 4, 1))).knots  # type: ignore[arg-type]
    assert [type(value) for value in vars(last).values()] == [float, float, float]
