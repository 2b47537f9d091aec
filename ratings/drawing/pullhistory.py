"""Line pull over time: each figure holds until the next one, as in the ledger."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from fleet.units import Quantity, Scale
from ratings.drawing.axes import (
    Axis,
    Frame,
    axis_over,
    date_marks,
    draw_level_marks,
    draw_upright_axis,
    figures_width,
    steps_across,
    steps_up,
)
from ratings.drawing.labels import Entry, Stroke, draw_legend, legend_height
from ratings.drawing.surface import Ink, Point, Surface

_FEW = 40
_SHORTEST = timedelta(days=1)


@dataclass(frozen=True)
class HistoryPoint:
    """The figures of one ledger entry; None where there was none."""

    at: datetime
    pull_lbf: float | None
    working_capacity_lbf: float | None
    listed_lbf: float | None


@dataclass(frozen=True)
class _Graph:
    frame: Frame
    up: Axis
    scale: Scale
    start: datetime
    end: datetime

    def share(self, at: datetime) -> float:
        return min(max((at - self.start) / (self.end - self.start), 0.0), 1.0)

    def at(self, at: datetime, pull_lbf: float) -> Point:
        share = self.up.share(self.scale.shown(pull_lbf))
        return self.frame.x(self.share(at)), self.frame.y(share)


_SERIES: tuple[tuple[Entry, Callable[[HistoryPoint], float | None]], ...] = (
    (Entry(Stroke.LINE, Ink.ACCENT, "line pull"), lambda point: point.pull_lbf),
    (
        Entry(Stroke.THIN, Ink.INK, "working capacity"),
        lambda point: point.working_capacity_lbf,
    ),
    (Entry(Stroke.DASHED, Ink.INK, "listed"), lambda point: point.listed_lbf),
)


def draw_pull_history(
    surface: Surface,
    points: Sequence[HistoryPoint],
    width: float,
    height: float,
    until: datetime,
    units: str = "us",
) -> None:
    """Draw pull, working capacity and listing as steps from the first entry to `until`."""
    entries = [entry for entry, _ in _SERIES]
    in_order = sorted(points, key=lambda point: point.at)
    top = legend_height(entries, width) + 28
    graph = _graph(in_order, width, height, top, until, Quantity.PULL.scale(units))
    draw_legend(surface, entries, width)
    title = "US tons" if units == "us" else graph.scale.symbol
    draw_upright_axis(surface, graph.frame, graph.up, f"line pull, {title}")
    _draw_dates(surface, graph)
    for entry, figure in reversed(_SERIES):
        for steps in _runs(in_order, figure, until):
            _draw_steps(surface, graph, entry, steps)
    _draw_entries(surface, graph, in_order)


def _graph(
    points: Sequence[HistoryPoint],
    width: float,
    height: float,
    top: float,
    until: datetime,
    scale: Scale,
) -> _Graph:
    pulls = [figure(point) for _, figure in _SERIES for point in points]
    known = [scale.shown(pull) for pull in pulls if pull is not None]
    up = axis_over(known, steps_up(height - top - 26))
    end = max(until, points[-1].at) if points else until
    start = min(points[0].at if points else end, end - _SHORTEST)
    frame = Frame(figures_width(up) + 12, top, width - 12, height - 26)
    return _Graph(frame, up, scale, start, end)


def _draw_dates(surface: Surface, graph: _Graph) -> None:
    width = graph.frame.right - graph.frame.left
    most_days, most_months = steps_across(width, "30 May 2000"), steps_across(width, "May 2000")
    marks = date_marks(graph.start, graph.end, most_days, most_months)
    draw_level_marks(surface, graph.frame, [(graph.share(at), words) for at, words in marks])


def _runs(
    points: Sequence[HistoryPoint],
    figure: Callable[[HistoryPoint], float | None],
    until: datetime,
) -> Iterator[list[tuple[datetime, float]]]:
    """Yield the corners of each unbroken run of steps."""
    ends = [*(point.at for point in points[1:]), until]
    run: list[tuple[datetime, float]] = []
    for point, end in zip(points, ends, strict=False):
        pull = figure(point)
        if pull is not None:
            run += [(point.at, pull), (max(point.at, end), pull)]
        elif run:
            yield run
            run = []
    if run:
        yield run


def _draw_steps(
    surface: Surface, graph: _Graph, entry: Entry, steps: list[tuple[datetime, float]]
) -> None:
    corners = [graph.at(*step) for step in steps]
    width = 2.4 if entry.stroke is Stroke.LINE else 1.2
    surface.polyline(corners, entry.ink, width, entry.stroke is Stroke.DASHED)


def _draw_entries(surface: Surface, graph: _Graph, points: Sequence[HistoryPoint]) -> None:
    # Beyond a few, the dots would hide the line they stand on.
    if len(points) > _FEW:
        return
    for point in points:
        if point.pull_lbf is not None:
            surface.circle(*graph.at(point.at, point.pull_lbf), 3.0, Ink.ACCENT)
