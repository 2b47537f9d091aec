"""The share of a lot's pads still sound against hours worked, with its band and a Weibull law."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from ratings.drawing.axes import Axis, Graph, axis_over, steps_across
from ratings.drawing.labels import Entry, Stroke, draw_legend, legend_height
from ratings.drawing.surface import Ink, Point, Surface, text_width

_FOOT = 42.0
_UP = Axis(0.0, 100.0, 20.0)


@dataclass(frozen=True)
class SurvivalFigures:
    """Points are (hours, share still sound, %); low and high the band's ends at the same hours.

    holds: whether a share holds until the next point, rather than falling somewhere before it.
    """

    along: str
    line: tuple[Point, ...]
    low: tuple[Point, ...]
    high: tuple[Point, ...]
    law: tuple[Point, ...] = ()
    holds: bool = False


def draw_survival(surface: Surface, figures: SurvivalFigures, width: float, height: float) -> None:
    """Draw the line in its band, and the law beside it where there is one.

    Between two points the band is as wide as what both allow.
    """
    entries = [Entry(Stroke.LINE, Ink.ACCENT, "as found"), Entry(Stroke.BAND, Ink.GRID, "its band")]
    if figures.law:
        entries.append(Entry(Stroke.DASHED, Ink.INK, "Weibull"))
    draw_legend(surface, entries, width)
    top, bottom = legend_height(entries, width) + 28, height - _FOOT
    left = max(text_width(label, 11.0) for _, label in _UP.marks()) + 12
    graph = Graph(left, top, width - 12, bottom, _UP)
    hours = [at for points in (figures.line, figures.law) for at, _ in points]
    across = axis_over(hours, min(10, steps_across(graph.width, "00,000")))

    def at(point: Point) -> Point:
        return graph.place(across.share(point[0]), point[1])

    upper, lower = _until_the_next(figures.high), _until_the_next(figures.low)
    if not figures.holds:
        lower = _from_the_last(figures.low)
    edges = [at(each) for each in (*lower, *reversed(upper))]
    surface.polygon(edges, Ink.BAND, True)
    surface.polygon(edges, Ink.GRID, False)
    graph.draw_upright_axis(surface, "pads still sound, %")
    graph.draw_level_axis(surface, across.marks(), figures.along)
    line = _until_the_next(figures.line) if figures.holds else list(figures.line)
    surface.polyline([at(each) for each in line], Ink.ACCENT, 2.4)
    if len(figures.law) > 1:
        surface.polyline([at(each) for each in figures.law], Ink.INK, 1.4, True)


def _until_the_next(points: Sequence[Point]) -> list[Point]:
    """Return the corners of steps that hold each share until the next."""
    corners = list(points[:1])
    for (_, before), (hours, share) in itertools.pairwise(points):
        corners += [(hours, before), (hours, share)]
    return corners


def _from_the_last(points: Sequence[Point]) -> list[Point]:
    """Return the corners of steps that fall to each share right after the one before."""
    corners = list(points[:1])
    for (earlier, _), (hours, share) in itertools.pairwise(points):
        corners += [(earlier, share), (hours, share)]
    return corners
