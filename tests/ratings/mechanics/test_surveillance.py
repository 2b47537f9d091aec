"""The trend of a lot's pads: against NIST Norris, scipy, and yards that are simulated."""

from __future__ import annotations

import math
from random import Random
from typing import Any

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import curve_fit

from ratings.mechanics.line_fit import fit_line
from ratings.mechanics.surveillance import TrendPoint, fit_trend, slope_within_stands
from tests.ratings.mechanics.test_fit_line import NORRIS_X, NORRIS_Y

YEARS = [0.0, 0.0, 0.1, 1.0, 1.1, 2.0, 2.0, 3.1]
RATES = [1010.0, 985.0, 1002.0, 990.0, 961.0, 950.0, 972.0, 921.0]


def points(years: Any = YEARS, rates: Any = RATES, **more: Any) -> list[TrendPoint]:
    return [TrendPoint(at, rate, **more) for at, rate in zip(years, rates, strict=True)]


# NIST StRD Norris, certified values; as in test_fit_line.


def test_norris_has_its_certified_slope_and_scatter() -> None:
    trend = fit_trend(points(NORRIS_X, NORRIS_Y), 5.0)
    assert trend.slope_per_unit == pytest.approx(1.00211681802045, rel=1e-11)
    assert trend.slope.standard == pytest.approx(0.000429796848199937, rel=1e-11)
    assert trend.pad_sd_lbf_in == pytest.approx(0.884796396144373, rel=1e-11)
    assert trend.slope.degrees_of_freedom == pytest.approx(34, rel=1e-12)


def test_norris_has_its_certified_intercept_where_the_line_meets_nothing() -> None:
    trend = fit_trend(points(NORRIS_X, NORRIS_Y), 5.0)
    assert trend.rate_at(0.0) == pytest.approx(-0.262323073774029, rel=1e-9)
    assert trend.doubt_at(0.0).standard == pytest.approx(0.232818234301152, rel=1e-11)


@pytest.mark.parametrize("at", [0.0, 1.7, 6.0])
def test_of_single_pads_it_is_the_line_of_ordinary_least_squares(at: float) -> None:
    line, trend = fit_line(YEARS, RATES), fit_trend(points(), 5.0)
    rate, doubt = line.predict(at)
    assert trend.rate_at(at) == pytest.approx(rate, rel=1e-12)
    assert trend.doubt_at(at).standard == pytest.approx(doubt, rel=1e-12)


# By scipy, independently.


def test_the_test_for_softening_is_scipys_one_sided_one() -> None:
    slope = fit_trend(points(), 5.0).slope
    found = stats.linregress(YEARS, RATES, alternative="less")
    t = slope.per_unit / slope.standard
    assert stats.t.cdf(t, slope.degrees_of_freedom) == pytest.approx(found.pvalue, rel=1e-9)
    assert found.pvalue < 0.05
    assert slope.is_softening


@pytest.mark.parametrize("at", [0.0, 1.3, 5.0])
def test_the_band_of_weighted_pads_is_that_of_scipys_weighted_fit(at: float) -> None:
    many = [1, 2, 4, 1, 1, 3, 2, 1]
    own = [3.0, 4.0, 2.0, 9.0, 1.0, 0.5, 2.0, 3.0]
    given = [
        TrendPoint(x, y, pads=n, own_lbf_in=u)
        for x, y, n, u in zip(YEARS, RATES, many, own, strict=True)
    ]
    trend = fit_trend(given, 4.0)
    spread = 0.04 * np.mean(RATES)
    sigma = [math.sqrt(spread**2 / n + u**2) for n, u in zip(many, own, strict=True)]
    best, covariance = curve_fit(
        lambda x, a, b: a + b * x, YEARS, RATES, p0=(1000, 0), sigma=sigma, absolute_sigma=False
    )
    gradient = np.array([1.0, at])
    middle, u = gradient @ best, math.sqrt(gradient @ covariance @ gradient)
    half = stats.t.ppf(0.975, len(YEARS) - 2) * u
    assert trend.band_at(at) == pytest.approx((middle - half, middle + half), rel=1e-5)
    assert trend.slope.per_unit == pytest.approx(best[1], rel=1e-6)
    assert trend.slope.standard == pytest.approx(math.sqrt(covariance[1, 1]), rel=1e-6)


