from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ratings.drawing.load_graph import LoadGraphFigures, draw_load_graph
from ratings.drawing.pull_history import HistoryPoint, draw_pull_history
from ratings.drawing.surface import Ink

AT = datetime(2024, 5, 1, 9, tzinfo=UTC)
SIZES = st.sampled_from([(720.0, 320.0), (360.0, 280.0), (540.0, 190.0)])
FORCES = st.floats(-100.0, 60_000.0)


@pytest.mark.parametrize("count", [0, 1, 12])
def test_each_reading_is_a_dot(recording: Any, count: int) -> None:
    points = tuple((0.5 * n, 500.0 * n) for n in range(count))
    draw_load_graph(recording, LoadGraphFigures(points, 1000.0, 6.0), 720.0, 320.0)
    legend_dot = 1
    assert len(recording.of("circle")) == count + legend_dot


def test_a_reading_on_the_fitted_line_lies_on_it(recording: Any) -> None:
    figures = LoadGraphFigures(((3.0, 3000.0),), 1000.0, 6.0)
    draw_load_graph(recording, figures, 720.0, 320.0)
    (fitted,) = recording.of("polyline", ink=Ink.ACCENT)
    (x0, y0), (x1, y1) = fitted["points"]
    reading = recording.of("circle")[-1]["points"][0]
    assert reading == pytest.approx(((x0 + x1) / 2, (y0 + y1) / 2))


def test_the_fitted_line_ends_at_the_tested_stretch(recording: Any) -> None:
    figures = LoadGraphFigures(((8.0, 8000.0),), 1000.0, 4.0)
    draw_load_graph(recording, figures, 720.0, 320.0)
    (fitted,) = recording.of("polyline", ink=Ink.ACCENT)
    (limit,) = (
        e for e in recording.of("line", dashed=True) if e["points"][0][0] == e["points"][1][0]
    )
    assert fitted["points"][-1][0] == limit["points"][0][0]
    assert fitted["points"][-1][0] < recording.of("circle")[-1]["points"][0][0]


def test_the_legend_names_what_is_drawn_and_nothing_else(new_recording: Any) -> None:
    plain, full = new_recording(), new_recording()
    points = ((1.0, 1000.0),)
    draw_load_graph(plain, LoadGraphFigures(points, 1000.0, 6.0), 720.0, 320.0)
    curve = ((0.0, 0.0), (6.0, 6100.0))
    whole = LoadGraphFigures(points, 1000.0, 6.0, curve, 250.0)
    draw_load_graph(full, whole, 720.0, 320.0)
    extra = {"load curve", "linear within ± 250 lbf"}
    assert extra <= set(full.words())
    assert not extra & set(plain.words())
    assert {"readings", "fitted line, 1,000 lbf/in", "tested stretch 6 in"} <= set(plain.words())


def test_axes_name_their_units(new_recording: Any) -> None:
    for units, titles in (
        ("us", {"force of one pad, lbf", "stretch, in"}),
        ("si", {"force of one pad, kN", "stretch, mm"}),
    ):
        recording = new_recording()
        figures = LoadGraphFigures(((1.0, 1000.0),), 1000.0, 6.0, units=units)
        draw_load_graph(recording, figures, 360.0, 280.0)
        assert titles <= set(recording.words())


@settings(max_examples=150, deadline=None)
@given(
    points=st.lists(st.tuples(st.floats(-0.1, 30.0), FORCES), max_size=30),
    rate=st.one_of(st.none(), st.floats(1.0, 5000.0)),
    tested=st.one_of(st.none(), st.floats(0.0, 30.0)),
    band=st.one_of(st.none(), st.floats(0.0, 5000.0)),
    units=st.sampled_from(["us", "si"]),
    size=SIZES,
)
def test_load_graph_labels_never_meet_nor_leave(
    new_recording: Any,
    points: list[tuple[float, float]],
    rate: float | None,
    tested: float | None,
    band: float | None,
    units: str,
    size: tuple[float, float],
) -> None:
    recording = new_recording()
    figures = LoadGraphFigures(tuple(points), rate, tested, tuple(points[:2]), band, units)
    draw_load_graph(recording, figures, *size)
    assert recording.overlapping() == []
    assert recording.outside(*size) == []


def test_a_pull_holds_until_the_next_entry(recording: Any) -> None:
    points = [
        HistoryPoint(AT, 100_000.0, None, None),
        HistoryPoint(AT + timedelta(days=30), 80_000.0, None, None),
    ]
    until = AT + timedelta(days=90)
    draw_pull_history(recording, points, 720.0, 320.0, until)
    (pull,) = recording.of("polyline", ink=Ink.ACCENT)
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = pull["points"]
    assert (y0, y2) == (y1, y3)
    assert y0 < y2
    assert x1 == x2
    assert (x1 - x0) / (x3 - x0) == pytest.approx(1 / 3)


def test_a_missing_pull_breaks_the_line(recording: Any) -> None:
    pulls = [100_000.0, None, 90_000.0]
    points = [
        HistoryPoint(AT + timedelta(days=10 * n), pull, None, None) for n, pull in enumerate(pulls)
    ]
    draw_pull_history(recording, points, 720.0, 320.0, AT + timedelta(days=40))
    first, second = recording.of("polyline", ink=Ink.ACCENT)
    assert first["points"][-1][0] < second["points"][0][0]


def test_a_single_entry_is_seen_even_at_its_own_moment(recording: Any) -> None:
    draw_pull_history(recording, [HistoryPoint(AT, 9e4, 8e4, None)], 360.0, 280.0, until=AT)
    assert len(recording.of("circle", ink=Ink.ACCENT)) == 1


def test_the_listing_is_told_apart_by_its_dashes(recording: Any) -> None:
    points = [HistoryPoint(AT, 9e4, 8e4, 1e5)]
    draw_pull_history(recording, points, 720.0, 320.0, AT + timedelta(days=9))
    dashes = [each["dashed"] for each in recording.of("polyline")]
    assert sorted(dashes) == [False, False, True]
    assert {"line pull", "working capacity", "listed"} <= set(recording.words())


maybe = st.one_of(st.none(), st.floats(-5e4, 1e6))


@settings(max_examples=100, deadline=None)
@given(
    entries=st.lists(st.tuples(st.integers(0, 4000), maybe, maybe, maybe), max_size=60),
    hours=st.integers(1, 24 * 30),
    after=st.integers(0, 4000),
    size=SIZES,
)
def test_history_labels_never_meet_nor_leave(
    new_recording: Any,
    entries: list[tuple[int, float | None, float | None, float | None]],
    hours: int,
    after: int,
    size: tuple[float, float],
) -> None:
    points = [HistoryPoint(AT + timedelta(hours=hours * n), *rest) for n, *rest in entries]
    recording = new_recording()
    draw_pull_history(recording, points, *size, until=AT + timedelta(hours=after))
    assert recording.overlapping() == []
    assert recording.outside(*size) == []
