"""The pull rule: what a unit pulls, drawn as a tape rule. The signature of this project."""

from __future__ import annotations

from enum import StrEnum

from fleet.quantities import Quantity
from ratings.drawing.blade import (
    POINTS_PER_IN,
    Blade,
    RuleAxis,
    RuleFigures,
    TapeAxis,
    draw_blade,
    draw_hatching,
    draw_pull_ticks,
    draw_stretch_ticks,
    draw_tape_ticks,
    rule_axis,
    tape_axis,
)
from ratings.drawing.labels import Box, Span, anchored, fitting_size, left_of_label, side_by_side
from ratings.drawing.surface import Ink, Surface, text_width

__all__ = ["Detail", "RuleFigures", "draw_pull_rule", "true_scale_width"]

_FIGURE, _LABEL, _TICK = 16.0, 11.5, 11.0
_SMALL_FIGURE, _SMALL_LABEL = 12.0, 10.0
_UPPER_ROW = 16.0
_MARK_WIDTH = 3.5
_NOT_RATED = "not rated"


class Detail(StrEnum):
    """How much a rule tells: a row of the board, or a page."""

    SMALL = "small"
    LARGE = "large"
    # In points: an inch of stretch to an inch of paper, to be held against a tape.
    TRUE_SCALE = "true scale"


def draw_pull_rule(
    surface: Surface, figures: RuleFigures, width: float, height: float, detail: Detail
) -> None:
    """Draw a unit's line pull on its rule: blade, ticks, notch, mark and uncertainty.

    At true scale it takes the width that true_scale_width says, of a rated unit alone.
    """
    blade = _blade(figures, width, height, detail)
    axis = blade.axis
    is_on_it = figures.listed_lbf is not None and not (
        detail is Detail.TRUE_SCALE and _is_short(figures)
    )
    listed_x = axis.x(figures.listed_lbf or 0.0) if is_on_it else None
    draw_blade(surface, blade, listed_x)
    if figures.pull_lbf is not None:
        _draw_rating(surface, blade, figures, figures.pull_lbf, detail)
    elif figures.listed_lbf is not None:
        draw_pull_ticks(surface, blade)
    if figures.pull_lbf is None:
        _draw_not_rated(surface, blade, detail)
    if detail is Detail.SMALL:
        _label_small(surface, blade, figures, width)
    else:
        _label_large(surface, blade, figures, width)


# From the blade's hook to rest, and from the stops to the blade's end.
_TAPE_LEFT, _TAPE_BEYOND = 40.0, 30.0


def true_scale_width(figures: RuleFigures) -> float:
    """Return how wide a rule at true scale is, points."""
    end_in = max(figures.usable_travel_in or 0.0, figures.travel_in or 0.0)
    return _TAPE_LEFT + end_in * POINTS_PER_IN + _TAPE_BEYOND + 1.0


def _blade(figures: RuleFigures, width: float, height: float, detail: Detail) -> Blade:
    if detail is Detail.SMALL:
        axis = rule_axis(figures, 5.0, width - 6.0, _SMALL_LABEL)
        return Blade(2.0, width - 1.0, 15.0, height - 3.0, axis, 0.0)
    if detail is Detail.TRUE_SCALE:
        tape = tape_axis(figures, _TAPE_LEFT)
        right = true_scale_width(figures) - 1.0
        return Blade(2.0, right, 39.0, height - 40.0, tape, _TICK)
    axis = rule_axis(figures, 40.0, width - 14.0, _TICK)
    return Blade(2.0, width - 1.0, 39.0, height - 40.0, axis, _TICK)


