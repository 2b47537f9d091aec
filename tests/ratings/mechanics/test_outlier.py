"""Outliers among bench readings, checked by refitting without each reading."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ratings.mechanics.line_fit import find_outliers, fit_rate, outlier_limit, studentized_residuals

STRETCHES = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
FORCES = [1004.0, 1995.0, 3007.0, 3992.0, 5003.0, 5997.0]

readings = st.lists(
    st.tuples(st.floats(0.25, 12.0), st.floats(10.0, 20_000.0)), min_size=4, max_size=12
)


@given(readings)
def test_a_studentized_residual_is_what_a_fit_without_the_reading_finds(
    pairs: list[tuple[float, float]],
) -> None:
    # Cook and Weisberg (1982), from memory: t_i = (f_i − x_i·k₍ᵢ₎) / (s₍ᵢ₎·√(1 + x_i²/Σ₍ᵢ₎x²)).
    found = studentized_residuals(*zip(*pairs, strict=True))
    for index, (x, f) in enumerate(pairs):
        others = pairs[:index] + pairs[index + 1 :]
        stretches, forces = zip(*others, strict=True)
        fit = fit_rate(stretches, forces)
        assume(fit.residual_sd_lbf > 1e-3)
        weight = 1.0 + x * x / math.fsum(each * each for each, _ in others)
        by_hand = (f - fit.rate_lbf_in * x) / (fit.residual_sd_lbf * math.sqrt(weight))
        assert found[index] == pytest.approx(by_hand, rel=1e-6, abs=1e-6)


def test_the_limit_among_six_readings() -> None:
    # t of 1 − 0.05/12 with 4 degrees of freedom: printed tables of t at 0.9958 give 4.85
    # (computed with scipy: 4.8510).
    assert outlier_limit(6) == pytest.approx(4.851, abs=1e-3)


def test_good_readings_name_none() -> None:
    assert find_outliers(STRETCHES, FORCES) == ()


def test_a_reading_a_tenth_too_high_is_named_with_its_place_and_figures() -> None:
    forces = list(FORCES)
    forces[2] = 3307.0
    (found,) = find_outliers(STRETCHES, forces)
    assert (found.index, found.stretch_in, found.force_lbf) == (2, 3.0, 3307.0)
    assert found.studentized > found.limit == outlier_limit(6)


def test_a_reading_far_too_low_is_named_too() -> None:
    forces = list(FORCES)
    forces[5] = 5400.0
    assert [each.index for each in find_outliers(STRETCHES, forces)] == [5]
    assert find_outliers(STRETCHES, forces)[0].studentized < 0.0


def test_one_reading_off_an_otherwise_perfect_line_is_infinitely_far() -> None:
    found = find_outliers([1.0, 2.0, 3.0, 4.0], [1000.0, 2000.0, 3300.0, 4000.0])
    assert [(each.index, each.studentized) for each in found] == [(2, math.inf)]


@given(st.lists(st.floats(0.25, 12.0), min_size=3, max_size=12), st.floats(50.0, 5_000.0))
def test_rounding_alone_is_no_outlier(stretches: list[float], rate: float) -> None:
    assert find_outliers(stretches, [rate * stretch for stretch in stretches]) == ()


def test_the_only_reading_with_stretch_is_judged_by_none() -> None:
    assert studentized_residuals([0.0, 0.0, 2.0], [0.0, 0.0, 2000.0])[2] == 0.0


def test_two_readings_judge_nothing() -> None:
    assert find_outliers([1.0, 2.0], [1000.0, 2500.0]) == ()


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: studentized_residuals([1.0, 2.0], [1.0, 2.0]), "stretch_in has 2 readings: give"),
        (lambda: studentized_residuals([0.0] * 3, [1.0] * 3), "stretch_in is 0 in every reading"),
        (lambda: find_outliers([1.0] * 3, [1.0] * 2), "stretch_in has 3 readings and force_lbf 2"),
        (lambda: find_outliers([1.0, -1.0, 2.0], [1.0] * 3), "stretch_in reading 2 is -1"),
        (lambda: outlier_limit(2), "readings is 2: give a whole number, 3 or more"),
        (lambda: find_outliers([1.0] * 3, [1.0, 2.0, 4.0], 1.5), "confidence is"),
    ],
)
def test_what_cannot_be_judged_is_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
