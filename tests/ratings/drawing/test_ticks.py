from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.quantities import Quantity, floored
from ratings.drawing.axes import date_marks, nice_step, tick_label, ticks


@given(st.floats(1e-6, 1e9), st.integers(1, 20))
def test_a_nice_step_is_the_smallest_that_fits(span: float, most: int) -> None:
    step = nice_step(span, most)
    lead = step / 10 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(lead - each) for each in (1, 2, 5)) < 1e-6
    assert span / step <= most * (1 + 1e-6)
    assert span / (step / 2.5) > most * (1 - 1e-6)


def test_ticks_count_both_ends_and_are_exact() -> None:
    assert ticks(0.0, 0.6, 0.2) == (0.0, 0.2, 0.4, 0.6)
    assert ticks(-20.0, 20.0, 10.0) == (-20.0, -10.0, 0.0, 10.0, 20.0)


def test_a_label_has_the_decimals_of_its_step() -> None:
    assert tick_label(1500.0, 500.0) == "1,500"
    assert tick_label(0.5, 0.05) == "0.50"
    assert tick_label(-0.0, 0.1) == "0.0"


def test_scales_follow_the_definitions() -> None:
    assert Quantity.PULL.scale("us").shown(2000.0) == 1.0
    assert Quantity.PULL.scale("si").shown(1000.0) == pytest.approx(4.4482216152605, rel=1e-15)
    assert Quantity.FORCE.scale("si").shown(1000.0) == pytest.approx(4.4482216152605, rel=1e-15)
    assert Quantity.LENGTH.scale("si").shown(1.0) == 25.4
    assert Quantity.RATE.scale("si").shown(1000.0) == pytest.approx(175.12683524647638, rel=1e-15)


def test_a_figure_rounded_down_keeps_what_it_holds() -> None:
    assert floored(12.3, 1) == "12.3"
    assert floored(12.399, 1) == "12.3"
    assert floored(-0.01, 1) == "-0.1"


@given(st.integers(0, 20_000), st.integers(2, 9))
def test_dates_lie_within_their_span_and_have_room(days: int, most: int) -> None:
    start = datetime(2020, 2, 29, 15, tzinfo=UTC)
    end = start + timedelta(days=days + 1)
    marks = date_marks(start, end, most, most)
    assert all(start <= at <= end for at, _ in marks)
    assert len(marks) <= most + 1
    assert len({words for _, words in marks}) == len(marks)
