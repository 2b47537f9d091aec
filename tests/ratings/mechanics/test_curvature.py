"""Whether readings bend: the quadratic term of a line through rest."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats

from ratings.mechanics.line_fit import curvature_check, fit_line, zero_check

STRETCHES = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]


def test_the_term_and_its_t_are_those_of_least_squares() -> None:
    # Against numpy's least squares and scipy's F of the nested models, invented readings.
    draw = np.random.default_rng(12)
    x = np.repeat(np.array(STRETCHES), 2)
    f = 1000.0 * x + 12.0 * x**2 + draw.normal(0.0, 60.0, x.size)
    found = curvature_check(list(x), list(f))
    both = np.stack([x, x**2], axis=1)
    (rate, quadratic), squares, _, _ = np.linalg.lstsq(both, f, rcond=None)
    assert found.rate_lbf_in == pytest.approx(float(rate), rel=1e-10)
    assert found.quadratic_lbf_in2 == pytest.approx(float(quadratic), rel=1e-9)
    assert found.squares_lbf2 == pytest.approx(float(squares[0]), rel=1e-9)
    straight = float(((f - (x @ f) / (x @ x) * x) ** 2).sum())
    f_of_term = (straight - float(squares[0])) / (float(squares[0]) / (x.size - 2))
    assert found.t**2 == pytest.approx(f_of_term, rel=1e-9)
    p = float(stats.f.sf(f_of_term, 1, x.size - 2))
    assert found.is_significant == (p < 0.05)


def test_a_straight_line_is_called_bent_five_times_in_a_hundred() -> None:
    # 4,000 invented tests, seed fixed; binomial sd 0.34 %, four of them allowed.
    draw = np.random.default_rng(7)
    bent = sum(
        curvature_check(
            STRETCHES, list(1000.0 * np.array(STRETCHES) + draw.normal(0.0, 30.0, 6))
        ).is_significant
        for _ in range(4000)
    )
    assert bent / 4000 == pytest.approx(0.05, abs=0.014)


def test_a_straight_line_to_the_last_digit_does_not_bend() -> None:
    found = curvature_check([0.1, 0.2, 0.3], [100.1, 200.2, 300.3])
    assert (found.t, found.is_significant) == (0.0, False)


def test_a_bend_without_scatter_is_surely_one() -> None:
    found = curvature_check([1.0, 2.0, 3.0], [1010.0, 2040.0, 3090.0])
    assert found.is_significant
    assert found.quadratic_lbf_in2 == pytest.approx(10.0, rel=1e-9)


def test_a_bent_curve_would_else_pass_for_a_misread_tape() -> None:
    forces = [1000.0 * x + 40.0 * x * x for x in STRETCHES]
    assert zero_check(fit_line(STRETCHES, forces)).is_significant
    assert curvature_check(STRETCHES, forces).is_significant


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: curvature_check([1.0, 2.0], [100.0, 200.0]), "2 readings with stretch"),
        (lambda: curvature_check([0.0, 1.0, 2.0], [0.0, 100.0, 200.0]), "2 readings with"),
        (lambda: curvature_check([1.0, 1.0, 1.0], [100.0, 100.0, 101.0]), "at two stretches"),
        (lambda: curvature_check([1.0, 2.0], [100.0]), "give as many of one"),
        (lambda: curvature_check([1.0, 2.0, -3.0], [1.0, 2.0, 3.0]), "stretch_in reading 3"),
        (lambda: curvature_check([1.0, 2.0, 3.0], [1.0, 2.0, 3.0], 1.0), "confidence is 1"),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
