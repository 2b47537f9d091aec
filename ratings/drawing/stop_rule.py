"""The stop rule: the pads' stretch at true scale, to be held against a tape beside the hammer."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.quantities import Quantity
from ratings.drawing.blade import POINTS_PER_IN, draw_hatching
from ratings.drawing.labels import Box, Taken, text_box
from ratings.drawing.surface import Anchor, Ink, Surface, text_width

__all__ = ["StopFigures", "draw_stop_rule", "stop_rule_share"]

# What is drawn beyond the stop line.
_BEYOND_IN = 0.75
_TOP, _BOTTOM = 46.0, 108.0
_LEFT = 6.0
_SIZE, _BOLD_SIZE = 10.0, 13.0
HEIGHT = 148.0
_HOOK = 3.0
_TICK = 0.6
# Ticks any closer are one grey band on paper.
_CLOSEST = 2.6
# How far below the rule the words of the marks stand.
_ROWS = (12.0, 24.0)
_MARK_GAP = 3.0


@dataclass(frozen=True)
class _Divisions:
    """A tape's finest divisions: how many to an inch, which are drawn, and which are longer."""

    per_in: float
    steps: tuple[int, ...]
    lengths: tuple[tuple[int, float], ...]

    @property
    def long(self) -> int:
        return self.lengths[0][0]

    def length(self, tick: int) -> float:
        return next(length for every, length in self.lengths if tick % every == 0)


_DIVISIONS = {
    "us": _Divisions(16.0, (1, 2, 4, 8, 16), ((16, 16.0), (8, 11.0), (4, 8.5), (2, 6.5), (1, 4.5))),
    "si": _Divisions(
        Quantity.LENGTH.shown(1.0, "si"), (1, 5, 10), ((10, 16.0), (5, 11.0), (1, 6.0))
    ),
}


@dataclass(frozen=True)
class StopFigures:
    """Stretches from rest, in: at the pull expected, at its capacity, and not to be passed.

    Words, where given, are those that the paper has for the same stretch elsewhere.
    """

    stop_in: float
    expected_in: float | None = None
    capacity_in: float | None = None
    units: str = "us"
    stop_words: str = ""
    expected_words: str = ""
    capacity_words: str = ""


def stop_rule_share(figures: StopFigures, width: float) -> float:
    """Return the scale it is drawn to on a paper so wide: 1, or ½, ¼ … where it would not fit."""
    share = 1.0
    while (figures.stop_in + _BEYOND_IN) * POINTS_PER_IN * share > width - 2 * _LEFT:
        share /= 2.0
    return share


def draw_stop_rule(surface: Surface, figures: StopFigures, width: float) -> None:
    """Draw the rule in points, an inch to an inch of paper; HEIGHT high."""
    per_in = POINTS_PER_IN * stop_rule_share(figures, width)
    end = _LEFT + (figures.stop_in + _BEYOND_IN) * per_in
    surface.rect(_LEFT, _TOP, end - _LEFT, _BOTTOM - _TOP, Ink.PAPER)
    surface.rect(_LEFT, _TOP, end - _LEFT, _BOTTOM - _TOP, Ink.INK, False)
    # The hook of a tape, its inner face at rest.
    surface.rect(_LEFT - _HOOK, _TOP, _HOOK, _BOTTOM - _TOP + _HOOK, Ink.INK)
    stop = _LEFT + figures.stop_in * per_in
    draw_hatching(surface, Box(stop, _TOP, end, _BOTTOM), 6.0)
    _draw_ticks(surface, figures, per_in, stop)
    _draw_stop(surface, figures, stop, width)
    _draw_marks(surface, figures, per_in, width)
    _draw_scale_words(surface, figures, width)


def _draw_ticks(surface: Surface, figures: StopFigures, per_in: float, stop: float) -> None:
    """As on a tape: sixteenths of an inch, or millimetres; fewer where they'd run together."""
    divisions = _DIVISIONS[figures.units]
    division = per_in / divisions.per_in
    step = next((each for each in divisions.steps if each * division >= _CLOSEST), divisions.long)
    figured = divisions.long * _every(divisions.long * division)
    taken = Taken([_mark_box(_LEFT + at * per_in) for at in _marked(figures)])
    for tick in range(0, int(figures.stop_in * divisions.per_in + 1e-9) + 1, step):
        x = _LEFT + tick * division
        surface.line(x, _BOTTOM, x, _BOTTOM - divisions.length(tick), Ink.INK, _TICK)
        if tick and tick % figured == 0:
            whole = tick if figures.units == "si" else tick // divisions.long
            _draw_figure(surface, taken, str(whole), x, stop)


