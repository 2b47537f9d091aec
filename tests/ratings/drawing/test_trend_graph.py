from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ratings.drawing.surface import Ink
from ratings.drawing.trend_graph import TrendFigures, draw_trend

LINE = ((0.0, 1000.0), (2.0, 960.0), (4.0, 920.0))
PLAIN = TrendFigures(
    along="age, years",
    new=((0.0, 1000.0), (0.0, 990.0)),
    drawn=((2.0, 965.0),),
    line=LINE,
    low=tuple((at, rate - 10) for at, rate in LINE),
    high=tuple((at, rate + 10) for at, rate in LINE),
    limit_lbf_in=900.0,
    limit_words="10 % below its rate",
)


def test_each_pad_is_a_dot_or_a_ring(recording: Any) -> None:
    draw_trend(recording, PLAIN, 720.0, 320.0)
    legend = 1
    assert len(recording.of("circle", filled=True)) == 1 + legend
    assert len(recording.of("circle", filled=False)) == 2 + legend


def test_a_pad_on_the_line_lies_on_it(recording: Any) -> None:
    figures = TrendFigures(along="hours", drawn=((2.0, 960.0),), line=LINE)
    draw_trend(recording, figures, 720.0, 320.0)
    (line,) = recording.of("polyline", ink=Ink.ACCENT)
    pad = recording.of("circle")[-1]["points"][0]
    assert pad == pytest.approx(line["points"][1])


def test_the_line_meets_the_limit_where_it_has_fallen_to_it(recording: Any) -> None:
    figures = TrendFigures(along="hours", line=LINE, limit_lbf_in=920.0, limit_words="limit")
    draw_trend(recording, figures, 720.0, 320.0)
    (line,) = recording.of("polyline", ink=Ink.ACCENT)
    limit = recording.of("line", ink=Ink.WARN, dashed=True)[-1]["points"][0]
    assert line["points"][-1][1] == pytest.approx(limit[1])


def test_the_band_lies_either_side_of_the_line(recording: Any) -> None:
    draw_trend(recording, PLAIN, 720.0, 320.0)
    (line,) = recording.of("polyline", ink=Ink.ACCENT)
    band = recording.of("polygon", filled=True)[0]["points"]
    for at, low, high in zip(line["points"], band[:3], band[:2:-1], strict=True):
        assert low[0] == pytest.approx(at[0])
        assert high[0] == pytest.approx(at[0])
        assert low[1] > at[1] > high[1]


def test_the_upright_axis_begins_near_the_least_rate(recording: Any) -> None:
    """A tenth less must take a good part of the height."""
    draw_trend(recording, PLAIN, 720.0, 320.0)
    (line,) = recording.of("polyline", ink=Ink.ACCENT)
    assert line["points"][-1][1] - line["points"][0][1] > 320 / 4


def test_the_legend_names_what_is_drawn_and_nothing_else(new_recording: Any) -> None:
    full, bare = new_recording(), new_recording()
    draw_trend(full, PLAIN, 720.0, 320.0)
    draw_trend(bare, TrendFigures(along="age, years", drawn=PLAIN.drawn), 720.0, 320.0)
    extra = {"not from service", "trend", "its band", "10 % below its rate, 900 lbf/in"}
    assert extra | {"from service"} <= set(full.words())
    assert not extra & set(bare.words())


def test_axes_name_their_units(new_recording: Any) -> None:
    for units, title in (("us", "rate of a pad, lbf/in"), ("si", "rate of a pad, N/mm")):
        recording = new_recording()
        draw_trend(recording, TrendFigures(along="hours", line=LINE, units=units), 360.0, 280.0)
        assert {title, "hours"} <= set(recording.words())


RATES = st.floats(0.5, 60_000.0)
POINTS = st.lists(st.tuples(st.floats(0.0, 60_000.0), RATES), max_size=12).map(tuple)


@settings(max_examples=150, deadline=None)
@given(
    new=POINTS,
    drawn=POINTS,
    line=POINTS,
    limit=st.one_of(st.none(), RATES),
    units=st.sampled_from(["us", "si"]),
    size=st.sampled_from([(720.0, 320.0), (360.0, 280.0)]),
)
def test_labels_never_meet_nor_leave(
    new_recording: Any,
    new: Any,
    drawn: Any,
    line: Any,
    limit: float | None,
    units: str,
    size: tuple[float, float],
) -> None:
    recording = new_recording()
    figures = TrendFigures(
        along="age of the lot, years",
        new=new,
        drawn=drawn,
        line=line,
        low=tuple((at, rate / 2) for at, rate in line),
        high=tuple((at, rate * 2) for at, rate in line),
        limit_lbf_in=limit,
        limit_words="10 % below its first rate",
        units=units,
    )
    draw_trend(recording, figures, *size)
    assert recording.overlapping() == []
    assert recording.outside(*size) == []
