"""The blade of a rule: a steel tape with a hook, ticks on both edges, and the axis along it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from fleet.quantities import (
    Quantity,
    Scale,
    capacity_figure,
    fixed,
    listed_figure,
    pull_figure,
)
from ratings.drawing.axes import nice_step, step_up, tick_label, ticks
from ratings.drawing.labels import Box, Taken, text_box
from ratings.drawing.surface import Ink, Surface, text_width

POINTS_PER_IN = 72.0
_MOST_STEPS = 12
_TAPE_LABEL = 11.0
_HEADROOM = 1.03


@dataclass(frozen=True)
class RuleFigures:
    """A unit's figures: stretch in inches, pulls in lbf, whatever units are shown.

    `load_line` holds (stretch, line pull) from rest to the usable travel. No pull: not rated.
    """

    load_line: tuple[tuple[float, float], ...] = ()
    travel_in: float | None = None
    usable_travel_in: float | None = None
    limited_by: str | None = None
    pull_lbf: float | None = None
    working_capacity_lbf: float | None = None
    upper_bound_lbf: float | None = None
    listed_lbf: float | None = None
    units: str = "us"

    @property
    def pull_words(self) -> str:
        """The line pull as the rule's labels write it, in tons or kN."""
        return pull_figure(self.pull_lbf or 0.0, self.units, listed_lbf=self.listed_lbf)

    @property
    def capacity_words(self) -> str:
        capacity_lbf = self.working_capacity_lbf or 0.0
        return capacity_figure(capacity_lbf, self.units, listed_lbf=self.listed_lbf)

    @property
    def listed_words(self) -> str:
        return listed_figure(self.listed_lbf or 0.0, self.units)


@dataclass(frozen=True)
class RuleAxis:
    """Line pull along the rule: from nothing at `left` to `bound`, in units shown, at `right`."""

    left: float
    right: float
    bound: float
    step: float
    scale: Scale

    def x(self, pull_lbf: float) -> float:
        """Return where a pull lies; below nothing is drawn at nothing."""
        return self.x_shown(self.scale.shown(pull_lbf))

    def x_shown(self, pull: float) -> float:
        """Return where a pull in the units shown lies."""
        share = min(max(pull / self.bound, 0.0), 1.0)
        return self.left + share * (self.right - self.left)


@dataclass(frozen=True)
class TapeAxis(RuleAxis):
    """Stretch along the rule at true scale, an inch to an inch of paper: pulls where it has them.

    A pull beyond the load line's end lies at its end: no stretch stands for it.
    """

    load_line: tuple[tuple[float, float], ...]

    def x(self, pull_lbf: float) -> float:
        return self.x_stretch(stretch_along(self.load_line, pull_lbf))

    def x_shown(self, pull: float) -> float:
        return self.x(pull / self.scale.factor)

    def x_stretch(self, stretch_in: float) -> float:
        """Return where a stretch lies."""
        return self.left + stretch_in * POINTS_PER_IN


def tape_axis(figures: RuleFigures, left: float) -> TapeAxis:
    """Return an axis at true scale from rest to the usable travel."""
    scale = Quantity.PULL.scale(figures.units)
    end_in, end_lbf = figures.load_line[-1]
    right, bound = left + end_in * POINTS_PER_IN, scale.shown(end_lbf)
    room = text_width(fixed(bound, 0), _TAPE_LABEL) + 16
    step = nice_step(bound, min(_MOST_STEPS, max(2, int((right - left) / room))))
    return TapeAxis(left, right, bound, step, scale, figures.load_line)


def rule_axis(figures: RuleFigures, left: float, right: float, label_size: float) -> RuleAxis:
    """Return an axis that holds every pull of the figures, its ticks no denser than its labels."""
    scale = Quantity.PULL.scale(figures.units)
    known = (figures.pull_lbf, figures.upper_bound_lbf, figures.listed_lbf)
    # One whole ton or kN at the least: a rule for less would magnify nothing.
    top = max(1.0, *(scale.shown(pull) * _HEADROOM for pull in known if pull is not None), 0.0)
    room = text_width(fixed(top * 1.5, 0), label_size) + 16
    step = nice_step(top, min(_MOST_STEPS, max(2, int((right - left) / room))))
    return RuleAxis(left, right, step_up(top, step / 2), step, scale)


