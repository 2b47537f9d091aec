"""Checks of a reference piece: the chart's limits, their judgement, and E_n between stands."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.agreement import disagree, e_n
from ratings.mechanics.bench import BenchSetUp, CycleReading, Cylinder
from ratings.mechanics.budget import Instruments, rate_budget
from ratings.mechanics.line_fit import fit_rate
from ratings.mechanics.stand_checks import (
    BASELINE_CHECKS,
    CheckRate,
    check_rate,
    control_limits,
    judge_checks,
)

# The flow rates of NIST/SEMATECH handbook 6.3.2.2 and the limits it prints, from memory.
NIST_FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_limits_are_those_of_the_published_example() -> None:
    limits = control_limits(NIST_FLOW)
    assert limits.centre == pytest.approx(50.81, abs=1e-9)
    assert limits.upper == pytest.approx(55.8041, abs=1e-4)
    assert limits.lower == pytest.approx(45.8159, abs=1e-4)
    assert limits.checks == 10


def test_values_rounded_alike_leave_the_room_that_reading_leaves() -> None:
    limits = control_limits([500.0, 500.0, 500.0], least_sigma=2.0)
    assert (limits.lower, limits.upper) == (494.0, 506.0)


def test_one_value_sets_no_limits() -> None:
    with pytest.raises(ValueError, match="values has 1: give two or more"):
        control_limits([500.0])


def checks(*rates: float, own: float = 1.0, expanded: float = 12.0) -> list[CheckRate]:
    return [CheckRate(rate, own, expanded) for rate in rates]


def outs(*rates: float) -> list[bool]:
    return [each.is_out for each in judge_checks(checks(*rates))]


def test_a_check_is_held_to_those_before_it_alone() -> None:
    judged = judge_checks(checks(500, 502, 499, 501, 520, 500))
    assert [each.is_out for each in judged] == [False, False, False, False, True, False]
    assert judged[4].limits is not None
    assert judged[4].limits.centre == 500.5
    assert judged[4].limits.checks == 4


def test_the_first_four_are_held_to_the_first_by_e_n() -> None:
    # √(12² + 12²) is 17.0: 516 may be, 518 may not.
    assert outs(500, 516) == [False, False]
    assert outs(500, 518) == [False, True]
    assert [each.limits for each in judge_checks(checks(500, 516))] == [None, None]


def test_a_check_that_is_out_widens_no_limits() -> None:
    judged = judge_checks(checks(500, 502, 499, 501, 560, 560, 560))
    assert [each.is_out for each in judged[4:]] == [True, True, True]


def test_a_stand_that_drifts_slowly_does_not_take_its_limits_along() -> None:
    settled = [500.0, 502.0] * (BASELINE_CHECKS // 2)
    drifting = [501.0 + step / 2 for step in range(1, 30)]
    found = outs(*settled, *drifting)
    assert not any(found[:BASELINE_CHECKS])
    assert found[-1]
    # Once beyond, always beyond: the chart stands where the first ten set it.
    first = found.index(True)
    assert all(found[first:])


@given(st.lists(st.floats(100.0, 1000.0), min_size=1, max_size=15))
def test_a_later_check_changes_no_judgement_before_it(rates: list[float]) -> None:
    judged = judge_checks(checks(*rates))
    assert judge_checks(checks(*rates[:-1])) == judged[:-1]


def test_a_check_is_reduced_and_budgeted_as_a_bench_test_is() -> None:
    set_up = BenchSetUp(Cylinder(4.0), "blind", 1, 10.0)
    instruments = Instruments("1A", 1500.0, 5.0, 0.0625, 0.05, 0.01)
    readings = [CycleReading(10.0 + x, 80.0 * x + (x % 2)) for x in (1, 2, 3, 4)]
    found = check_rate(set_up, instruments, readings)
    stretches = [1.0, 2.0, 3.0, 4.0]
    forces = [each.gauge_psi * set_up.lbf_per_psi for each in readings]
    fit = fit_rate(stretches, forces)
    budget = rate_budget(fit, stretches, forces, set_up, instruments)
    assert found.rate_lbf_in == pytest.approx(fit.rate_lbf_in, rel=1e-12)
    assert found.expanded_lbf_in == pytest.approx(budget.expanded_lbf_in, rel=1e-12)
    # Scatter, gauge and tape rounding, by hand; what the stand puts on every check is not in it.
    by_hand = math.hypot(
        fit.standard_error_lbf_in,
        5.0 / math.sqrt(12.0) * set_up.lbf_per_psi / math.sqrt(30.0),
        0.0625 / math.sqrt(12.0) * fit.rate_lbf_in / math.sqrt(30.0),
    )
    assert found.own_lbf_in == pytest.approx(by_hand, rel=1e-9)


def test_e_n_by_hand() -> None:
    assert e_n(510.0, 3.0, 500.0, 4.0) == 2.0
    assert e_n(500.0, 3.0, 510.0, 4.0) == -2.0
    assert disagree(2.0)
    assert disagree(-1.01)
    assert not disagree(1.0)


@pytest.mark.parametrize(
    ("given_to", "words"),
    [
        ((1.0, 0.0, 2.0, 0.0), "both expanded uncertainties are 0"),
        ((1.0, -1.0, 2.0, 1.0), "first_expanded is -1"),
        ((1.0, 1.0, 2.0, -1.0), "second_expanded is -1"),
        ((math.nan, 1.0, 2.0, 1.0), "first is nan"),
    ],
)
def test_e_n_of_what_cannot_be_is_refused(
    given_to: tuple[float, float, float, float], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        e_n(*given_to)
