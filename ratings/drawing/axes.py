"""Axes: where their ticks and dates lie, and the graph between them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import takewhile

from fleet.quantities import Scale, fixed
from ratings.drawing.labels import Entry, Taken, draw_legend, legend_height, text_box
from ratings.drawing.surface import Ink, Point, Surface, text_width

# Quotients of floats miss whole numbers by a hair.
_HAIR = 1e-9


def nice_step(span: float, most: int) -> float:
    """Return the smallest step of 1, 2 or 5 ×10ⁿ that parts the span into at most so many."""
    if span <= 0 or most < 1:
        return 1.0
    rough = span / most
    exponent = math.floor(math.log10(rough))
    steps = (float(f"{lead}e{exponent + up}") for up in (0, 1) for lead in (1, 2, 5))
    return next(exact for exact in steps if exact >= rough * (1 - _HAIR))


def step_up(value: float, step: float) -> float:
    """Return the first multiple of the step at or above the value."""
    return _multiple(math.ceil(value / step - _HAIR), step)


def step_down(value: float, step: float) -> float:
    """Return the last multiple of the step at or below the value."""
    return _multiple(math.floor(value / step + _HAIR), step)


def ticks(low: float, high: float, step: float) -> tuple[float, ...]:
    """Return every multiple of the step from low to high, both ends counted."""
    first, last = math.ceil(low / step - _HAIR), math.floor(high / step + _HAIR)
    return tuple(_multiple(index, step) for index in range(first, last + 1))


def tick_label(value: float, step: float) -> str:
    """Return a tick's figure with as many decimals as its step has."""
    return fixed(value, decimals_of(step))


def decimals_of(step: float) -> int:
    """Return how many decimals a multiple of the step needs."""
    return max(0, -math.floor(math.log10(step) + _HAIR))


def _multiple(index: int, step: float) -> float:
    return round(index * step, decimals_of(step) + 2)


_DAYS = (1, 2, 7, 14)
_MONTHS = (1, 3, 6, 12, 24, 60, 120, 240, 600, 1200)


def date_marks(
    start: datetime, end: datetime, most_days: int, most_months: int
) -> list[tuple[datetime, str]]:
    """Return dates from start to end with their labels, no more than have room as such."""
    for days in _DAYS:
        if (end - start) / timedelta(days=days) <= most_days:
            return [(day, _day_words(day)) for day in _until(_days(start, days), start, end)]
    months = (end.year - start.year) * 12 + end.month - start.month
    step = next((each for each in _MONTHS if months / each <= most_months), _MONTHS[-1])
    firsts = _until(_firsts(start, step), start, end)
    return [(first, f"{first:%Y}" if step >= 12 else f"{first:%b %Y}") for first in firsts]


def _day_words(day: datetime) -> str:
    return f"{day.day} {day:%b %Y}"


def _until(dates: Iterator[datetime], start: datetime, end: datetime) -> list[datetime]:
    return [date for date in takewhile(lambda date: date <= end, dates) if date >= start]


def _days(start: datetime, step: int) -> Iterator[datetime]:
    day = _midnight(start)
    while True:
        yield day
        day += timedelta(days=step)