def _every(apart: float) -> int:
    """Return which of the long ticks have a figure: every one, or every second, fifth, tenth."""
    room = text_width("000", _SIZE) + 5
    return next((each for each in (1, 2, 5) if each * apart >= room), 10)


def _draw_figure(surface: Surface, taken: Taken, words: str, x: float, stop: float) -> None:
    """To the left of its tick; to the right where a mark is in the way."""
    sides: tuple[tuple[float, Anchor], ...] = ((x - 2.5, "end"), (x + 2.5, "start"))
    for at, anchor in sides:
        room = text_box(at, _BOTTOM - 18.0, words, _SIZE, anchor)
        if room.left > _LEFT and room.right < stop - 2.5 and taken.take(room):
            surface.text(at, _BOTTOM - 18.0, words, Ink.INK, _SIZE, anchor)
            return


def _marked(figures: StopFigures) -> list[float]:
    """Stretches with a mark of their own, in."""
    known = (figures.expected_in, figures.capacity_in)
    return [at for at in known if at is not None and at <= figures.stop_in]


def _mark_box(x: float) -> Box:
    return Box(x - 1.5, _TOP, x + 1.5, _BOTTOM)


def _draw_stop(surface: Surface, figures: StopFigures, stop: float, width: float) -> None:
    surface.line(stop, _TOP - 18, stop, _BOTTOM + 3, Ink.WARN, 5.0)
    stop_words = figures.stop_words or Quantity.LENGTH.words(figures.stop_in, figures.units)
    words = f"STOP HERE {stop_words}"
    half = text_width(words, _BOLD_SIZE, True) / 2
    middle = min(max(stop, half), width - half)
    surface.text(middle, _TOP - 24, words, Ink.WARN, _BOLD_SIZE, "middle", bold=True)


def _draw_marks(surface: Surface, figures: StopFigures, per_in: float, width: float) -> None:
    """The smaller stretch above, its words left of its mark; below where they have no room there.

    So no mark strikes the words of the other.
    """
    named = (
        (figures.expected_in, figures.expected_words, "at the pull expected"),
        (figures.capacity_in, figures.capacity_words, "at this pull’s capacity"),
    )
    words = Quantity.LENGTH.scale(figures.units).words
    marks = sorted(
        (_LEFT + at_in * per_in, f"{said or words(at_in)} {name}")
        for at_in, said, name in named
        if at_in is not None and at_in <= figures.stop_in
    )
    if not marks:
        return
    has_room = text_width(marks[0][1], _SIZE) <= marks[0][0] - _MARK_GAP
    clear_of = 0.0
    for (x, label), down in zip(marks, _ROWS if has_room else _ROWS[::-1], strict=False):
        surface.line(x, _TOP, x, _BOTTOM + down - 8, Ink.ACCENT, 2.0)
        taken = text_width(label, _SIZE)
        if x - _MARK_GAP - taken >= clear_of:
            surface.text(x - _MARK_GAP, _BOTTOM + down, label, Ink.ACCENT, _SIZE, "end")
        else:
            left = min(x + _MARK_GAP, width - taken)
            surface.text(left, _BOTTOM + down, label, Ink.ACCENT, _SIZE)
        clear_of = 0.0 if has_room else x + _MARK_GAP


def _draw_scale_words(surface: Surface, figures: StopFigures, width: float) -> None:
    share = stop_rule_share(figures, width)
    of = "half scale, 1 : 2" if share == 0.5 else f"1 : {1 / share:g}"
    scale = "true scale when printed at 100 %" if share == 1.0 else f"{of}, not true scale"
    unit = "millimetres" if figures.units == "si" else "inches"
    words = f"Stretch from rest, in {unit}. Drawn to {scale}; check it against a tape."
    surface.text(0.0, HEIGHT - 3.0, words, Ink.FAINT, 8.5)