def pull_along(load_line: Sequence[tuple[float, float]], stretch_in: float) -> float:
    """Return the line pull at a stretch, between the samples of a load line."""
    before = load_line[0]
    for after in load_line:
        if after[0] >= stretch_in:
            run = after[0] - before[0]
            share = (stretch_in - before[0]) / run if run > 0 else 1.0
            return before[1] + share * (after[1] - before[1])
        before = after
    return before[1]


def stretch_along(load_line: Sequence[tuple[float, float]], pull_lbf: float) -> float:
    """Return the stretch at a line pull, between the samples of a load line; its end beyond it."""
    before = load_line[0]
    for after in load_line:
        if after[1] >= pull_lbf:
            rise = after[1] - before[1]
            share = (pull_lbf - before[1]) / rise if rise > 0 else 1.0
            return before[0] + max(0.0, share) * (after[0] - before[0])
        before = after
    return before[0]


_LABEL_GAP = 3.5
_CLOSEST_TICKS = 2.5


@dataclass(frozen=True)
class Blade:
    """Where the blade lies; `label_size` 0 leaves the edges without figures."""

    left: float
    right: float
    top: float
    bottom: float
    axis: RuleAxis
    label_size: float
    taken: Taken = field(default_factory=Taken)

    @property
    def long_tick(self) -> float:
        return 0.1 * (self.bottom - self.top) if self.label_size else 5.0

    @property
    def short_tick(self) -> float:
        return 0.55 * self.long_tick

    @property
    def upper_baseline(self) -> float:
        return self.top + self.long_tick + self.label_size

    @property
    def lower_baseline(self) -> float:
        return self.bottom - self.long_tick - 0.25 * self.label_size

    @property
    def strip(self) -> tuple[float, float]:
        """Top and bottom of the middle, clear of both rows of figures."""
        inset = 1.4 * self.label_size + self.long_tick + 2
        return self.top + inset, self.bottom - inset


def draw_blade(surface: Surface, blade: Blade, notch_x: float | None) -> None:
    """Draw the blade and its hook; the listed rating is cut out of the upper edge."""
    half, depth = notch_size(blade)
    cut = []
    if notch_x is not None:
        tip = (notch_x, blade.top + depth)
        cut = [(notch_x - half, blade.top), tip, (notch_x + half, blade.top)]
        blade.taken.take(Box(notch_x - half, blade.top, notch_x + half, blade.top + depth))
    outline = [
        (blade.left, blade.top),
        *cut,
        (blade.right, blade.top),
        (blade.right, blade.bottom),
        (blade.left, blade.bottom),
    ]
    surface.polygon(outline, Ink.PAPER, True)
    surface.polygon(outline, Ink.INK, False)
    hook = 3.0 if blade.label_size else 2.0
    surface.rect(blade.left - hook / 2, blade.top, hook, blade.bottom - blade.top + hook, Ink.INK)


def notch_size(blade: Blade) -> tuple[float, float]:
    """Return half the width of the notch and its depth."""
    return (7.0, 11.0) if blade.label_size else (4.5, 7.0)


def draw_hatching(surface: Surface, box: Box, spacing: float) -> None:
    """Hatch a box with strokes rising to the right, cut off at its edges."""
    height = box.bottom - box.top
    start = box.left - height + spacing
    while start < box.right:
        left, right = max(start, box.left), min(start + height, box.right)
        if right > left:
            foot, head = box.bottom - (left - start), box.bottom - (right - start)
            surface.line(left, foot, right, head, Ink.FAINT, 0.7)
        start += spacing