def _firsts(start: datetime, step: int) -> Iterator[datetime]:
    month = (start.year * 12 + start.month - 1) // step * step
    while month // 12 <= datetime.max.year:
        yield _midnight(start).replace(year=max(1, month // 12), month=month % 12 + 1, day=1)
        month += step


def _midnight(moment: datetime) -> datetime:
    return moment.replace(hour=0, minute=0, second=0, microsecond=0)


TICK_SIZE = 11.0
TITLE_SIZE = 11.5
_ROW = 34.0
_LEAST_SPAN = 1e-3


@dataclass(frozen=True)
class Axis:
    """Values from low to high, in the units shown, with a tick at every step."""

    low: float
    high: float
    step: float

    def share(self, value: float) -> float:
        """Return how far along the axis a value lies, 0 to 1."""
        return min(max((value - self.low) / (self.high - self.low), 0.0), 1.0)

    def marks(self) -> list[tuple[float, str]]:
        """Return how far along each tick lies, and its figure."""
        values = ticks(self.low, self.high, self.step)
        return [(self.share(value), tick_label(value, self.step)) for value in values]


def axis_over(values: Sequence[float], most_steps: int) -> Axis:
    """Return an axis from nothing, or from the least value below, to a step above the greatest."""
    low, high = min(0.0, *values, 0.0), max(0.0, *values, 0.0)
    if high - low < _LEAST_SPAN:
        high = low + 1.0
    step = nice_step((high - low) * 1.04, max(2, most_steps))
    return Axis(step_down(low, step), step_up(high + 0.04 * (high - low), step), step)


def steps_across(width: float, widest: str) -> int:
    """Return how many steps a level axis of this width has room for."""
    return max(2, int(width / (text_width(widest, TICK_SIZE) + 22)))


@dataclass(frozen=True)
class Graph:
    """Where a graph's two axes lie on the surface; forces, lbf, along the upright one.

    scale: None where the upright axis shows values as they are, which `place` takes.
    """

    left: float
    top: float
    right: float
    bottom: float
    up: Axis
    scale: Scale | None = None

    @property
    def width(self) -> float:
        return self.right - self.left

    def x(self, share: float) -> float:
        return self.left + share * self.width

    def at(self, share: float, force_lbf: float) -> Point:
        """Return where a force lies, at a share of the way across."""
        assert self.scale is not None
        return self.place(share, self.scale.shown(force_lbf))

    def place(self, share: float, shown: float) -> Point:
        """Return where a value of the upright axis lies, at a share of the way across."""
        return self.x(share), self._y(self.up.share(shown))

    def _y(self, share: float) -> float:
        return self.bottom - share * (self.bottom - self.top)

    def draw_upright_axis(self, surface: Surface, title: str) -> None:
        """Draw the level grid lines with their figures, and the title above them."""
        nothing = self.up.share(0.0)
        for share, label in self.up.marks():
            y = self._y(share)
            ink = Ink.FAINT if share == nothing else Ink.GRID
            surface.line(self.left, y, self.right, y, ink, 1.0)
            surface.text(self.left - 6, y + 4, label, Ink.FAINT, TICK_SIZE, "end")
        surface.text(1.0, self.top - 12, title, Ink.INK, TITLE_SIZE)

    def draw_level_axis(
        self, surface: Surface, marks: Sequence[tuple[float, str]], title: str = ""
    ) -> None:
        """Draw an upright grid line and a figure at each share across, and the title below."""
        taken, baseline = Taken(), self.bottom + 16
        for share, label in marks:
            x = self.x(share)
            surface.line(x, self.top, x, self.bottom, Ink.GRID, 1.0)
            # Labels at the ends are drawn inwards rather than over the edge.
            half = text_width(label, TICK_SIZE) / 2
            middle = min(max(x, half + 1), self.right + 8 - half)
            if taken.take(text_box(middle, baseline, label, TICK_SIZE, "middle")):
                surface.text(middle, baseline, label, Ink.FAINT, TICK_SIZE, "middle")
        if title:
            surface.text(self.right, self.bottom + 34, title, Ink.INK, TITLE_SIZE, "end")


def graph_below_legend(
    surface: Surface,
    entries: Sequence[Entry],
    size: tuple[float, float],
    foot: float,
    scale: Scale,
    forces_lbf: Sequence[float],
) -> Graph:
    """Draw the legend and return the graph below it, its upright axis over all the forces.

    size: width and height of the drawing. foot: room for what stands below the level axis.
    """
    width, height = size
    draw_legend(surface, entries, width)
    top, bottom = legend_height(entries, width) + 28, height - foot
    up = axis_over([scale.shown(each) for each in forces_lbf], max(2, int((bottom - top) / _ROW)))
    left = max(text_width(label, TICK_SIZE) for _, label in up.marks()) + 12
    return Graph(left, top, width - 12, bottom, up, scale)