def _draw_rating(
    surface: Surface, blade: Blade, figures: RuleFigures, pull_lbf: float, detail: Detail
) -> None:
    mark_x = blade.axis.x(pull_lbf)
    top, _bottom = blade.strip
    hatched_from = top if detail is not Detail.SMALL else blade.top + blade.long_tick + 1
    # The hatching ends at the blade's lower edge: there are no inches beyond the mark.
    box = Box(mark_x, hatched_from, blade.right, blade.bottom)
    draw_hatching(surface, box, 8.0)
    _draw_uncertainty(surface, blade, figures, detail)
    blade.taken.take(
        Box(mark_x - _MARK_WIDTH / 2 - 1, blade.top, mark_x + _MARK_WIDTH / 2 + 1, blade.bottom)
    )
    draw_pull_ticks(surface, blade)
    if isinstance(blade.axis, TapeAxis):
        draw_tape_ticks(surface, blade, blade.axis, figures)
        _draw_stops(surface, blade, blade.axis, figures)
    else:
        draw_stretch_ticks(surface, blade, figures)
    above = 2.0 if detail is Detail.SMALL or _is_short(figures) else 17.0
    surface.line(mark_x, blade.top - above, mark_x, blade.bottom, Ink.ACCENT, _MARK_WIDTH)


def _draw_stops(surface: Surface, blade: Blade, axis: TapeAxis, figures: RuleFigures) -> None:
    """Where the housing meets its stops: never to be pulled to while it vibrates."""
    if figures.travel_in is None:
        return
    x = axis.x_stretch(figures.travel_in)
    surface.line(x, blade.top, x, blade.bottom + 3, Ink.WARN, 5.0)
    # Above the hatching, which would strike it through.
    top, _bottom = blade.strip
    surface.text(x + 5, top - 3, "STOPS", Ink.WARN, 7.0, bold=True)


def _draw_uncertainty(surface: Surface, blade: Blade, figures: RuleFigures, detail: Detail) -> None:
    low_lbf, high_lbf = figures.working_capacity_lbf, figures.upper_bound_lbf
    if low_lbf is None or high_lbf is None:
        return
    left, right = blade.axis.x(low_lbf), blade.axis.x(high_lbf)
    middle = (blade.top + blade.bottom) / 2
    half = 4.0 if detail is Detail.SMALL else 7.0
    surface.rect(left, middle - half, right - left, 2 * half, Ink.BAND)
    surface.rect(left, middle - half, right - left, 2 * half, Ink.ACCENT, False)
    if detail is not Detail.SMALL:
        surface.line(left, middle - half, left, blade.bottom + 6, Ink.ACCENT, 1.2)
        blade.taken.take(Box(left - 2, blade.lower_baseline - 9, left + 2, blade.bottom))


def _draw_not_rated(surface: Surface, blade: Blade, detail: Detail) -> None:
    size = _FIGURE if detail is Detail.LARGE else _SMALL_FIGURE
    middle = (blade.left + blade.right) / 2
    baseline = (blade.top + blade.bottom) / 2 + 0.35 * size
    surface.text(middle, baseline, _NOT_RATED, Ink.INK, size, "middle", bold=True)


def _label_large(surface: Surface, blade: Blade, figures: RuleFigures, width: float) -> None:
    axis, row, pull_lbf = blade.axis, (1.0, width - 1.0), figures.pull_lbf
    is_short, listed_lbf = _is_short(figures), figures.listed_lbf
    lower_row = blade.top - 6
    if listed_lbf is not None:
        x, y, avoid = axis.x(listed_lbf), lower_row, None
        if is_short and isinstance(axis, TapeAxis):
            words = f"listed {figures.listed_words} is reached at no stretch of it"
            surface.text(row[0], lower_row, words, Ink.INK, _LABEL)
            listed_lbf = None
        elif is_short:
            y = _UPPER_ROW
            surface.line(x, y + 4, x, blade.top, Ink.INK, 1.0)
        elif pull_lbf is not None:
            avoid = _beside(axis, pull_lbf)
        if listed_lbf is not None:
            words = f"listed {figures.listed_words}"
            _label(surface, (x, y), words, Ink.INK, _LABEL, row, avoid)
    if pull_lbf is None:
        return
    x, y, avoid = axis.x(pull_lbf), _UPPER_ROW, None
    if is_short and listed_lbf is not None:
        y, avoid = lower_row, _beside(axis, listed_lbf)
    words = f"line pull {figures.pull_words} {axis.scale.symbol}"
    _label(surface, (x, y), words, Ink.ACCENT, _FIGURE, row, avoid, bold=True)
    if figures.working_capacity_lbf is not None:
        words = f"working capacity {figures.capacity_words}"
        at = (axis.x(figures.working_capacity_lbf), blade.bottom + 17)
        _label(surface, at, words, Ink.INK, _LABEL, row)
    if figures.usable_travel_in is not None:
        words = _limit_words(figures, row[1] - row[0])
        at = (axis.x(pull_lbf) + text_width(words, _LABEL) / 2, blade.bottom + 34)
        _label(surface, at, words, Ink.FAINT, _LABEL, row)


