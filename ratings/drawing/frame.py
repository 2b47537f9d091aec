"""The frame of a graph: two axes, their grid, their figures and their titles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ratings.drawing.labels import Taken, text_box
from ratings.drawing.surface import Ink, Surface, text_width
from ratings.drawing.ticks import nice_step, step_down, step_up, tick_label, ticks

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

    def ticks(self) -> tuple[float, ...]:
        return ticks(self.low, self.high, self.step)


@dataclass(frozen=True)
class Frame:
    """Where the graph's two axes lie on the surface."""

    left: float
    top: float
    right: float
    bottom: float

    def x(self, share: float) -> float:
        return self.left + share * (self.right - self.left)

    def y(self, share: float) -> float:
        return self.bottom - share * (self.bottom - self.top)


def axis_over(values: Sequence[float], most_steps: int) -> Axis:
    """Return an axis from nothing, or from the least value below, to a step above the greatest."""
    low, high = min(0.0, *values, 0.0), max(0.0, *values, 0.0)
    if high - low < _LEAST_SPAN:
        high = low + 1.0
    step = nice_step((high - low) * 1.04, max(2, most_steps))
    return Axis(step_down(low, step), step_up(high + 0.04 * (high - low), step), step)


def steps_up(height: float) -> int:
    """Return how many steps an upright axis of this height has room for."""
    return max(2, int(height / _ROW))


def steps_across(width: float, widest: str) -> int:
    """Return how many steps a level axis of this width has room for."""
    return max(2, int(width / (text_width(widest, TICK_SIZE) + 22)))


def figures_width(axis: Axis) -> float:
    """Return the room the figures of an upright axis take."""
    return max(text_width(tick_label(value, axis.step), TICK_SIZE) for value in axis.ticks())


def draw_upright_axis(surface: Surface, frame: Frame, axis: Axis, title: str) -> None:
    """Draw the level grid lines with their figures, and the title above them."""
    for value in axis.ticks():
        y = frame.y(axis.share(value))
        ink = Ink.FAINT if value == 0 else Ink.GRID
        surface.line(frame.left, y, frame.right, y, ink, 1.0)
        label = tick_label(value, axis.step)
        surface.text(frame.left - 6, y + 4, label, Ink.FAINT, TICK_SIZE, "end")
    surface.text(1.0, frame.top - 12, title, Ink.INK, TITLE_SIZE)


def draw_level_axis(surface: Surface, frame: Frame, axis: Axis, title: str) -> None:
    """Draw the upright grid lines with their figures, and the title below them."""
    marks = [(axis.share(value), tick_label(value, axis.step)) for value in axis.ticks()]
    draw_level_marks(surface, frame, marks)
    surface.text(frame.right, frame.bottom + 34, title, Ink.INK, TITLE_SIZE, "end")


def draw_level_marks(surface: Surface, frame: Frame, marks: Sequence[tuple[float, str]]) -> None:
    """Draw an upright grid line and a figure at each share of the level axis."""
    taken = Taken()
    for share, label in marks:
        x = frame.x(share)
        surface.line(x, frame.top, x, frame.bottom, Ink.GRID, 1.0)
        # Labels at the ends are drawn inwards rather than over the edge.
        half = text_width(label, TICK_SIZE) / 2
        middle = min(max(x, half + 1), frame.right + 8 - half)
        if taken.take(text_box(middle, frame.bottom + 16, label, TICK_SIZE, "middle")):
            surface.text(middle, frame.bottom + 16, label, Ink.FAINT, TICK_SIZE, "middle")
