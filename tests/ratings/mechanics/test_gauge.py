"""Pressure gauges: grades, range, and readings in another unit.

Grades of ASME B40.100 from memory, the standard not opened.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.gauge import (
    PSI_PER,
    Grade,
    gauge_suspicion,
    is_below_a_quarter,
    worst_error_psi,
)


@pytest.mark.parametrize(
    ("grade", "at_the_ends", "in_the_middle"),
    [
        ("4A", 0.1, 0.1),
        ("3A", 0.25, 0.25),
        ("2A", 0.5, 0.5),
        ("1A", 1.0, 1.0),
        ("A", 2.0, 1.0),
        ("B", 3.0, 2.0),
        ("C", 4.0, 3.0),
        ("D", 5.0, 5.0),
    ],
)
def test_a_grade_is_a_share_of_the_span_by_part_of_the_scale(
    grade: str, at_the_ends: float, in_the_middle: float
) -> None:
    found = [worst_error_psi(grade, 5000.0, psi) for psi in (0.0, 600.0, 2500.0, 4900.0, 5000.0)]
    ends, middle = 50.0 * at_the_ends, 50.0 * in_the_middle
    assert found == pytest.approx([ends, ends, middle, ends, ends], rel=1e-14)


def test_on_the_border_of_the_middle_half_the_larger_error_counts() -> None:
    assert worst_error_psi("A", 4000.0, 1000.0) == worst_error_psi("A", 4000.0, 3000.0) == 80.0
    assert worst_error_psi("A", 4000.0, 1001.0) == 40.0


@given(st.floats(1.0, 20_000.0), st.floats(0.0, 1.0))
def test_a_finer_grade_is_never_further_off(span: float, share: float) -> None:
    errors = [worst_error_psi(grade, span, share * span) for grade in Grade]
    assert errors == sorted(errors)


def test_below_a_quarter_of_the_span_is_said() -> None:
    assert is_below_a_quarter(4000.0, 999.0)
    assert not is_below_a_quarter(4000.0, 1000.0)


def test_readings_in_kpa_are_suspected_where_as_psi_they_leave_the_scale() -> None:
    found = gauge_suspicion([3000.0, 6000.0], 3000.0)
    assert found is not None
    assert found.symbol == "kPa"
    assert found.why == "6000 psi is beyond the gauge's 3000 psi, 6000 kPa is not"


def test_readings_in_bar_are_suspected_where_as_psi_the_gauge_would_hardly_stir() -> None:
    found = gauge_suspicion([20.0, 40.0, 80.0], 3000.0)
    assert found is not None
    assert found.symbol == "bar"
    # 80 bar are 1,160 psi.
    assert found.why == "80 psi is 2.7 % of the gauge's 3000 psi, 80 bar is 39 %"


@pytest.mark.parametrize("shown", [[200.0, 900.0], [], [0.0], [10.0], [400.0, 3000.0], [90_000.0]])
def test_readings_that_fit_psi_or_nothing_at_all_raise_no_suspicion(shown: list[float]) -> None:
    assert gauge_suspicion(shown, 3000.0) is None


@given(st.floats(100.0, 20_000.0), st.floats(0.25, 1.0), st.sampled_from(["kPa", "bar"]))
def test_a_gauge_used_as_it_should_be_is_found_out_in_bar_and_only_ever_rightly(
    span: float, share: float, unit: str
) -> None:
    found = gauge_suspicion([share * span / PSI_PER[unit]], span)
    if unit == "bar":
        assert found is None or found.symbol == "bar"
        assert found is not None or not 0.2501 < share < 0.9999
    else:
        assert found is not None or share <= 0.1451 or share > 0.9999


@given(st.floats(100.0, 20_000.0), st.floats(0.07, 1.0))
def test_psi_on_a_gauge_used_above_its_fourteenth_part_is_never_suspected(
    span: float, share: float
) -> None:
    assert gauge_suspicion([share * span], span) is None


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: worst_error_psi("5A", 3000.0, 1.0), "grade is '5A': give one of 4A, 3A"),
        (
            lambda: worst_error_psi("1A", 3000.0, 3001.0),
            "pressure_psi is 3001, beyond the gauge's range of 3000 psi: read it again",
        ),
        (lambda: worst_error_psi("1A", 0.0, 0.0), "span_psi is 0"),
        (lambda: worst_error_psi("1A", 3000.0, -1.0), "pressure_psi is -1"),
        (lambda: is_below_a_quarter(3000.0, 3001.0), "pressure_psi is 3001, beyond"),
        (lambda: gauge_suspicion([1.0, math.nan], 3000.0), "gauge_psi reading 2 is nan"),
    ],
)
def test_what_no_gauge_can_show_is_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
