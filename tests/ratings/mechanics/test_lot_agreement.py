"""Which of a lot's tests count while they agree, disagree, or may hide that the lot softened."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.lot_agreement import (
    Agreement,
    Counts,
    DatedRate,
    Spreading,
    agree,
    difference,
    occasions,
)
from ratings.mechanics.pooling import BenchRate

SPREAD = Spreading(5.0, 8.0)
MONTH = 30.0


def rate(day: float, rate_lbf_in: float, *marks: str, own: float = 5.0) -> DatedRate:
    """A test of pads with these marks, or of one without, on one stand that shares 20 lbf/in."""
    pads = len(marks) or 1
    return DatedRate(day, BenchRate(rate_lbf_in, own, 20.0, pads, 5, marks), "stand")


def history(*rates_lbf_in: float, pads: int = 4) -> list[DatedRate]:
    """A test a month, each of pads of their own."""
    return [
        rate(place * MONTH, each, *(f"{place}.{pad}" for pad in range(pads)))
        for place, each in enumerate(rates_lbf_in)
    ]


def counted(found: Agreement) -> list[int]:
    return list(found.counted)


def test_tests_within_a_week_were_made_on_one_occasion() -> None:
    tests = [rate(day, 1000.0) for day in (40.0, 0.0, 7.0, 7.5, 41.0)]
    assert occasions(tests) == [[1, 2], [3], [0, 4]]


def test_e_n_worked_by_hand() -> None:
    # Four pads against four others: u² = 2·(5² + 50²/4) = 1,300, less what the stand shares.
    newer, older = history(900.0, 1000.0)
    found = difference([newer], [older], SPREAD)
    u = math.sqrt(2.0 * (25.0 + (1000.0 * 0.05) ** 2 / 4.0))
    assert found.change_lbf_in == -100.0
    assert found.standard_lbf_in == pytest.approx(u, rel=1e-9)
    # E_n = |x₁ − x₂| / √(U₁² + U₂²), U = 2u of each (ISO 13528; from memory).
    assert found.en == pytest.approx(100.0 / (2.0 * u), rel=1e-9)


def test_what_both_tests_share_is_not_held_against_them() -> None:
    same_pad = difference([rate(9, 990.0, "A1")], [rate(0, 1000.0, "A1")], SPREAD)
    assert same_pad.standard_lbf_in == pytest.approx(math.sqrt(50.0), rel=1e-9)
    other_pad = difference([rate(9, 990.0, "A2")], [rate(0, 1000.0, "A1")], SPREAD)
    assert other_pad.standard_lbf_in > 70.0
    unmarked = difference([rate(9, 990.0)], [rate(0, 1000.0)], SPREAD)
    assert unmarked.standard_lbf_in == pytest.approx(other_pad.standard_lbf_in, rel=1e-9)


def test_two_stands_bring_the_errors_of_both() -> None:
    here = rate(0, 1000.0, "A1")
    there = DatedRate(9, here.rate, "another")
    assert difference([there], [here], SPREAD).standard_lbf_in == pytest.approx(
        math.sqrt(50.0 + 2.0 * 400.0), rel=1e-9
    )


def test_tests_that_agree_all_count() -> None:
    found = agree(history(1000.0, 1010.0, 990.0, 1005.0), SPREAD)
    assert counted(found) == [0, 1, 2, 3]
    assert (found.is_open, found.why) == (False, "")
    assert found.difference is not None
    assert found.difference.en < 1.0


def test_one_test_has_nothing_to_be_held_to() -> None:
    found = agree(history(1000.0), SPREAD)
    assert counted(found) == [0]
    assert (found.difference, found.trend, found.is_open) == (None, None, False)


def test_a_newest_that_is_far_softer_counts_alone_and_asks_a_person() -> None:
    found = agree(history(1000.0, 1010.0, 990.0, 850.0), SPREAD)
    assert counted(found) == [3]
    assert found.is_open
    assert "softer since" in found.why


def test_after_a_lot_fell_all_tests_since_count() -> None:
    found = agree(history(1000.0, 1010.0, 990.0, 850.0, 855.0), SPREAD)
    assert counted(found) == [3, 4]
    assert found.is_open


def test_a_newest_that_is_far_stiffer_does_not_count_until_a_person_decides() -> None:
    found = agree(history(1000.0, 1010.0, 990.0, 1200.0), SPREAD)
    assert counted(found) == [0, 1, 2]
    assert found.is_open
    assert "lower" in found.why


def test_a_lot_that_falls_bit_by_bit_is_rated_by_its_end() -> None:
    found = agree(history(1000.0, 985.0, 970.0, 955.0, 940.0, 925.0, pads=9), SPREAD)
    assert found.is_open
    assert found.trend is not None
    assert found.trend.band()[1] < 0.0
    assert 5 in found.counted
    assert 0 not in found.counted


def test_a_newest_that_is_lower_counts_alone_where_softening_could_hide() -> None:
    # One pad against four: u is near 56, so that 30 lower is no disagreement, and yet 8 % softer
    # rubber might look so.
    found = agree(history(1000.0, 1010.0, 990.0, 1000.0, 970.0, pads=1), SPREAD)
    assert counted(found) == [4]
    assert not found.is_open
    assert "could hide" in found.why


def test_a_test_of_many_pads_that_is_a_little_lower_is_averaged() -> None:
    found = agree(history(1000.0, 1010.0, 990.0, 990.0, pads=9), SPREAD)
    assert counted(found) == [0, 1, 2, 3]


@pytest.mark.parametrize(
    ("counts", "expected"),
    [(Counts.NEWEST, [3]), (Counts.REST, [0, 1, 2]), (Counts.ALL, [0, 1, 2, 3])],
)
def test_a_person_s_word_settles_it(counts: Counts, expected: list[int]) -> None:
    found = agree(history(1000.0, 1010.0, 990.0, 1200.0), SPREAD, counts)
    assert counted(found) == expected
    assert not found.is_open
    assert found.difference is not None
    assert found.difference.en > 1.0


@given(st.lists(st.floats(800.0, 1200.0), min_size=1, max_size=6), st.integers(1, 6))
def test_something_always_counts_and_never_less_than_an_occasion(
    rates: list[float], pads: int
) -> None:
    found = agree(history(*rates, pads=pads), SPREAD)
    assert found.counted
    assert set(found.counted) <= set(range(len(rates)))
    # The newest is left out only where it reads higher than those that count.
    newest = len(rates) - 1
    if newest not in found.counted:
        assert rates[newest] > min(rates[place] for place in found.counted)


@given(st.floats(600.0, 1400.0))
def test_a_newest_test_that_disagrees_never_raises_the_rate(newest: float) -> None:
    old = history(1000.0, 1005.0, 995.0)
    found = agree([*old, *history(0.0 + 1000.0, 1.0, 1.0, newest)[3:]], SPREAD)
    if found.is_open and newest > 1000.0:
        assert counted(found) == [0, 1, 2]


def test_a_lot_that_rose_and_stays_up_asks_again_with_its_next_test() -> None:
    found = agree(history(1000.0, 1010.0, 990.0, 1200.0, 1205.0), SPREAD)
    assert counted(found) == [0, 1, 2]
    assert found.is_open
