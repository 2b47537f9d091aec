"""The mean deviation and its band."""

from __future__ import annotations

import math
import random

import pytest

from ratings.mechanics.deviations import mean_deviation


def test_the_band_worked_by_hand() -> None:
    # s of 1 to 5 is √2.5; t of 4 degrees of freedom at 97.5 % is 2.776 (printed tables of
    # Student's t, such as NIST/SEMATECH e-Handbook 1.3.6.7.2).
    found = mean_deviation([1.0, 2.0, 3.0, 4.0, 5.0])
    assert found is not None
    half = 2.776 * math.sqrt(2.5) / math.sqrt(5.0)
    assert (found.many, found.mean) == (5, 3.0)
    assert found.low == pytest.approx(3.0 - half, abs=5e-4)
    assert found.high == pytest.approx(3.0 + half, abs=5e-4)
    assert found.is_sure


def test_fewer_than_three_say_nothing() -> None:
    assert mean_deviation([]) is None
    assert mean_deviation([0.1, 0.2]) is None


def test_what_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="deviation"):
        mean_deviation([1.0, 2.0, math.nan])


def test_the_band_holds_the_true_mean_as_often_as_it_says() -> None:
    draw, held, runs = random.Random(12), 0, 2_000
    for _ in range(runs):
        found = mean_deviation([draw.gauss(4.0, 3.0) for _ in range(6)])
        assert found is not None
        held += found.low <= 4.0 <= found.high
    # Four standard deviations of a binomial of 2,000 at 95 %: 2 %.
    assert held / runs == pytest.approx(0.95, abs=0.02)
