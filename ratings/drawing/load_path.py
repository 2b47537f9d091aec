"""The load path of a pull: as it hangs, hook above and ground below, all to one scale of force."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.quantities import Quantity, Scale
from ratings.drawing.axes import nice_step, tick_label, ticks
from ratings.drawing.blade import draw_hatching
from ratings.drawing.labels import Box, fitting_size
from ratings.drawing.surface import Ink, Surface, text_width

_UNKNOWN = "not known"
# The same figure calculated two ways is not short.
_HAIR = 1e-12


@dataclass(frozen=True)
class Part:
    """A weight or a force of the path, lbf, and all from the ground up to and with it."""

    label: str
    force_lbf: float | None
    total_lbf: float | None


@dataclass(frozen=True)
class Supply:
    """What bears all below a place of the path, lbf, and what it must bear.

    borne: what the load is called, where it isn't just the sum of what is below.
    """

    label: str
    demand_lbf: float | None
    supply_lbf: float | None
    borne: str = "in all"

    @property
    def is_short(self) -> bool:
        if self.demand_lbf is None or self.supply_lbf is None:
            return False
        return self.demand_lbf * (1.0 - _HAIR) > self.supply_lbf


@dataclass(frozen=True)
class PathFigures:
    """The rows of the path from the hook down."""

    rows: tuple[Part | Supply, ...]
    units: str = "us"


def force_words(scale: Scale, force_lbf: float | None) -> str:
    """Return a force with its unit; words where it isn't known."""
    return _UNKNOWN if force_lbf is None else scale.words(force_lbf)


def supply_words(scale: Scale, row: Supply) -> str:
    """Return what there is at a place, and what it has to spare or is short of."""
    if row.supply_lbf is None:
        return f"{row.label}: {_UNKNOWN}"
    lead = f"{row.label} {scale.words(row.supply_lbf)}"
    if row.demand_lbf is None:
        return f"{lead}: load {_UNKNOWN}"
    end = "short" if row.is_short else "to spare"
    # Between the figures as they are written, so that a reader who subtracts finds the same.
    given, asked = (_written(scale, each) for each in (row.supply_lbf, row.demand_lbf))
    between = abs(given - asked)
    if row.is_short and not between:
        return f"{lead}: just short"
    return f"{lead}: {scale.words(between / scale.factor)} {end}"


def path_words(figures: PathFigures) -> str:
    """Return the whole path in words, for those who don't see it."""
    scale = Quantity.LOAD.scale(figures.units)
    return " ".join(f"{_row_words(scale, row)}." for row in figures.rows)


def _row_words(scale: Scale, row: Part | Supply) -> str:
    if isinstance(row, Supply):
        return f"{supply_words(scale, row)}; {row.borne} {force_words(scale, row.demand_lbf)}"
    return f"{row.label[0].upper()}{row.label[1:]} {force_words(scale, row.force_lbf)}"


def _written(scale: Scale, force_lbf: float) -> float:
    return round(scale.shown(force_lbf), scale.decimals)


_SIZE, _SMALL = 12.0, 10.5
_PART_ROW, _SUPPLY_ROW, _AXIS_ROW = 24.0, 48.0, 22.0
_HEADING = 20.0
_BAR, _GAP, _ARROW = 15.0, 8.0, 14.0
# A supply many times what is asked of it would press all else into a corner.
_MOST_SUPPLY = 1.6
# A scale for less would have more decimals than any force is known to.
_LEAST_LBF = 1000.0


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
    return sum(_row_height(row) for row in figures.rows) + _AXIS_ROW


def draw_load_path(surface: Surface, figures: PathFigures, width: float) -> None:
    """Draw each part as a block that begins where the one below it ends, supplies beside."""
    layout = _layout(figures, width)
    step = _step(layout)
    top = 0.0
    for row in figures.rows:
        bottom = top + _row_height(row)
        # The grid leaves the words alone.
        _draw_grid(
            surface, layout, step, top + (_HEADING if isinstance(row, Supply) else 0), bottom
        )
        if isinstance(row, Supply):
            _draw_supply(surface, layout, row, top)
        else:
            _draw_part(surface, layout, row, top)
        top = bottom
    _draw_scale(surface, layout, step, top + 14)


def _row_height(row: Part | Supply) -> float:
    return _SUPPLY_ROW if isinstance(row, Supply) else _PART_ROW


def _layout(figures: PathFigures, width: float) -> _Layout:
    scale = Quantity.LOAD.scale(figures.units)
    labels = [
        (row.borne, row.demand_lbf) if isinstance(row, Supply) else (row.label, row.force_lbf)
        for row in figures.rows
    ]
    names = max((text_width(name, _SIZE) for name, _ in labels), default=0.0)
    told = max((text_width(force_words(scale, force), _SMALL) for _, force in labels), default=0.0)
    return _Layout(
        left=min(names + _GAP, 0.34 * width),
        right=width - told - _GAP - _ARROW,
        most_lbf=_most_lbf(figures) * 1.02,
        scale=scale,
        width=width,
    )