def _is_short(figures: RuleFigures) -> bool:
    """Say whether the notch lies beyond the mark.

    What lies further right takes the upper row, its leader down the right of the lower row's
    label: so the two labels stand in the order of what they name.
    """
    if figures.pull_lbf is None or figures.listed_lbf is None:
        return False
    return figures.listed_lbf > figures.pull_lbf


def _limit_words(figures: RuleFigures, room: float) -> str:
    scale = Quantity.LENGTH.scale(figures.units)
    usable_in = figures.usable_travel_in or 0.0
    words = f"no rating beyond {scale.words(usable_in)}"
    if figures.limited_by:
        words += f": limited by {figures.limited_by}"
    if figures.travel_in is None or figures.travel_in <= usable_in:
        return words
    longer = f"{words} (travel {scale.words(figures.travel_in)})"
    return longer if text_width(longer, _LABEL) <= room else words


def _label_small(surface: Surface, blade: Blade, figures: RuleFigures, width: float) -> None:
    axis = blade.axis
    labels = [
        (axis.x(pull_lbf), words, ink, size, is_bold)
        for pull_lbf, words, ink, size, is_bold in (
            (figures.pull_lbf, figures.pull_words, Ink.ACCENT, _SMALL_FIGURE, True),
            (
                figures.listed_lbf,
                f"listed {figures.listed_words}",
                Ink.FAINT,
                _SMALL_LABEL,
                False,
            ),
        )
        if pull_lbf is not None
    ]
    spans = [(x, text_width(words, size, is_bold)) for x, words, _, size, is_bold in labels]
    # Where the two have no room beside each other, the line pull alone is written.
    lefts = side_by_side(spans, (1.0, width - 1.0), 7.0)
    for (x, words, ink, size, is_bold), span, left in zip(labels, spans, lefts, strict=False):
        at, anchor = anchored(x, left, span[1])
        surface.text(at, 11.0, words, ink, size, anchor, is_bold)


def _beside(axis: RuleAxis, pull_lbf: float) -> Span:
    """Return the span a label beside a leader keeps clear of."""
    return axis.x(pull_lbf) - 6.0, axis.x(pull_lbf) + 6.0


def _label(
    surface: Surface,
    at: tuple[float, float],
    words: str,
    ink: Ink,
    size: float,
    row: Span,
    avoid: Span | None = None,
    bold: bool = False,
) -> None:
    """Write a label near its place, clear of a span, smaller where it would have no room."""
    # Beside a span, a hair less than there is: rounding must not bring the two together.
    room = row[1] - row[0] if avoid is None else max(avoid[0] - row[0], row[1] - avoid[1]) - 0.01
    fitted = fitting_size(words, size, room, bold)
    width = text_width(words, fitted, bold)
    left = left_of_label(at[0], width, row, avoid)
    if left is not None:
        x, anchor = anchored(at[0], left, width)
        surface.text(x, at[1], words, ink, fitted, anchor, bold)
