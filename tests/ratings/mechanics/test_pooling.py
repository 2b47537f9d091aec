"""A lot's rate from several bench tests, and what any one pad of it may be."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.pooling import (
    BenchRate,
    lower_bound_of_one_pad,
    pads_to_test_for,
    pool,
)
from ratings.mechanics.uncertainty import tolerance_factor, updated_spread

tests_of_a_lot = st.lists(
    st.builds(
        BenchRate,
        st.floats(800.0, 1200.0),
        st.floats(0.5, 50.0),
        st.floats(0.0, 50.0),
        st.integers(1, 4),
        st.integers(1, 20),
    ),
    min_size=1,
    max_size=6,
)


def apart(tests: list[BenchRate]) -> list[BenchRate]:
    """The same tests, of pads that each bear a mark of their own."""
    return [
        replace(test, marks=tuple(f"{place}.{pad}" for pad in range(test.pads_in_test)))
        for place, test in enumerate(tests)
    ]


def test_one_test_worked_by_hand() -> None:
    # Two pads, 5 % assumed: 50/√2 = 35.355; own 10; common 20.
    found = pool([BenchRate(1000.0, 10.0, 20.0, 2, 5)], 5.0)
    assert found.rate_lbf_in == 1000.0
    assert found.standard_lbf_in == pytest.approx(math.sqrt(1250.0 + 100.0), rel=1e-12)
    assert found.common_lbf_in == 20.0
    assert found.shared_lbf_in == pytest.approx(math.sqrt(1750.0), rel=1e-12)
    assert found.degrees_of_freedom == pytest.approx(5.0 * (1750.0 / 100.0) ** 2, rel=1e-12)
    assert (found.spread_lbf_in, found.is_assumed_spread) == (50.0, True)
    assert found.spread.degrees_of_freedom == math.inf
    assert (found.between_lbf_in, found.spread.single_pads) == (0.0, 0)
    assert found.pads_tested == pytest.approx(2.0, rel=1e-12)


def test_tests_that_agree_are_weighted_by_their_own_variance() -> None:
    # No spread: 1/10² against 1/20², so 4 to 1.
    found = pool([BenchRate(1000.0, 10.0, 0.0, 2), BenchRate(1010.0, 20.0, 0.0, 2)], 0.0)
    assert found.weights == pytest.approx((0.8, 0.2), rel=1e-9)
    assert found.rate_lbf_in == pytest.approx(1002.0, rel=1e-9)
    assert found.standard_lbf_in == pytest.approx(math.sqrt(80.0), rel=1e-9)
    assert found.between_lbf_in == 0.0


def test_scatter_between_tests_worked_by_hand() -> None:
    # Equal variances u² = 100: Σ(k − mean)² = 20,000 = 2·(u² + τ²), so τ² = 9,900.
    tests = [BenchRate(each, 10.0, 0.0, 2) for each in (900.0, 1000.0, 1100.0)]
    found = pool(tests, 0.0)
    assert found.between_lbf_in == pytest.approx(math.sqrt(9900.0), rel=1e-9)
    # Then the mean has what a plain sample of three has: 100/√3.
    assert found.standard_lbf_in == pytest.approx(100.0 / math.sqrt(3.0), rel=1e-9)
    assert found.degrees_of_freedom == pytest.approx(2.0, rel=0.05)


@given(tests_of_a_lot)
def test_the_scatter_between_tests_solves_the_equation_of_paule_and_mandel(
    tests: list[BenchRate],
) -> None:
    tests = apart(tests)
    found = pool(tests, 2.0)
    spread_squared = found.spread_lbf_in**2
    variances = [
        test.own_lbf_in**2 + spread_squared / test.pads_in_test + found.between_lbf_in**2
        for test in tests
    ]
    excess = math.fsum(
        (test.rate_lbf_in - found.rate_lbf_in) ** 2 / variance
        for test, variance in zip(tests, variances, strict=True)
    )
    if found.between_lbf_in > 1e-3:
        assert excess == pytest.approx(len(tests) - 1, rel=1e-6)
    else:
        assert excess <= len(tests) - 1 + 1e-6


@given(tests_of_a_lot)
def test_a_pooled_rate_lies_among_its_tests_and_is_no_surer_than_the_stand(
    tests: list[BenchRate],
) -> None:
    found = pool(tests, 5.0)
    rates = [test.rate_lbf_in for test in tests]
    assert min(rates) * (1 - 1e-12) <= found.rate_lbf_in <= max(rates) * (1 + 1e-12)
    assert math.fsum(found.weights) == pytest.approx(1.0, rel=1e-12)
    assert found.shared_lbf_in >= min(test.common_lbf_in for test in tests)
    assert found.degrees_of_freedom >= 1.0 - 1e-9


@given(tests_of_a_lot, st.randoms(use_true_random=False))
def test_the_order_of_tests_changes_no_digit(tests: list[BenchRate], random: Random) -> None:
    shuffled = list(tests)
    random.shuffle(shuffled)
    one, other = pool(tests, 5.0), pool(shuffled, 5.0)
    assert replace(one, weights=()) == replace(other, weights=())


def test_single_pads_update_the_spread_assumed_as_a_pooled_variance_does() -> None:
    # Mean 1,000; deviations −40, 0, 40: sd 40 of 2 degrees of freedom; 5 % assumed of 8. Pooled
    # variance (8·50² + 2·40²)/10 (textbook; as scipy or statsmodels have it for two samples).
    tests = apart([BenchRate(each, 1.0, 15.0, 1, 5) for each in (960.0, 1000.0, 1040.0)])
    found = pool(tests, 5.0, 8.0)
    assert found.spread.measured_lbf_in == pytest.approx(40.0, rel=1e-12)
    assert (found.spread.single_pads, found.spread.measured_degrees_of_freedom) == (3, 2)
    pooled = math.sqrt((8 * 50.0**2 + 2 * 40.0**2) / 10)
    assert found.spread_lbf_in == pytest.approx(pooled, rel=1e-12)
    assert found.spread.degrees_of_freedom == 10
    assert found.standard_lbf_in == pytest.approx(pooled / math.sqrt(3.0), rel=1e-3)
    assert found.common_lbf_in == pytest.approx(15.0, rel=1e-12)
    assert found.pads_tested == pytest.approx(3.0, rel=1e-6)


def test_the_updated_spread_is_the_pooled_variance_of_two_samples() -> None:
    # Against numpy: nine values that stand for the assumption and four singles.
    draw = np.random.default_rng(3)
    before, singles = draw.normal(0.0, 50.0, 9), draw.normal(0.0, 30.0, 4)
    found, freedom = updated_spread(before.std(ddof=1), 8, singles.std(ddof=1), 3)
    squares = ((before - before.mean()) ** 2).sum() + ((singles - singles.mean()) ** 2).sum()
    assert found == pytest.approx(math.sqrt(squares / 11.0), rel=1e-12)
    assert freedom == 11


def test_two_equal_singles_never_give_a_spread_of_nothing() -> None:
    found = pool(apart([BenchRate(1000.0, 1.0, 0.0, 1)] * 2), 5.0, 8.0)
    assert found.spread.measured_lbf_in == 0.0
    assert found.spread_lbf_in == pytest.approx(50.0 * math.sqrt(8.0 / 9.0), rel=1e-12)


def test_single_pads_that_differ_by_more_than_assumed_are_not_diluted() -> None:
    tests = apart([BenchRate(each, 1.0, 0.0, 1) for each in (900.0, 1000.0, 1100.0)])
    assert pool(tests, 5.0, 8.0).spread_lbf_in == pytest.approx(100.0, rel=1e-12)


def test_pads_without_marks_show_no_spread() -> None:
    found = pool([BenchRate(each, 1.0, 0.0, 1) for each in (900.0, 1000.0, 1100.0)], 5.0, 8.0)
    assert found.is_assumed_spread
    assert found.spread_lbf_in == pytest.approx(50.0, rel=1e-12)


def test_one_pad_tested_five_times_is_one_pad() -> None:
    tests = [BenchRate(1000.0 + each, 5.0, 0.0, 1) for each in (-4.0, -2.0, 0.0, 2.0, 4.0)]
    marked = [replace(test, marks=("A1",)) for test in tests]
    for same in (tests, marked):
        found = pool(same, 5.0, 8.0)
        assert found.pads_tested == pytest.approx(1.0, rel=1e-12)
        assert found.standard_lbf_in >= 50.0
        assert found.spread.single_pads == (1 if same is marked else 0)
    assert pool(apart(tests), 5.0, 8.0).pads_tested == pytest.approx(5.0, rel=1e-9)


def test_a_pad_tested_again_weighs_no_more_than_another() -> None:
    # Four times the one pad and once another: each pad has half of the mean.
    tests = [replace(BenchRate(1000.0, 0.0, 0.0, 1), marks=("A1",))] * 4
    tests.append(replace(BenchRate(900.0, 0.0, 0.0, 1), marks=("A2",)))
    found = pool(tests, 5.0, 8.0)
    assert found.pads_tested == pytest.approx(2.0, rel=0.01)
    assert found.rate_lbf_in == pytest.approx(950.0, rel=0.01)


def test_one_pad_that_reads_otherwise_each_time_tells_of_scatter_between_tests() -> None:
    # 1,000 ± 30 of one pad, itself read to 1: pads explain none of it. sd 30.
    tests = [BenchRate(each, 1.0, 0.0, 1) for each in (970.0, 1000.0, 1030.0)]
    assert pool(tests, 5.0, 8.0).between_lbf_in == pytest.approx(30.0, rel=1e-3)


def test_one_single_pad_gives_no_spread() -> None:
    found = pool(apart([BenchRate(960.0, 1.0, 0.0, 1), BenchRate(1000.0, 1.0, 0.0, 4)]), 5.0, 8.0)
    assert found.is_assumed_spread
    assert found.spread_lbf_in == pytest.approx(49.0, rel=1e-12)


def test_the_common_part_does_not_shrink_with_more_tests() -> None:
    test = BenchRate(1000.0, 10.0, 20.0, 4, 5)
    one, many = pool([test], 5.0), pool(apart([test] * 9), 5.0)
    assert many.common_lbf_in == pytest.approx(one.common_lbf_in, rel=1e-12)
    assert many.standard_lbf_in == pytest.approx(one.standard_lbf_in / 3.0, rel=1e-9)


def test_tests_without_any_scatter_are_pooled_all_the_same() -> None:
    found = pool([BenchRate(1000.0, 0.0, 0.0, 2), BenchRate(1000.0, 0.0, 0.0, 2)], 0.0)
    assert found.rate_lbf_in == pytest.approx(1000.0, rel=1e-12)
    assert found.standard_lbf_in < 1e-5


def test_the_lower_bound_of_one_pad_by_the_table() -> None:
    # n = 5, p = 0.90, confidence 0.95: 3.40663 (computed table of the tolerance factor).
    assert lower_bound_of_one_pad(1000.0, 40.0, 5, 0.90, 0.95) == pytest.approx(
        1000.0 - 40.0 * 3.40663, abs=3e-4
    )


def test_a_lower_bound_is_never_below_nothing() -> None:
    assert lower_bound_of_one_pad(1000.0, 60.0, 2) == 0.0


def test_the_lower_bound_keeps_its_promise_over_invented_lots() -> None:
    # 4,000 samples of five pads, seed fixed: in at least 95 % of them 90 % of all pads reach
    # the bound. Binomial sd 0.34 %; five of them allowed either way, since it is exact.
    draw = np.random.default_rng(5)
    k = tolerance_factor(5, 0.90, 0.95)
    samples = draw.normal(1000.0, 50.0, (4000, 5))
    bounds = samples.mean(axis=1) - k * samples.std(axis=1, ddof=1)
    tenth = 1000.0 - 1.2815515655446 * 50.0
    assert float((bounds <= tenth).mean()) == pytest.approx(0.95, abs=0.017)


def test_pads_to_test_for_a_gain_are_the_fewest_that_give_it() -> None:
    # From five pads (3.40663) to nine (2.45376): 40·0.95287 = 38.1 lbf/in; eight give 32.99.
    assert pads_to_test_for(38.0, 1000.0, 40.0, 5) == 4
    assert pads_to_test_for(32.9, 1000.0, 40.0, 5) == 3
    assert pads_to_test_for(0.0, 1000.0, 40.0, 5) == 0


def test_a_gain_beyond_what_all_pads_would_give_is_none() -> None:
    # Never above mean − 1.2816·40: 85.0 from five pads.
    assert pads_to_test_for(86.0, 1000.0, 40.0, 5) is None
    assert pads_to_test_for(1.0, 1000.0, 0.0, 5) is None


@given(st.floats(0.1, 60.0), st.integers(2, 12))
def test_one_pad_fewer_would_not_do(gain: float, n: int) -> None:
    more = pads_to_test_for(gain, 1000.0, 20.0, n)
    if more is None:
        return
    before = lower_bound_of_one_pad(1000.0, 20.0, n)
    assert lower_bound_of_one_pad(1000.0, 20.0, n + more) >= before + gain
    assert lower_bound_of_one_pad(1000.0, 20.0, n + more - 1) < before + gain


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: pool([], 5.0), "tests has none in it"),
        (lambda: pool([BenchRate(1000.0, 1.0, 1.0, 2)], -5.0), "assumed_spread_pct is -5"),
        (lambda: BenchRate(0.0, 1.0, 1.0, 2), "rate_lbf_in is 0"),
        (lambda: BenchRate(1000.0, -1.0, 1.0, 2), "own_lbf_in is -1"),
        (lambda: BenchRate(1000.0, 1.0, -1.0, 2), "common_lbf_in is -1"),
        (lambda: BenchRate(1000.0, 1.0, 1.0, 0), "pads_in_test is 0"),
        (lambda: BenchRate(1000.0, 1.0, 1.0, 2, 0), "degrees_of_freedom is 0"),
        (lambda: BenchRate(1000.0, 1.0, 1.0, 1, marks=("A1", "A2")), "give each of the 1 pads"),
        (lambda: BenchRate(1000.0, 1.0, 1.0, 2, marks=("A1", "A1")), "give each of the 2 pads"),
        (lambda: lower_bound_of_one_pad(1000.0, 40.0, 1), "n is 1: give a whole number, 2"),
        (lambda: lower_bound_of_one_pad(0.0, 40.0, 5), "mean_lbf_in is 0"),
        (lambda: lower_bound_of_one_pad(1000.0, -4.0, 5), "sd_lbf_in is -4"),
        (lambda: pads_to_test_for(-1.0, 1000.0, 40.0, 5), "gain_lbf_in is -1"),
        (lambda: pads_to_test_for(1.0, 1000.0, 40.0, 1), "n is 1"),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
