"""The control chart of a stand: what a reference piece came to, check by check, and its limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from fleet.quantities import Quantity
from ratings.drawing.axes import Axis, Graph, nice_step, step_down, step_up
from ratings.drawing.labels import Entry, Stroke, draw_legend, legend_height
from ratings.drawing.surface import Ink, Point, Surface, text_width

_FOOT, _ROW, _SQUARE = 26.0, 34.0, 9.0


@dataclass(frozen=True)
class ChartPoint:
    """A check: when, the rate found, lbf/in, and the limits it is held to, where there are any."""

    at: datetime
    rate_lbf_in: float
    is_out: bool
    centre: float | None = None
    lower: float | None = None
    upper: float | None = None


_LEGEND = [
    Entry(Stroke.DOT, Ink.ACCENT, "check"),
    Entry(Stroke.BAND, Ink.WARN, "check out of its limits"),
    Entry(Stroke.THIN, Ink.INK, "centre line"),
    Entry(Stroke.DASHED, Ink.INK, "limits"),
]


def draw_control_chart(
    surface: Surface, points: Sequence[ChartPoint], width: float, height: float, units: str = "us"
) -> None:
    """Draw the checks in the order made, evenly apart, with the limits that held at each."""
    scale = Quantity.RATE.scale(units)
    draw_legend(surface, _LEGEND, width)
    top, bottom = legend_height(_LEGEND, width) + 28, height - _FOOT
    up = _axis([scale.shown(each) for each in _values(points)], int((bottom - top) / _ROW))
    left = max(text_width(label, 11.0) for _, label in up.marks()) + 12
    graph = Graph(left, top, width - 12, bottom, up, scale)
    graph.draw_upright_axis(surface, f"rate of the piece, {scale.symbol}")
    graph.draw_level_axis(
        surface,
        [(_share(place, points), f"{each.at:%-d %b %Y}") for place, each in _ends(points)],
    )

    def at(place: int, rate_lbf_in: float) -> Point:
        return graph.at(_share(place, points), rate_lbf_in)

    for name, dashed in (("centre", False), ("lower", True), ("upper", True)):
        values = [(place, getattr(each, name)) for place, each in enumerate(points)]
        corners = [at(place, value) for place, value in values if value is not None]
        if len(corners) > 1:
            surface.polyline(corners, Ink.INK, 1.2, dashed)
    for place, each in enumerate(points):
        x, y = at(place, each.rate_lbf_in)
        if each.is_out:
            surface.rect(x - _SQUARE / 2, y - _SQUARE / 2, _SQUARE, _SQUARE, Ink.WARN)
        else:
            surface.circle(x, y, 3.5, Ink.ACCENT)


def _values(points: Sequence[ChartPoint]) -> list[float]:
    found = [each.rate_lbf_in for each in points]
    return found + [
        limit for each in points for limit in (each.lower, each.upper) if limit is not None
    ]


def _axis(values: Sequence[float], most_steps: int) -> Axis:
    """Return an axis from a little below the least to a little above the greatest."""
    low, high = min(values, default=0.0), max(values, default=1.0)
    room = 0.08 * (high - low) or max(0.01 * abs(high), 0.5)
    step = nice_step(high - low + 2 * room, max(2, most_steps))
    return Axis(step_down(low - room, step), step_up(high + room, step), step)


def _share(place: int, points: Sequence[ChartPoint]) -> float:
    return (place + 0.5) / len(points)


def _ends(points: Sequence[ChartPoint]) -> list[tuple[int, ChartPoint]]:
    """Return the first, the last and the middle check, whose days stand below."""
    places = sorted({0, len(points) // 2, len(points) - 1}) if points else []
    return [(place, points[place]) for place in places]
