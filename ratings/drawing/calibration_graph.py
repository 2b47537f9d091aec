"""How often what was forecast came, against the chance that was given for it."""

from __future__ import annotations

from dataclasses import dataclass

from ratings.drawing.axes import Axis, Graph
from ratings.drawing.labels import Entry, Stroke, draw_legend, legend_height
from ratings.drawing.surface import Ink, Surface, text_width

_FOOT = 42.0
_PERCENT = Axis(0.0, 100.0, 20.0)


@dataclass(frozen=True)
class CalibrationPoint:
    """Forecasts of about one chance, %: how many, the chance, how often it came, its band."""

    many: int
    predicted_pct: float
    came_pct: float
    low_pct: float
    high_pct: float


def draw_calibration(
    surface: Surface, points: tuple[CalibrationPoint, ...], width: float, height: float
) -> None:
    """Draw each point with its band and how many it stands for, and where good ones would lie."""
    entries = [
        Entry(Stroke.DOT, Ink.ACCENT, "as it came, of so many forecasts"),
        Entry(Stroke.LINE, Ink.FAINT, "its band, 90 %"),
        Entry(Stroke.DASHED, Ink.INK, "as forecast"),
    ]
    draw_legend(surface, entries, width)
    top = legend_height(entries, width) + 28
    left = max(text_width(label, 11.0) for _, label in _PERCENT.marks()) + 12
    graph = Graph(left, top, width - 12, height - _FOOT, _PERCENT)
    graph.draw_upright_axis(surface, "fell short, % of them")
    graph.draw_level_axis(surface, _PERCENT.marks(), "chance forecast to fall short, %")
    ends = [graph.place(0.0, 0.0), graph.place(1.0, 100.0)]
    surface.polyline(ends, Ink.INK, 1.4, dashed=True)
    for each in points:
        across = _PERCENT.share(each.predicted_pct)
        (x, y), (_, low), (_, high) = (
            graph.place(across, value) for value in (each.came_pct, each.low_pct, each.high_pct)
        )
        surface.line(x, low, x, high, Ink.FAINT, 2.0)
        for end in (low, high):
            surface.line(x - 4, end, x + 4, end, Ink.FAINT, 2.0)
        surface.circle(x, y, 4.0, Ink.ACCENT)
        words = str(each.many)
        is_near_right = x + 10 + text_width(words, 11.0) > graph.right
        surface.text(
            x - 8 if is_near_right else x + 8,
            y - 6 if y - 16 > graph.top else y + 14,
            words,
            Ink.INK,
            11.0,
            "end" if is_near_right else "start",
        )
