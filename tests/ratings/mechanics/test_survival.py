"""How long pads last, held to published data and to a library of its own making."""

from __future__ import annotations

import itertools
import random
from fractions import Fraction

import numpy as np
import pytest
from lifelines import KaplanMeierFitter, WeibullFitter
from lifelines.statistics import logrank_test
from scipy import stats

from ratings.mechanics.survival import (
    Life,
    Method,
    Told,
    compare_lots,
    fit_weibull,
    lot_life,
    survival_curve,
)
from tests.ratings.mechanics.test_survival_coverage import simulated_lives

# Weeks in remission, Freireich et al. 1963, as printed by Gehan 1965; 0 where still in remission.
DRUG_WEEKS = (6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35)
DRUG_ENDED = (1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0)
PLACEBO_WEEKS = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)
DRUG = [
    Life(weeks, weeks if ended else None)
    for weeks, ended in zip(DRUG_WEEKS, DRUG_ENDED, strict=True)
]
PLACEBO = [Life(weeks, weeks) for weeks in PLACEBO_WEEKS]

# At risk and ended by hand from the data; Greenwood's standard error as statsmodels has it.
SHARES = (
    (6, Fraction(6, 7), 0.076360355),
    (7, Fraction(96, 119), 0.086935285),
    (10, Fraction(64, 85), 0.096349653),
    (13, Fraction(176, 255), 0.106814708),
    (16, Fraction(32, 51), 0.114053865),
    (22, Fraction(64, 119), 0.128233752),
    (23, Fraction(160, 357), 0.134591457),
)


@pytest.mark.parametrize(("week", "share", "error"), SHARES)
def test_kaplan_meier_gives_the_published_shares_and_greenwoods_band(
    week: int, share: Fraction, error: float
) -> None:
    curve = survival_curve(DRUG)
    [place] = [each for each in curve.places if each.hours == week]
    assert curve.method is Method.KAPLAN_MEIER
    assert place.share == pytest.approx(float(share), abs=1e-12)
    # The band is share ** exp(± z · error / (share · ln share)).
    z = stats.norm.ppf(0.975)
    ends = float(share) ** np.exp(np.array([1, -1]) * z * error / (share * -np.log(float(share))))
    assert (place.low, place.high) == pytest.approx(tuple(ends), abs=1e-6)


def test_the_band_at_weeks_6_and_23_is_the_one_printed() -> None:
    # The log(-log) band of these data as lifelines prints it.
    places = {place.hours: place for place in survival_curve(DRUG).places}
    assert (places[6].low, places[6].high) == pytest.approx((0.619718, 0.951552), abs=1e-6)
    assert (places[23].low, places[23].high) == pytest.approx((0.188052, 0.680143), abs=1e-6)


def test_where_every_failure_is_known_to_the_hour_the_last_takes_the_share_to_nothing() -> None:
    places = survival_curve(PLACEBO).places
    assert (places[-1].share, places[-1].low, places[-1].high) == (0.0, 0.0, 0.0)
    # The published median: half of the 21 have ended by week 8.
    assert next(place.hours for place in places if place.share <= 0.5) == 8.0


def test_the_log_rank_of_the_two_groups_is_the_published_one() -> None:
    # 16.79 in the textbooks that use these data; the digits beyond as lifelines has them.
    found = compare_lots({"drug": DRUG, "placebo": PLACEBO})
    assert found is not None
    assert found.chi_squared == pytest.approx(16.792940989, abs=1e-8)
    assert found.degrees == 1
    assert found.p_value == pytest.approx(4.168809e-05, rel=1e-6)


@pytest.mark.parametrize(
    ("lives", "scale", "shape", "log_likelihood"),
    [(DRUG, 33.765194, 1.353732, -41.658677), (PLACEBO, 9.482097, 1.370504, -64.920108)],
)
def test_the_weibull_law_is_that_of_lifelines(
    lives: list[Life], scale: float, shape: float, log_likelihood: float
) -> None:
    law = fit_weibull(lives)
    assert law is not None
    assert law.scale_hours == pytest.approx(scale, rel=1e-5)
    assert law.shape == pytest.approx(shape, rel=1e-5)
    assert law.log_likelihood == pytest.approx(log_likelihood, abs=2e-6)


def test_the_weibull_band_of_these_data_is_that_of_their_curvature() -> None:
    weeks, ended = np.array(DRUG_WEEKS, dtype=float), np.array(DRUG_ENDED)
    theirs = WeibullFitter().fit(weeks, ended)
    law = fit_weibull(DRUG)
    assert law is not None
    log_scale_error = theirs.summary.loc["lambda_", "se(coef)"] / theirs.lambda_
    assert law.covariance[0][0] ** 0.5 == pytest.approx(log_scale_error, rel=1e-3)
    assert law.covariance[1][1] ** 0.5 == pytest.approx(
        theirs.summary.loc["rho_", "se(coef)"] / theirs.rho_, rel=1e-3
    )
    assert law.life_hours(0.5) == pytest.approx(25.756521, rel=1e-5)
    low, high = law.life_band(0.5)
    assert low < law.life_hours(0.5) < high