def _most_lbf(figures: PathFigures) -> float:
    """The greatest load; a supply above it where it isn't far above the path's whole."""
    supplies = [row for row in figures.rows if isinstance(row, Supply)]
    totals = [row.total_lbf or 0.0 for row in figures.rows if isinstance(row, Part)]
    whole = max(totals, default=0.0)
    load = max([whole, *(row.demand_lbf or 0.0 for row in supplies)])
    supply = max((row.supply_lbf or 0.0 for row in supplies), default=0.0)
    if not load:
        return max(supply, _LEAST_LBF)
    return max(load, min(supply, _MOST_SUPPLY * whole), _LEAST_LBF)


def _step(layout: _Layout) -> float:
    most = layout.scale.shown(layout.most_lbf)
    widest = max(text_width(words, _SMALL) for words in (tick_label(most, 1.0), "0.0")) + 14
    return nice_step(most, max(1, int((layout.right - layout.left) / widest)))


def _values(layout: _Layout, step: float) -> list[tuple[float, float]]:
    """Each tick of the scale with its x."""
    values = ticks(0.0, layout.scale.shown(layout.most_lbf), step)
    return [(value, layout.x(value / layout.scale.factor)) for value in values]


def _draw_grid(surface: Surface, layout: _Layout, step: float, top: float, bottom: float) -> None:
    for _, x in _values(layout, step):
        surface.line(x, top, x, bottom, Ink.GRID, 1.0)


def _draw_scale(surface: Surface, layout: _Layout, step: float, baseline: float) -> None:
    for value, x in _values(layout, step):
        words = layout.scale.symbol if value == 0 else tick_label(value, step)
        surface.text(x, baseline, words, Ink.FAINT, _SMALL, "middle")


def _draw_part(surface: Surface, layout: _Layout, part: Part, top: float) -> None:
    middle = top + _PART_ROW / 2
    _draw_row_words(surface, layout, part.label, part.force_lbf, middle)
    if part.force_lbf is None or part.total_lbf is None:
        return
    begin, end = layout.x(part.total_lbf - part.force_lbf), layout.x(part.total_lbf)
    # A block too slight to see is drawn as a stroke.
    surface.rect(begin, middle - _BAR / 2, max(end - begin, 1.5), _BAR, Ink.ACCENT)
    surface.line(end, top, end, middle - _BAR / 2, Ink.FAINT, 1.0)


def _draw_row_words(
    surface: Surface, layout: _Layout, name: str, force_lbf: float | None, middle: float
) -> None:
    room = layout.left - _GAP
    size = fitting_size(name, _SIZE, room)
    surface.text(room, middle + 0.35 * size, name, Ink.INK, size, "end")
    ink = Ink.WARN if force_lbf is None else Ink.INK
    words = force_words(layout.scale, force_lbf)
    surface.text(layout.width, middle + 4, words, ink, _SMALL, "end")


def _draw_supply(surface: Surface, layout: _Layout, row: Supply, top: float) -> None:
    bar = top + _SUPPLY_ROW - _BAR - 5
    is_unknown = row.demand_lbf is None or row.supply_lbf is None
    ink = Ink.WARN if row.is_short or is_unknown else Ink.INK
    words = supply_words(layout.scale, row)
    size = fitting_size(words, _SIZE, layout.width, bold=True)
    surface.text(0.0, top + 15, words, ink, size, bold=True)
    _draw_row_words(surface, layout, row.borne, row.demand_lbf, bar + _BAR / 2)
    if row.demand_lbf is not None:
        demand = layout.x(row.demand_lbf)
        surface.rect(layout.left, bar, demand - layout.left, _BAR, Ink.BAND)
        if row.is_short:
            beyond = Box(layout.x(row.supply_lbf or 0.0), bar, demand, bar + _BAR)
            draw_hatching(surface, beyond, 5.0)
        surface.rect(layout.left, bar, demand - layout.left, _BAR, Ink.INK, False)
    if row.supply_lbf is not None:
        _draw_supply_mark(surface, layout, row.supply_lbf, bar, ink)


def _draw_supply_mark(
    surface: Surface, layout: _Layout, supply_lbf: float, bar: float, ink: Ink
) -> None:
    if supply_lbf > layout.most_lbf:
        tip, middle = layout.right + _ARROW, bar + _BAR / 2
        surface.line(tip - 11, middle, tip - 4, middle, ink, 3.0)
        surface.polygon([(tip - 7, middle - 5), (tip, middle), (tip - 7, middle + 5)], ink)
        return
    x = layout.x(supply_lbf)
    surface.line(x, bar - 5, x, bar + _BAR + 3, ink, 3.0)
    surface.polygon([(x - 5, bar - 7), (x + 5, bar - 7), (x, bar)], ink)