def test_two_stands_widen_the_band_as_generalized_least_squares_says() -> None:
    """Σ c_i² s² + Σ over stands of (Σ c_i u)², with the coefficients from the normal equations."""
    stands = ["A"] * 4 + ["B"] * 4
    u = {"A": 12.0, "B": 20.0}
    given = [
        TrendPoint(x, y, stand=s, stand_lbf_in=u[s])
        for x, y, s in zip(YEARS, RATES, stands, strict=True)
    ]
    trend = fit_trend(given, 5.0)
    design = np.column_stack([np.ones(8), YEARS])
    solve = np.linalg.inv(design.T @ design) @ design.T
    residuals = np.array(RATES) - design @ (solve @ np.array(RATES))
    s2 = residuals @ residuals / 6
    at = 4.0
    pick = np.array([1.0, at]) @ solve
    of = {s: sum(c for c, each in zip(pick, stands, strict=True) if each == s) for s in u}
    # As the first stand reads: its own error is no error of the trend.
    expected = s2 * pick @ pick + ((of["A"] - 1) * u["A"]) ** 2 + (of["B"] * u["B"]) ** 2
    assert trend.doubt_at(at).standard == pytest.approx(math.sqrt(expected), rel=1e-12)


def test_the_slope_within_stands_is_that_of_an_analysis_of_covariance() -> None:
    stands = ["A", "A", "A", "A", "B", "A", "B", "B"]
    given = [TrendPoint(x, y, stand=s) for x, y, s in zip(YEARS, RATES, stands, strict=True)]
    design = np.column_stack(
        [[s == "A" for s in stands], [s == "B" for s in stands], YEARS]
    ).astype(float)
    best, squares, *_ = np.linalg.lstsq(design, np.array(RATES), rcond=None)
    within = slope_within_stands(given, 5.0)
    assert within is not None
    assert within.per_unit == pytest.approx(best[2], rel=1e-10)
    assert within.degrees_of_freedom == 5
    variance = squares[0] / 5 * np.linalg.inv(design.T @ design)[2, 2]
    assert within.standard == pytest.approx(math.sqrt(variance), rel=1e-10)


# What it says.


def test_one_stand_bends_no_trend_however_far_it_is_off() -> None:
    plain = fit_trend(points(), 5.0)
    off = fit_trend(points(stand="A", stand_lbf_in=80.0), 5.0)
    assert off.slope == plain.slope
    assert off.doubt_at(9.0) == plain.doubt_at(9.0)


def test_a_stand_that_took_over_is_no_proof_of_softening() -> None:
    """The same rates are softening on one stand, and may be the second stand's on two."""
    stands = ["A"] * 5 + ["B"] * 3
    given = [
        TrendPoint(x, y, stand=s, stand_lbf_in=40.0)
        for x, y, s in zip(YEARS, RATES, stands, strict=True)
    ]
    assert fit_trend(points(stand="A", stand_lbf_in=40.0), 5.0).slope.is_softening
    assert not fit_trend(given, 5.0).slope.is_softening


def test_a_stand_used_at_one_age_alone_tells_no_slope_by_itself() -> None:
    given = points([0, 0, 0, 2, 2, 2], RATES[:6])
    apart = [TrendPoint(p.at, p.rate_lbf_in, stand="A" if p.at == 0 else "B") for p in given]
    assert slope_within_stands(apart, 5.0) is None


def test_as_many_stands_as_leave_no_freedom_tell_no_slope() -> None:
    apart = [TrendPoint(at, 1000 - at, stand=s) for at, s in ((0, "A"), (1, "A"), (2, "B"))]
    assert slope_within_stands(apart, 5.0) is None


def test_it_says_when_the_line_and_its_lower_band_come_down_to_a_limit() -> None:
    trend = fit_trend(points(), 5.0)
    limit = 0.9 * 1000.0
    line, band = trend.line_reaches(limit, 100.0), trend.band_reaches(limit, 100.0)
    assert line is not None
    assert band is not None
    assert trend.rate_at(line) == pytest.approx(limit, rel=1e-9)
    assert trend.band_at(band)[0] == pytest.approx(limit, rel=1e-9)
    assert trend.last_at <= band < line


def test_what_lies_at_the_limit_already_is_there_at_the_last_test() -> None:
    assert fit_trend(points(), 5.0).line_reaches(980.0, 100.0) == 3.1


def test_a_limit_beyond_the_horizon_is_not_reached() -> None:
    trend = fit_trend(points(), 5.0)
    assert trend.line_reaches(500.0, 10.0) is None
    rising = fit_trend(points(YEARS, RATES[::-1]), 5.0)
    assert rising.line_reaches(500.0, 1000.0) is None


