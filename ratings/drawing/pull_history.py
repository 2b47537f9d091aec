"""Line pull over time: each figure holds until the next one, as in the ledger."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from fleet.quantities import Quantity
from ratings.drawing.axes import date_marks, graph_below_legend, steps_across
from ratings.drawing.labels import Entry, Stroke
from ratings.drawing.surface import Ink, Surface

_FEW = 40
_SHORTEST = timedelta(days=1)


@dataclass(frozen=True)
class HistoryPoint:
    """The figures of one ledger entry; None where there was none."""

    at: datetime
    pull_lbf: float | None
    working_capacity_lbf: float | None
    listed_lbf: float | None


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
    in_order = sorted(points, key=lambda point: point.at)
    pulls = [figure(point) for _, figure in _SERIES for point in in_order]
    known = [pull for pull in pulls if pull is not None]
    scale, entries = Quantity.PULL.scale(units), [entry for entry, _ in _SERIES]
    graph = graph_below_legend(surface, entries, (width, height), 26, scale, known)
    end = max(until, in_order[-1].at) if in_order else until
    start = min(in_order[0].at if in_order else end, end - _SHORTEST)

    def share(at: datetime) -> float:
        return min(max((at - start) / (end - start), 0.0), 1.0)

    graph.draw_upright_axis(surface, f"line pull, {'US tons' if units == 'us' else scale.symbol}")
    room = [steps_across(graph.width, widest) for widest in ("30 May 2000", "May 2000")]
    graph.draw_level_axis(
        surface, [(share(at), words) for at, words in date_marks(start, end, *room)]
    )
    for entry, figure in reversed(_SERIES):
        stroke = 2.4 if entry.stroke is Stroke.LINE else 1.2
        for run in _runs(in_order, figure, until):
            corners = [graph.at(share(at), pull_lbf) for at, pull_lbf in run]
            surface.polyline(corners, entry.ink, stroke, entry.stroke is Stroke.DASHED)
    # Beyond a few, the dots would hide the line they stand on.
    if len(in_order) <= _FEW:
        for point in in_order:
            if point.pull_lbf is not None:
                surface.circle(*graph.at(share(point.at), point.pull_lbf), 3.0, Ink.ACCENT)


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
