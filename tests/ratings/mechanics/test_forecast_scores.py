"""How good forecasts were, by scores that others published."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from typing import Any

import pytest

from ratings.mechanics.forecast_scores import (
    Counted,
    Scored,
    brier,
    brier_score,
    calibration,
    pads_ratio,
    wilson,
    without_skill,
)


def test_the_brier_score_is_that_of_the_documentation_of_another_library() -> None:
    # scikit-learn's documentation of brier_score_loss: outcomes 0, 1, 1, 0 and chances 0.1, 0.9,
    # 0.8, 0.3 score 0.037 (0.0375).
    said = zip((0.1, 0.9, 0.8, 0.3), (False, True, True, False), strict=True)
    scored = [Scored(chance, came, "S-1") for chance, came in said]
    assert brier(scored) == pytest.approx(0.0375, abs=1e-12)


def test_wilsons_band_is_the_published_one() -> None:
    # Newcombe (1998), Statistics in Medicine 17, 857, table I, method 3, from memory: 81 of 263
    # has 0.2553 to 0.3662, 15 of 148 0.0624 to 0.1605, 0 of 20 0.0000 to 0.1611, 1 of 29 0.0061
    # to 0.1718.
    for came, many, low, high in (
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ):
        assert wilson(came, many, 0.95) == pytest.approx((low, high), abs=6e-5)


def test_a_score_of_one_unit_has_no_band_and_twice_drawn_is_the_same() -> None:
    one = [Scored(0.3, False, "S-1"), Scored(0.6, True, "S-1")]
    assert brier_score(one).low is None
    two = [*one, Scored(0.2, True, "S-2"), Scored(0.9, True, "S-3")]
    assert brier_score(two) == brier_score(two)
    score = brier_score(two)
    assert score.low is not None
    assert score.high is not None
    assert score.low <= score.value <= score.high


def test_months_of_one_unit_do_not_make_a_band_narrower() -> None:
    few = [Scored(0.3, unit in "ab", unit) for unit in "abcdef"]
    again = few * 10
    told, once = brier_score(again), brier_score(few)
    assert (told.low, told.high) == pytest.approx((once.low, once.high))


def test_the_band_of_the_score_holds_what_it_says_it_holds() -> None:
    # 60 records of 30 units with chances as they are: 90 % bands hold E[p(1 − p)] about as often.
    rng = random.Random(5)
    chances = [rng.random() for _ in range(30)]
    truth = sum(chance * (1.0 - chance) for chance in chances) / 30
    held = 0
    for _ in range(60):
        scored = [
            Scored(chance, rng.random() < chance, f"S-{number}")
            for number, chance in enumerate(chances)
        ]
        score = brier_score(scored)
        assert score.low is not None
        assert score.high is not None
        held += score.low <= truth <= score.high
    # A bootstrap of thirty falls a little short.
    assert 46 <= held <= 59


def test_forecasts_are_put_together_by_chance() -> None:
    scored = [Scored(0.1, False, "a"), Scored(0.2, True, "b"), Scored(0.9, True, "c")]
    low, high = calibration(scored)
    assert (low.many, low.came) == (2, 1)
    assert low.predicted == pytest.approx(0.15)
    assert (high.many, high.share) == (1, 1.0)
    assert sum(each.many for each in calibration(scored)) == 3
    assert calibration([Scored(0.0, False, "a")])[0].many == 1


def test_without_looking_one_says_the_share_for_all() -> None:
    scored = [Scored(0.5, came, "a") for came in (True, False, False, False)]
    assert without_skill(scored) == pytest.approx(0.25 * 0.75)


def test_pads_found_are_held_to_those_expected() -> None:
    ratio = pads_ratio([Counted(2.0, 1, "a"), Counted(4.0, 2, "b")])
    assert ratio is not None
    assert (ratio.value, ratio.low, ratio.high) == (0.5, 0.5, 0.5)
    assert pads_ratio([Counted(0.0, 0, "a")]) is None


def test_where_units_may_expect_no_pad_at_all_the_ratio_has_no_band() -> None:
    ratio = pads_ratio([Counted(0.0, 1, "a"), Counted(2.0, 1, "b")])
    assert ratio is not None
    assert (ratio.value, ratio.low, ratio.high) == (1.0, None, None)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: Scored(1.1, True, "a"), "chance is 1.1"),
        (lambda: Scored(-0.1, True, "a"), "chance"),
        (lambda: Scored(math.nan, True, "a"), "chance"),
        (lambda: brier([]), "at least one forecast"),
        (lambda: wilson(3, 2), "came is 3 of 2"),
        (lambda: wilson(0, 0), "came is 0 of 0"),
    ],
)
def test_what_cannot_be_is_refused(make: Callable[[], Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        make()
