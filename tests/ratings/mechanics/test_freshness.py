"""When a rating goes stale."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from ratings.mechanics.freshness import HoldPolicy, Stale, stale_reasons

POLICY = HoldPolicy(730, 40.0, 100.0)


def test_a_rating_holds_on_its_last_day_and_no_longer() -> None:
    assert stale_reasons(POLICY, 730) == ()
    assert stale_reasons(POLICY, 730.01) == (Stale.TOO_OLD,)


def test_rubber_tested_outside_the_range_makes_it_stale() -> None:
    assert stale_reasons(POLICY, 1, [40.0, 100.0]) == ()
    assert stale_reasons(POLICY, 1, [70.0, 39.9]) == (Stale.TOO_COLD,)
    assert stale_reasons(POLICY, 1, [100.1]) == (Stale.TOO_WARM,)


def test_all_reasons_are_given() -> None:
    assert stale_reasons(POLICY, 800, [20.0, 120.0]) == tuple(Stale)


def test_a_temperature_not_taken_says_nothing() -> None:
    assert stale_reasons(POLICY, 1, [None, 70.0]) == ()


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: stale_reasons(POLICY, -1), "age_days is -1: give 0 days or more"),
        (lambda: stale_reasons(POLICY, 1, [None, math.nan]), "rubber_f reading 2 is nan"),
        (lambda: HoldPolicy(-1, 40.0, 100.0), "valid_days is -1"),
        (lambda: HoldPolicy(1, 101.0, 100.0), "coldest_f is 101: give no more than warmest_f"),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
