"""How well a load curve is known at a stretch."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.bench import BenchSetUp, Cylinder
from ratings.mechanics.budget import Instruments, curve_doubt, mean_scatter_lbf
from ratings.mechanics.linepull import PadGroup, line_pull
from ratings.mechanics.load_curve import CurveDoubt, LinearCurve, MonotoneCurve, monotone_curve

# Invented curve A: slope 1,120 and 2,900 lbf at 3 in.
A_X = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
A_Y = [900.0, 1850.0, 2900.0, 4100.0, 5600.0, 7600.0]
BENT = replace(monotone_curve(A_X, A_Y), doubt=CurveDoubt(30.0, 0.05, 0.01, 20.0))
SET_UP = BenchSetUp(Cylinder(math.sqrt(40.0 / math.pi)), "blind", 2, 12.0)
INSTRUMENTS = Instruments("1A", 2000.0, 10.0, 0.125, 0.1, 0.01)


def test_a_straight_curve_is_as_unsure_as_its_rate_times_the_stretch() -> None:
    assert LinearCurve(1000.0, 6.0, 12.0).standard_uncertainty_lbf(3.0) == 36.0
    assert LinearCurve(1000.0, 6.0).standard_uncertainty_lbf(3.0) == 0.0


def test_a_bent_curve_worked_by_hand() -> None:
    # 30; 1,120·0.05 = 56; 0.01·2,900 = 29; 20.
    by_hand = math.sqrt(30.0**2 + 56.0**2 + 29.0**2 + 20.0**2)
    assert BENT.standard_uncertainty_lbf(3.0) == pytest.approx(by_hand, rel=1e-12)


def test_a_curve_nothing_is_said_of_has_no_uncertainty() -> None:
    assert MonotoneCurve(BENT.knots).standard_uncertainty_lbf(3.0) == 0.0
    assert MonotoneCurve(BENT.knots) == monotone_curve(A_X, A_Y)


@pytest.mark.parametrize("curve", [LinearCurve(1000.0, 6.0, 12.0), BENT])
def test_no_uncertainty_is_given_beyond_the_tested_stretch(
    curve: LinearCurve | MonotoneCurve,
) -> None:
    assert curve.standard_uncertainty_lbf(6.0) > 0.0
    with pytest.raises(ValueError, match=r"stretch_in is 6\.1: .*tested stretch of 6 in"):
        curve.standard_uncertainty_lbf(6.1)
    with pytest.raises(ValueError, match="stretch_in is nan"):
        curve.standard_uncertainty_lbf(math.nan)


@pytest.mark.parametrize("name", ["force_lbf", "stretch_in", "share", "scatter_lbf"])
def test_a_doubt_below_nothing_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match=f"doubt {name} is -1"):
        CurveDoubt(**{name: -1.0})


def test_the_doubt_of_a_test_worked_by_hand() -> None:
    found = curve_doubt(A_X, A_Y, SET_UP, INSTRUMENTS)
    # Grade 1A of 2,000 psi is 20 psi; 5 lbf per pad and psi.
    assert found.force_lbf == pytest.approx(
        5.0 * math.sqrt(20.0**2 / 3.0 + 10.0**2 / 12.0), rel=1e-12
    )
    assert found.stretch_in == pytest.approx(math.sqrt(0.1**2 / 3.0 + 0.125**2 / 12.0), rel=1e-12)
    assert found.share == pytest.approx(
        2.0 * 0.01 / math.sqrt(3.0) / math.sqrt(40.0 / math.pi), rel=1e-12
    )


def test_the_rod_counts_at_the_rod_end() -> None:
    set_up = BenchSetUp(Cylinder(5.0, 3.0), "rod", 2, 12.0)
    found = curve_doubt(A_X, A_Y, set_up, replace(INSTRUMENTS, rod_tolerance_in=0.02))
    # (10·0.01)² + (6·0.02)² over 16²·3.
    assert found.share == pytest.approx(math.sqrt(0.01 + 0.0144) / 16.0 / math.sqrt(3.0), rel=1e-12)


def test_scatter_about_the_means_worked_by_hand() -> None:
    # Deviations ±10 and ±20: 2·100 + 2·400 = 1,000 over 2 degrees; two readings at each.
    found = mean_scatter_lbf([1.0, 1.0, 2.0, 2.0], [990.0, 1010.0, 1980.0, 2020.0])
    assert found == pytest.approx(math.sqrt(1000.0 / 2.0 / 2.0), rel=1e-12)


def test_a_stretch_read_once_sets_how_little_the_means_help() -> None:
    found = mean_scatter_lbf([1.0, 1.0, 2.0], [990.0, 1010.0, 2000.0])
    assert found == pytest.approx(math.sqrt(200.0), rel=1e-12)


def test_without_repeats_the_scatter_is_that_about_the_neighbours() -> None:
    # 0, 1,010, 2,000: the middle departs by 10 from the mean of the two; ÷ √(¼ + ¼ + 1).
    found = mean_scatter_lbf([1.0, 2.0], [1010.0, 2000.0])
    assert found == pytest.approx(10.0 / math.sqrt(1.5), rel=1e-12)
    assert mean_scatter_lbf([1.0], [1000.0]) == 0.0


def test_scatter_about_the_neighbours_finds_the_scatter_there_is() -> None:
    # Ten thousand straight tests of ten readings with 25 lbf of scatter, seed fixed. The
    # origin has none, which makes the first departure a little small.
    draw = np.random.default_rng(11)
    x = [float(each) for each in range(1, 11)]
    squares = [
        mean_scatter_lbf(x, [1000.0 * at + e for at, e in zip(x, errors, strict=True)]) ** 2
        for errors in draw.normal(0.0, 25.0, (10_000, 10))
    ]
    assert math.sqrt(sum(squares) / len(squares)) == pytest.approx(25.0, rel=0.02)


@given(st.lists(st.floats(0.0, 100.0), min_size=4, max_size=4), st.floats(0.0, 6.0))
def test_no_part_alone_is_more_than_the_whole(parts: list[float], stretch: float) -> None:
    doubt = CurveDoubt(parts[0], parts[1] / 100.0, parts[2] / 1000.0, parts[3])
    whole = replace(BENT, doubt=doubt).standard_uncertainty_lbf(stretch)
    assert whole >= max(doubt.force_lbf, doubt.scatter_lbf)
    assert whole >= doubt.share * BENT.force_lbf(stretch) * (1.0 - 1e-12)


def test_a_housing_takes_the_stands_doubt_of_the_curve_where_it_is_the_larger() -> None:
    # By hand, a pad at 3 in: the stand 30, 56 and 29, its scatter 20 apart; rate 2·3 is less.
    group = PadGroup(8, 1000.0, 6.0, 2.0, 0.0, 9, BENT, scatter_degrees_of_freedom=4)
    found = line_pull([group], 3.0)
    stand = math.sqrt(30.0**2 + 56.0**2 + 29.0**2)
    assert found.shared_lbf == pytest.approx(8.0 * stand, rel=1e-12)
    assert found.lots_lbf == pytest.approx(160.0, rel=1e-12)
    whole = stand**2 + 400.0
    assert found.standard_uncertainty_lbf == pytest.approx(8.0 * math.sqrt(whole), rel=1e-12)
    freedom = whole**2 / (stand**4 / 9.0 + 400.0**2 / 4.0)
    assert found.degrees_of_freedom == pytest.approx(freedom, rel=1e-12)
    of_rate = line_pull([replace(group, standard_error_lbf_in=100.0)], 3.0)
    assert of_rate.shared_lbf == pytest.approx(2400.0, rel=1e-12)


def test_readings_that_do_not_match_are_refused() -> None:
    with pytest.raises(ValueError, match="stretch_in has 2 readings and force_lbf 1"):
        mean_scatter_lbf([1.0, 2.0], [1.0])
    with pytest.raises(ValueError, match="beyond the gauge's range of 1000 psi"):
        curve_doubt(A_X, A_Y, SET_UP, replace(INSTRUMENTS, gauge_span_psi=1000.0))
