"""How far what came lay from what was promised: a row of dots for each thing, mean and band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ratings.drawing.axes import TICK_SIZE, Axis, nice_step, step_down, step_up, steps_across
from ratings.drawing.labels import Entry, Stroke, draw_legend, legend_height
from ratings.drawing.surface import Ink, Surface, text_width

_ROW, _FOOT, _GAP = 34.0, 40.0, 18.0
_LEAST_SPAN = 2.0
_LEGEND = [
    Entry(Stroke.DOT, Ink.ACCENT, "one unit"),
    Entry(Stroke.BAND, Ink.BAND, "where the true mean lies, 95 %"),
    Entry(Stroke.THIN, Ink.INK, "mean"),
]


@dataclass(frozen=True)
class DeviationRow:
    """Deviations of one thing that was promised, and the mean with its band; None of too few."""

    name: str
    values: tuple[float, ...]
    mean: float | None = None
    low: float | None = None
    high: float | None = None


def height_of(groups: Sequence[tuple[str, Sequence[DeviationRow]]], width: float) -> float:
    """Return how high a drawing of some groups of rows is, each on an axis of its own."""
    rows = sum(len(each) for _, each in groups)
    return legend_height(_LEGEND, width) + _GAP + rows * _ROW + len(groups) * _FOOT


def draw_deviations(
    surface: Surface, groups: Sequence[tuple[str, Sequence[DeviationRow]]], width: float
) -> None:
    """Draw rows in groups; those of a group share an axis, whose title the group has."""
    draw_legend(surface, _LEGEND, width)
    top = legend_height(_LEGEND, width) + _GAP
    names = [row.name for _, rows in groups for row in rows]
    left = max((text_width(name, TICK_SIZE) for name in names), default=0.0) + 14
    for title, rows in groups:
        _group(surface, title, rows, (left, top, width - 14))
        top += len(rows) * _ROW + _FOOT


def _group(
    surface: Surface, title: str, rows: Sequence[DeviationRow], place: tuple[float, float, float]
) -> None:
    left, top, right = place
    bottom = top + len(rows) * _ROW
    axis = _axis(rows, steps_across(right - left, "−100"))

    def x(value: float) -> float:
        return left + axis.share(value) * (right - left)

    for share, label in axis.marks():
        across = left + share * (right - left)
        surface.line(across, top, across, bottom, Ink.GRID, 1.0)
        surface.text(across, bottom + 14, label, Ink.FAINT, TICK_SIZE, "middle")
    surface.line(x(0.0), top, x(0.0), bottom, Ink.INK, 1.0, True)
    surface.text(right, bottom + 28, title, Ink.INK, TICK_SIZE, "end")
    for number, row in enumerate(rows):
        middle = top + (number + 0.5) * _ROW
        surface.text(left - 8, middle + 4, row.name, Ink.INK, TICK_SIZE, "end")
        if row.low is not None and row.high is not None and row.mean is not None:
            low, high = x(row.low), x(row.high)
            surface.rect(low, middle - 10, max(1.0, high - low), 20, Ink.BAND)
            surface.line(x(row.mean), middle - 12, x(row.mean), middle + 12, Ink.INK, 1.6)
        for value in row.values:
            surface.circle(x(value), middle, 3.5, Ink.ACCENT)


def _axis(rows: Sequence[DeviationRow], most_steps: int) -> Axis:
    """Return an axis that holds nothing, every dot and every band."""
    ends = [0.0]
    for row in rows:
        ends += [*row.values, *(each for each in (row.low, row.high) if each is not None)]
    low, high = min(ends), max(ends)
    room = max(0.06 * (high - low), (_LEAST_SPAN - (high - low)) / 2, 0.0)
    step = nice_step(high - low + 2 * room, most_steps)
    return Axis(step_down(low - room, step), step_up(high + room, step), step)
