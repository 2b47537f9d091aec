"""The load path of a pull: as it hangs, hook above and ground below, all to one scale of force."""

from __future__ import annotations

from dataclasses import dataclass

from ratings.drawing.blade import draw_hatching
from ratings.drawing.labels import Box, fitting_size
from ratings.drawing.scales import Scale, force_scale
from ratings.drawing.surface import Ink, Surface, text_width
from ratings.drawing.ticks import nice_step, tick_label, ticks

__all__ = ["Part", "PathFigures", "Supply", "draw_load_path", "load_path_height"]

_SIZE, _SMALL = 12.0, 10.5
_PART_ROW, _SUPPLY_ROW, _AXIS_ROW = 24.0, 42.0, 26.0
_BAR, _GAP = 15.0, 8.0
_UNKNOWN = "not known"


@dataclass(frozen=True)
class Part:
    """A weight or a force of the path, lbf, and all from the ground up to and with it."""

    label: str
    force_lbf: float | None
    total_lbf: float | None


@dataclass(frozen=True)
class Supply:
    """What bears all below a place of the path, lbf, and what it must bear."""

    label: str
    demand_lbf: float | None
    supply_lbf: float | None


@dataclass(frozen=True)
class PathFigures:
    """The rows of the path from the hook down."""

    rows: tuple[Part | Supply, ...]
    units: str = "us"


@dataclass(frozen=True)
class _Layout:
    """Where the bars lie: from `left` at no force to `right` at the greatest."""

    left: float
    right: float
    most_lbf: float
    scale: Scale
    width: float

    def x(self, force_lbf: float) -> float:
        return self.left + (self.right - self.left) * force_lbf / self.most_lbf


def load_path_height(figures: PathFigures) -> float:
    """Return the height the drawing takes."""
    rows = sum(_SUPPLY_ROW if isinstance(row, Supply) else _PART_ROW for row in figures.rows)
    return rows + _AXIS_ROW


def draw_load_path(surface: Surface, figures: PathFigures, width: float) -> None:
    """Draw each part as a block that begins where the one below it ends, supplies beside."""
    layout = _layout(figures, width)
    _draw_axis(surface, layout, load_path_height(figures))
    top = 0.0
    for row in figures.rows:
        if isinstance(row, Supply):
            _draw_supply(surface, layout, row, top)
            top += _SUPPLY_ROW
        else:
            _draw_part(surface, layout, row, top)
            top += _PART_ROW


def _layout(figures: PathFigures, width: float) -> _Layout:
    scale = force_scale(figures.units)
    known = [value for row in figures.rows for value in _forces(row) if value is not None]
    parts = [row for row in figures.rows if isinstance(row, Part)]
    labels = max((text_width(part.label, _SIZE) for part in parts), default=0.0)
    told = max((text_width(_words(scale, part.force_lbf), _SMALL) for part in parts), default=0.0)
    return _Layout(
        left=min(labels + _GAP, 0.34 * width),
        right=width - told - _GAP,
        most_lbf=max([*known, 1.0]) * 1.02,
        scale=scale,
        width=width,
    )


def _forces(row: Part | Supply) -> tuple[float | None, ...]:
    if isinstance(row, Supply):
        return row.demand_lbf, row.supply_lbf
    return row.force_lbf, row.total_lbf


def _draw_axis(surface: Surface, layout: _Layout, height: float) -> None:
    bottom = height - _AXIS_ROW + 4
    most = layout.scale.shown(layout.most_lbf)
    widest = text_width(layout.scale.words(layout.most_lbf), _SMALL) + 16
    step = nice_step(most, max(1, int((layout.right - layout.left) / widest)))
    for value in ticks(0.0, most, step):
        x = layout.x(value / layout.scale.factor)
        surface.line(x, 0.0, x, bottom, Ink.GRID, 1.0)
        words = layout.scale.symbol if value == 0 else tick_label(value, step)
        surface.text(x, bottom + 14, words, Ink.FAINT, _SMALL, "middle")


def _draw_part(surface: Surface, layout: _Layout, part: Part, top: float) -> None:
    middle = top + _PART_ROW / 2
    room = layout.left - _GAP
    size = fitting_size(part.label, _SIZE, room)
    surface.text(room, middle + 0.35 * size, part.label, Ink.INK, size, "end")
    words = _words(layout.scale, part.force_lbf)
    ink = Ink.INK if part.force_lbf is not None else Ink.WARN
    surface.text(layout.width, middle + 4, words, ink, _SMALL, "end")
    if part.force_lbf is None or part.total_lbf is None:
        return
    begin, end = layout.x(part.total_lbf - part.force_lbf), layout.x(part.total_lbf)
    # A block too slight to see is drawn as a stroke.
    surface.rect(begin, middle - _BAR / 2, max(end - begin, 1.5), _BAR, Ink.ACCENT)
    surface.line(end, top, end, middle - _BAR / 2, Ink.FAINT, 1.0)


def _draw_supply(surface: Surface, layout: _Layout, row: Supply, top: float) -> None:
    bar = top + _SUPPLY_ROW - _BAR - 4
    words, is_bad = _supply_words(layout.scale, row)
    ink = Ink.WARN if is_bad else Ink.INK
    size = fitting_size(words, _SIZE, layout.width, bold=True)
    surface.text(0.0, top + 15, words, ink, size, bold=True)
    if row.demand_lbf is not None:
        demand = layout.x(row.demand_lbf)
        surface.rect(layout.left, bar, demand - layout.left, _BAR, Ink.BAND)
        surface.rect(layout.left, bar, demand - layout.left, _BAR, Ink.INK, False)
    if row.supply_lbf is None:
        return
    supply = layout.x(row.supply_lbf)
    if row.demand_lbf is not None and row.demand_lbf > row.supply_lbf:
        draw_hatching(surface, Box(supply, bar, layout.x(row.demand_lbf), bar + _BAR), 5.0)
    surface.line(supply, bar - 5, supply, bar + _BAR + 3, ink, 3.0)
    surface.polygon([(supply - 5, bar - 7), (supply + 5, bar - 7), (supply, bar)], ink)


def _supply_words(scale: Scale, row: Supply) -> tuple[str, bool]:
    if row.supply_lbf is None or row.demand_lbf is None:
        return f"{row.label}: {_UNKNOWN}", True
    spare = row.supply_lbf - row.demand_lbf
    end = f"{scale.words(abs(spare))} {'short' if spare < 0 else 'to spare'}"
    return f"{row.label} {scale.words(row.supply_lbf)}: {end}", spare < 0


def _words(scale: Scale, force_lbf: float | None) -> str:
    return _UNKNOWN if force_lbf is None else scale.words(force_lbf)