@pytest.mark.parametrize("seed", range(4))
def test_turnbulls_shares_of_simulated_pads_are_those_of_another_library(seed: int) -> None:
    lives = simulated_lives(40, random.Random(seed))
    after = np.array([life.after_hours for life in lives])
    by = np.array([np.inf if life.by_hours is None else life.by_hours for life in lives])
    # Its intervals hold their lower end, ours do not: a hair later they are of the same hours.
    theirs = KaplanMeierFitter().fit_interval_censoring(after + 0.01, by, tol=1e-9)
    shares = theirs.survival_function_["NPMLE_estimate_lower"]
    curve = survival_curve(lives)
    assert curve.method is Method.TURNBULL
    for place in curve.places[1:]:
        until = [1.0, *shares[shares.index <= place.hours]]
        # Both are steps towards a maximum; theirs stops a little sooner.
        assert place.share == pytest.approx(until[-1], abs=4e-3)


@pytest.mark.parametrize("seed", range(4))
def test_the_weibull_law_of_looks_is_that_of_another_library(seed: int) -> None:
    lives = simulated_lives(40, random.Random(seed))
    # It takes no 0 as a lower end.
    after = np.array([life.after_hours or 1e-6 for life in lives])
    by = np.array([np.inf if life.by_hours is None else life.by_hours for life in lives])
    theirs = WeibullFitter().fit_interval_censoring(after, by)
    law = fit_weibull(lives)
    assert law is not None
    assert law.scale_hours == pytest.approx(theirs.lambda_, rel=1e-3)
    assert law.shape == pytest.approx(theirs.rho_, rel=1e-3)


def test_looks_are_compared_near_the_log_rank_of_another_library() -> None:
    chance = random.Random(5)
    lots = {mark: simulated_lives(30, chance) for mark in ("one", "two")}
    short = [Life(life.after_hours / 2, (life.by_hours or 0) / 2 or None) for life in lots["two"]]
    found = compare_lots({"one": lots["one"], "short": short})
    assert found is not None
    # Taking each failure as found at the middle of its interval, which is common practice.
    middles = [
        (
            np.array([(a.after_hours + (a.by_hours or a.after_hours)) / 2 for a in lives]),
            np.array([a.has_failed for a in lives]),
        )
        for lives in (lots["one"], short)
    ]
    theirs = logrank_test(middles[0][0], middles[1][0], middles[0][1], middles[1][1])
    assert found.p_value < 1e-3
    assert found.chi_squared == pytest.approx(theirs.test_statistic, rel=0.35)


def test_ten_pads_none_failed_tell_no_life() -> None:
    told = lot_life([Life(300.0)] * 10)
    assert (told.told, told.failed, told.longest_hours) == (Told.NO_FAILURE, 0, 300.0)
    assert told.curve is None


def test_no_pads_tell_nothing() -> None:
    assert lot_life([]).told is Told.NO_PADS


def test_one_failure_is_too_few() -> None:
    told = lot_life([Life(100.0, 140.0), *[Life(300.0)] * 10])
    assert (told.told, told.failed) == (Told.TOO_FEW_FAILED, 1)


def test_five_failures_are_enough_and_four_are_not() -> None:
    failed = [Life(100.0 + each, 140.0 + each) for each in range(5)]
    assert lot_life([*failed, Life(300.0)]).told is Told.LIFE
    assert lot_life([*failed[1:], Life(300.0)]).told is Told.TOO_FEW_FAILED


def test_pads_that_all_failed_by_their_first_look_tell_no_life() -> None:
    told = lot_life([Life(0.0, hours) for hours in (40.0, 50.0, 60.0, 70.0, 80.0, 90.0)])
    assert told.told is Told.FAILED_AT_FIRST_LOOK


def test_failures_all_between_the_same_two_looks_have_a_curve_but_no_weibull_law() -> None:
    told = lot_life([Life(100.0, 200.0)] * 8)
    assert told.told is Told.LIFE
    assert told.weibull is None
    assert told.curve is not None
    assert [place.share for place in told.curve.places] == pytest.approx([1.0, 1.0, 0.0])


def test_the_share_never_rises_and_lies_within_its_band() -> None:
    places = survival_curve(simulated_lives(60, random.Random(9))).places
    for earlier, later in itertools.pairwise(places):
        assert later.share <= earlier.share + 1e-9
        assert later.low - 1e-3 <= later.share <= later.high + 1e-3


def test_lots_of_which_none_failed_are_not_compared() -> None:
    assert compare_lots({"one": [Life(10.0)], "two": [Life(20.0)]}) is None
    assert compare_lots({"one": DRUG}) is None


@pytest.mark.parametrize(
    ("after", "by", "words"),
    [
        (-1.0, None, "after_hours is -1: give 0 h or more"),
        (50.0, 40.0, "by_hours is 40, before after_hours, 50"),
        (0.0, 0.0, "by_hours is 0: give more than 0 h"),
        (float("nan"), None, "after_hours is nan"),
    ],
)
def test_a_life_that_can_not_be_is_refused_by_name(
    after: float, by: float | None, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        Life(after, by)


@pytest.mark.parametrize("share", [0.0, 1.0, float("nan")])
def test_a_life_of_all_or_no_pads_is_refused(share: float) -> None:
    law = fit_weibull(DRUG)
    assert law is not None
    with pytest.raises(ValueError, match="failed_share"):
        law.life_hours(share)
