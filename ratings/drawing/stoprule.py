"""The stop rule: the pads' stretch at true scale, to be held against a tape beside the hammer."""

from __future__ import annotations

from dataclasses import dataclass

from ratings.drawing.blade import draw_hatching
from ratings.drawing.labels import Box, Taken, text_box
from ratings.drawing.scales import MM_PER_IN, stretch_scale
from ratings.drawing.surface import Ink, Surface, text_width

__all__ = ["StopFigures", "draw_stop_rule", "stop_rule_share"]

POINTS_PER_IN = 72.0
# What is drawn beyond the stop line.
_BEYOND_IN = 0.75
_TOP, _BOTTOM = 46.0, 108.0
_LEFT = 6.0
_SIZE, _BOLD_SIZE = 10.0, 13.0
HEIGHT = 148.0


@dataclass(frozen=True)
class StopFigures:
    """Stretches from rest, in: at the pull expected, at working capacity, and not to be passed."""

    stop_in: float
    expected_in: float | None = None
    capacity_in: float | None = None
    units: str = "us"
    stop_words: str = ""


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
    stop = _LEFT + figures.stop_in * per_in
    draw_hatching(surface, Box(stop, _TOP, end, _BOTTOM), 6.0)
    _draw_ticks(surface, figures, per_in, stop)
    _draw_marks(surface, figures, per_in, stop, width)
    _draw_scale_words(surface, figures, width)


def _draw_ticks(surface: Surface, figures: StopFigures, per_in: float, stop: float) -> None:
    """Eighths of an inch with whole inches figured, or 5 mm with every 10 figured."""
    if figures.units == "si":
        small_in, each_long = 5.0 / MM_PER_IN, 2
    else:
        small_in, each_long = 0.125, 8
    many = int((figures.stop_in + 1e-9) / small_in)
    taken = Taken()
    for tick in range(many + 1):
        x = _LEFT + tick * small_in * per_in
        is_long = tick % each_long == 0
        length = 16.0 if is_long else (11.0 if tick % (each_long // 2) == 0 else 7.0)
        surface.line(x, _BOTTOM, x, _BOTTOM - length, Ink.INK, 0.8)
        if is_long and tick:
            words = str(tick * 5) if figures.units == "si" else str(tick // each_long)
            place = (x - 2.5, _BOTTOM - 18.0, words)
            box = text_box(*place, _SIZE, "end")
            if x < stop - 2 and box.left > _LEFT and taken.take(box):
                surface.text(*place, Ink.INK, _SIZE, "end")
    symbol = stretch_scale(figures.units).symbol
    surface.text(_LEFT + 3, _TOP + 11, f"{symbol} of stretch from rest", Ink.FAINT, 8.5)


def _draw_marks(
    surface: Surface, figures: StopFigures, per_in: float, stop: float, width: float
) -> None:
    surface.line(stop, _TOP - 18, stop, _BOTTOM + 6, Ink.WARN, 5.0)
    words = f"STOP HERE {figures.stop_words or stretch_scale(figures.units).words(figures.stop_in)}"
    half = text_width(words, _BOLD_SIZE, True) / 2
    middle = min(max(stop, half), width - half)
    surface.text(middle, _TOP - 24, words, Ink.WARN, _BOLD_SIZE, "middle", bold=True)
    below = [
        (figures.expected_in, "at the pull expected", 12.0),
        (figures.capacity_in, "at working capacity", 24.0),
    ]
    for at_in, name, down in below:
        if at_in is None or at_in > figures.stop_in:
            continue
        x = _LEFT + at_in * per_in
        surface.line(x, _TOP, x, _BOTTOM + down - 8, Ink.ACCENT, 2.0)
        label = f"{stretch_scale(figures.units).words(at_in)} {name}"
        half = text_width(label, _SIZE) / 2
        place = min(max(x, half), width - half)
        surface.text(place, _BOTTOM + down, label, Ink.ACCENT, _SIZE, "middle")


def _draw_scale_words(surface: Surface, figures: StopFigures, width: float) -> None:
    share = stop_rule_share(figures, width)
    words = "true scale" if share == 1.0 else f"1 : {1 / share:g}, not true scale"
    surface.text(0.0, HEIGHT - 3.0, f"Drawn to {words}; check it against a tape.", Ink.FAINT, 8.5)
