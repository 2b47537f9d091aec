"""The rates of a lot's pads against years or hours: each pad, the line, its band, the limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.quantities import Quantity
from ratings.drawing.axes import (
    Axis,
    Graph,
    axis_over,
    nice_step,
    step_down,
    step_up,
    steps_across,
)
from ratings.drawing.labels import Entry, Stroke, draw_legend, legend_height
from ratings.drawing.surface import Ink, Point, Surface, text_width

_FOOT = 42.0
_ROW = 34.0
_HEADROOM = 0.06


@dataclass(frozen=True)
class TrendFigures:
    """Points are (years or hours, rate lbf/in).

    new: pads not from service. drawn: pads from service. line, low, high: along the same places.
    limit_lbf_in: the rate at which the lot should be rated anew. along: what the level axis is.
    """

    along: str
    new: tuple[Point, ...] = ()
    drawn: tuple[Point, ...] = ()
    line: tuple[Point, ...] = ()
    low: tuple[Point, ...] = ()
    high: tuple[Point, ...] = ()
    limit_lbf_in: float | None = None
    limit_words: str = ""
    units: str = "us"

    @property
    def rates(self) -> list[float]:
        """Every rate drawn."""
        sets = (self.new, self.drawn, self.line, self.low, self.high)
        found = [rate for points in sets for _, rate in points]
        return found if self.limit_lbf_in is None else [*found, self.limit_lbf_in]


def draw_trend(surface: Surface, figures: TrendFigures, width: float, height: float) -> None:
    """Draw the pads, the line through them with its band, and the limit it may come down to.

    The upright axis begins near the least rate and not at nothing: a tenth less must be seen.
    """
    scale = Quantity.RATE.scale(figures.units)
    entries = _legend(figures)
    draw_legend(surface, entries, width)
    top, bottom = legend_height(entries, width) + 28, height - _FOOT
    up = _axis_around([scale.shown(each) for each in figures.rates], int((bottom - top) / _ROW))
    left = max(text_width(label, 11.0) for _, label in up.marks()) + 12
    graph = Graph(left, top, width - 12, bottom, up, scale)
    ats = [at for points in (figures.new, figures.drawn, figures.line) for at, _ in points]
    across = axis_over(ats, min(10, steps_across(graph.width, "00,000")))

    def at(point: Point) -> Point:
        return graph.at(across.share(point[0]), point[1])

    if figures.low and figures.high:
        edges = [at(each) for each in (*figures.low, *reversed(figures.high))]
        surface.polygon(edges, Ink.BAND, True)
        surface.polygon(edges, Ink.GRID, False)
    graph.draw_upright_axis(surface, f"rate of a pad, {scale.symbol}")
    graph.draw_level_axis(surface, across.marks(), figures.along)
    if figures.limit_lbf_in is not None:
        level = at((across.low, figures.limit_lbf_in))[1]
        surface.line(graph.left, level, graph.right, level, Ink.WARN, 1.4, dashed=True)
    if len(figures.line) > 1:
        surface.polyline([at(each) for each in figures.line], Ink.ACCENT, 2.4)
    for each in figures.new:
        surface.circle(*at(each), 4.0, Ink.INK, False)
    for each in figures.drawn:
        surface.circle(*at(each), 3.5, Ink.INK)


def _axis_around(values: Sequence[float], most_steps: int) -> Axis:
    low, high = min(values, default=0.0), max(values, default=1.0)
    span = max(high - low, 0.05 * abs(high), 1e-3)
    step = nice_step(span * (1 + 2 * _HEADROOM), max(2, most_steps))
    return Axis(
        step_down(low - _HEADROOM * span, step), step_up(high + _HEADROOM * span, step), step
    )


def _legend(figures: TrendFigures) -> list[Entry]:
    entries = []
    if figures.drawn:
        entries.append(Entry(Stroke.DOT, Ink.INK, "from service"))
    if figures.new:
        entries.append(Entry(Stroke.RING, Ink.INK, "not from service"))
    if figures.line:
        entries.append(Entry(Stroke.LINE, Ink.ACCENT, "trend"))
    if figures.low:
        entries.append(Entry(Stroke.BAND, Ink.GRID, "its band"))
    if figures.limit_lbf_in is not None:
        limit = Quantity.RATE.words(figures.limit_lbf_in, figures.units)
        entries.append(Entry(Stroke.DASHED, Ink.WARN, f"{figures.limit_words}, {limit}"))
    return entries