def draw_pull_ticks(surface: Surface, blade: Blade) -> None:
    """Draw line pull along the upper edge."""
    axis = blade.axis
    half = axis.step / 2
    long_ones = set(ticks(0.0, axis.bound, axis.step))
    for pull in ticks(0.0, axis.bound, half):
        x = axis.x_shown(pull)
        length = blade.long_tick if pull in long_ones else blade.short_tick
        if blade.taken.take(Box(x - 0.5, blade.top, x + 0.5, blade.top + length)):
            surface.line(x, blade.top, x, blade.top + length, Ink.INK, 1.0)
        if pull in long_ones:
            words = axis.scale.symbol if pull == 0 else tick_label(pull, axis.step)
            _edge_label(surface, blade, x, blade.upper_baseline, words)


def draw_stretch_ticks(surface: Surface, blade: Blade, figures: RuleFigures) -> None:
    """Draw stretch along the lower edge, each tick where the load line reaches its pull."""
    usable_in = figures.usable_travel_in
    if not figures.load_line or not usable_in:
        return
    scale = Quantity.LENGTH.scale(figures.units)
    usable = scale.shown(usable_in)
    span = blade.axis.x(figures.load_line[-1][1]) - blade.axis.left
    step = _stretch_step(blade, usable, span)
    long_ones = set(ticks(0.0, usable, step))
    last_x = -1000.0
    for stretch in ticks(0.0, usable, step / 2):
        x = blade.axis.x(pull_along(figures.load_line, stretch / scale.factor))
        if x - last_x < _CLOSEST_TICKS:
            continue
        last_x = x
        length = blade.long_tick if stretch in long_ones else blade.short_tick
        surface.line(x, blade.bottom - length, x, blade.bottom, Ink.INK, 1.0)
        if stretch in long_ones:
            words = scale.symbol if stretch == 0 else tick_label(stretch, step)
            _edge_label(surface, blade, x, blade.lower_baseline, words)


# Divisions of a tape to a unit shown, which of them have figures, and how long each is, as a share
# of the long ones: eighths of an inch, or half centimetres.
_TAPE_DIVISIONS = {
    "us": (8, 8, ((8, 1.0), (4, 0.7), (2, 0.5), (1, 0.3))),
    "si": (0.2, 2, ((2, 1.0), (1, 0.5))),
}


def draw_tape_ticks(surface: Surface, blade: Blade, axis: TapeAxis, figures: RuleFigures) -> None:
    """Draw stretch along the lower edge as a tape has it, from rest to the stops."""
    scale = Quantity.LENGTH.scale(figures.units)
    per_unit, figured, lengths = _TAPE_DIVISIONS[figures.units]
    end_in = max(figures.usable_travel_in or 0.0, figures.travel_in or 0.0)
    for tick in range(int(scale.shown(end_in) * per_unit + 1e-9) + 1):
        x = axis.x_stretch(tick / per_unit / scale.factor)
        share = next(share for every, share in lengths if tick % every == 0)
        surface.line(x, blade.bottom - 1.6 * share * blade.long_tick, x, blade.bottom, Ink.INK, 0.8)
        if tick % figured == 0:
            words = scale.symbol if tick == 0 else fixed(tick / per_unit, 0)
            _edge_label(surface, blade, x, blade.lower_baseline, words)


def _stretch_step(blade: Blade, usable: float, span: float) -> float:
    widest = text_width(tick_label(usable, 1.0), blade.label_size or 4.0)
    step = nice_step(usable, max(1, int(span / (widest + 12))))
    # A tape is read in whole inches and halves; finer would claim more than it tells.
    return max(step, 1.0) if usable >= 1.0 else step


def _edge_label(surface: Surface, blade: Blade, x: float, y: float, words: str) -> None:
    if not blade.label_size:
        return
    # Left of its tick, as on a tape, so that the figure at the mark stays legible.
    place = (x - _LABEL_GAP, y, words)
    if blade.taken.take(text_box(*place, blade.label_size, "end")):
        surface.text(*place, Ink.INK, blade.label_size, "end")