def test_pads_that_lie_on_a_line_by_chance_are_known_no_better_than_they_were_read() -> None:
    line = [TrendPoint(at, 1000.0 - at, own_lbf_in=10.0) for at in (0.0, 1.0, 2.0)]
    assert fit_trend(line, 5.0).slope.standard == pytest.approx(10.0 / math.sqrt(2), rel=1e-9)
    assert not fit_trend(line, 5.0).slope.is_softening


def test_rates_that_never_change_have_no_slope() -> None:
    level = fit_trend(points(YEARS, [1000.1] * 8), 5.0)
    assert level.slope_per_unit == 0.0
    assert not level.slope.is_softening


def test_it_says_how_fast_a_fall_it_could_tell() -> None:
    slope = fit_trend(points(), 5.0).slope
    assert slope.least_seen == pytest.approx(1.9432 * slope.standard, rel=1e-4)


# Simulated.


def alarms(rng: Random, fall_a_year: float, stands: list[str], off_sd: float) -> float:
    """The share of lots called softening: pads scatter by 5 %, stands by off_sd."""
    found, many = 0, 2000
    years = [0.0, 0.0, 0.0, 1.0, 1.0, 2.0, 2.0, 3.0, 3.0]
    for _ in range(many):
        off = {stand: rng.gauss(0.0, off_sd) for stand in dict.fromkeys(stands)}
        given = [
            TrendPoint(
                year,
                1000.0 - fall_a_year * year + off[stand] + rng.gauss(0.0, 50.0),
                stand=stand,
                stand_lbf_in=off_sd,
            )
            for year, stand in zip(years, stands, strict=True)
        ]
        found += fit_trend(given, 5.0).slope.is_softening
    return found / many


# Three standard errors of a share of 5 % among 2,000.
SAMPLING = 3 * math.sqrt(0.05 * 0.95 / 2000)


def test_a_lot_that_stays_as_it_is_is_called_softening_once_in_twenty() -> None:
    share = alarms(Random(11), 0.0, ["A"] * 9, 40.0)
    assert 0.05 - SAMPLING < share < 0.05 + SAMPLING


def test_a_change_of_stands_calls_a_sound_lot_softening_no_oftener() -> None:
    assert alarms(Random(12), 0.0, ["A"] * 5 + ["B"] * 4, 40.0) < 0.05 + SAMPLING


def test_a_lot_that_loses_five_percent_a_year_is_called_softening_by_the_third() -> None:
    assert alarms(Random(13), 50.0, ["A"] * 9, 40.0) > 0.85


def test_the_band_holds_the_true_rate_as_often_as_it_says() -> None:
    rng, held = Random(14), 0
    for _ in range(2000):
        given = [
            TrendPoint(at, 1000.0 - 30.0 * at + rng.gauss(0.0, 50.0 / math.sqrt(n)), pads=n)
            for at, n in ((0, 1), (0, 2), (1, 1), (2, 4), (3, 1), (3, 1))
        ]
        low, high = fit_trend(given, 5.0).band_at(4.0)
        held += low <= 880.0 <= high
    assert abs(held / 2000 - 0.95) < SAMPLING


# Bad input.


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        ({"at": -0.1}, "at is -0.1: give 0 years or hours or more"),
        ({"at": math.nan}, "at is nan: give a finite number"),
        ({"rate_lbf_in": 0}, "rate_lbf_in is 0: give more than 0 lbf/in"),
        ({"pads": 0}, "pads is 0: give a whole number, 1 or more"),
        ({"own_lbf_in": -1}, "own_lbf_in is -1: give 0 lbf/in or more"),
        ({"stand_lbf_in": "wide"}, "stand_lbf_in is 'wide': give a number"),
    ],
)
def test_a_point_that_cannot_be_is_refused(bad: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        TrendPoint(**{"at": 1.0, "rate_lbf_in": 1000.0} | bad)


def test_two_pads_tell_no_trend() -> None:
    with pytest.raises(ValueError, match="points has 2: give three or more"):
        fit_trend(points()[:2], 5.0)


def test_pads_all_of_one_age_tell_no_trend() -> None:
    with pytest.raises(ValueError, match="at is 1 in every point: give points at two or more"):
        fit_trend(points([1.0] * 8), 5.0)


def test_a_spread_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="spread_pct is 0: give more than 0 %"):
        fit_trend(points(), 0.0)
