"""Tons ready over time: a line for each yard, named at its end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import count

from fleet.quantities import Quantity
from ratings.drawing.axes import TICK_SIZE, Graph, axis_over, date_marks, steps_across
from ratings.drawing.labels import Taken, shortened, text_box
from ratings.drawing.surface import Ink, Point, Surface, text_width

_TOP = 30.0
_FOOT = 26.0
_ROW = 34.0
_MOST_NAME = 110.0
# A line is told from another by its name and, the first of them, by how it is drawn.
_INKS = ((Ink.ACCENT, False), (Ink.INK, False), (Ink.ACCENT, True), (Ink.INK, True))


@dataclass(frozen=True)
class ReadyLine:
    """The working capacity ready in one yard, lbf, at the end of some days, the first first."""

    name: str
    ready: tuple[tuple[datetime, float], ...]


def draw_ready_trend(
    surface: Surface, lines: Sequence[ReadyLine], width: float, height: float, units: str = "us"
) -> None:
    """Draw every line over the same days; at least one line with two days."""
    scale = Quantity.PULL.scale(units)
    names = [shortened(line.name, TICK_SIZE, _MOST_NAME) for line in lines]
    forces = [force_lbf for line in lines for _, force_lbf in line.ready]
    bottom = height - _FOOT
    up = axis_over([scale.shown(each) for each in forces], max(2, int((bottom - _TOP) / _ROW)))
    left = max(text_width(label, TICK_SIZE) for _, label in up.marks()) + 12
    room = max(text_width(name, TICK_SIZE) for name in names) + 14
    graph = Graph(left, _TOP, width - room, bottom, up, scale)
    days = sorted({day for line in lines for day, _ in line.ready})
    start, end = days[0], days[-1]

    def at(day: datetime, force_lbf: float) -> Point:
        return graph.at((day - start) / (end - start), force_lbf)

    graph.draw_upright_axis(surface, f"ready, {'US tons' if units == 'us' else scale.symbol}")
    most = [steps_across(graph.width, widest) for widest in ("30 May 2000", "May 2000")]
    marks = date_marks(start, end, *most)
    graph.draw_level_axis(surface, [((day - start) / (end - start), words) for day, words in marks])
    taken = Taken()
    for place, (line, name) in enumerate(zip(lines, names, strict=True)):
        ink, dashed = _INKS[place % len(_INKS)]
        points = [at(day, force_lbf) for day, force_lbf in line.ready]
        surface.polyline(points, ink, 2.0 if ink is Ink.ACCENT else 1.3, dashed)
        x, y = points[-1]
        # Yards with as much ready end at one place: their names stand above each other, and none
        # below the graph, where other words begin.
        baseline = next(
            each
            for each in _baselines(y + 4, bottom + 4)
            if taken.take(text_box(x + 8, each, name, TICK_SIZE))
        )
        surface.text(x + 8, baseline, name, ink, TICK_SIZE)


def _baselines(first: float, lowest: float) -> Iterator[float]:
    """Yield where a name may stand: at its line, and then ever farther from it."""
    yield first
    for steps in count(1):
        for baseline in (first + steps * TICK_SIZE, first - steps * TICK_SIZE):
            if baseline <= lowest:
                yield baseline
