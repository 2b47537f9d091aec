"""What a pull rule shows, and the axis it shows it on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ratings.drawing.scales import Scale, fixed, floored, pull_scale
from ratings.drawing.surface import text_width
from ratings.drawing.ticks import decimals_of, half_step, nice_step, step_up

_MOST_STEPS = 12
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

    def figure(self, pull_lbf: float) -> str:
        """Return a pull as the rule's labels write it."""
        return fixed(self.scale.shown(pull_lbf), self._decimals)

    def capacity_figure(self, pull_lbf: float) -> str:
        """Return a working capacity as the rule's labels write it, rounded down."""
        return floored(self.scale.shown(pull_lbf), self._decimals)

    @property
    def _decimals(self) -> int:
        return max(self.scale.decimals, decimals_of(self.step))


def rule_axis(figures: RuleFigures, left: float, right: float, label_size: float) -> RuleAxis:
    """Return an axis that holds every pull of the figures, its ticks no denser than its labels."""
    scale = pull_scale(figures.units)
    known = (figures.pull_lbf, figures.upper_bound_lbf, figures.listed_lbf)
    # One whole ton or kN at the least: a rule for less would magnify nothing.
    top = max(1.0, *(scale.shown(pull) * _HEADROOM for pull in known if pull is not None), 0.0)
    room = text_width(fixed(top * 1.5, 0), label_size) + 16
    step = nice_step(top, min(_MOST_STEPS, max(2, int((right - left) / room))))
    return RuleAxis(left, right, step_up(top, half_step(step)), step, scale)


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
