"""Shapes for what a word says, told apart without colour: pads and verdicts."""

from __future__ import annotations

import math
from collections.abc import Callable

from ratings.drawing.surface import Ink, Point, Surface

_STROKE = 1.6


def draw_pad_shape(surface: Surface, condition: str, x: float, y: float, size: float) -> None:
    """Draw a condition's shape in a square whose top left corner is (x, y)."""
    _SHAPES.get(condition, _not_counted)(surface, _Square(x, y, size))


class _Square:
    """Sixteenths of the square, as the shapes are laid out on."""

    def __init__(self, x: float, y: float, size: float) -> None:
        self._x, self._y, self._unit = x, y, size / 16

    def at(self, across: float, down: float) -> Point:
        return self._x + across * self._unit, self._y + down * self._unit


def _sound(surface: Surface, square: _Square) -> None:
    surface.polygon(_corners(square, 2, 4, 14, 12), Ink.INK, True)


def _cracked(surface: Surface, square: _Square) -> None:
    surface.polygon(_corners(square, 2, 4, 14, 12), Ink.WARN, False)
    crack = [square.at(*at) for at in ((9.5, 2.5), (6.5, 7), (9.5, 9), (7, 13.5))]
    surface.polyline(crack, Ink.WARN, _STROKE)


def _debonded(surface: Surface, square: _Square) -> None:
    for down in (3.0, 13.0):
        surface.line(*square.at(2, down), *square.at(14, down), Ink.WARN, _STROKE)
    surface.polygon(_corners(square, 3.5, 6.2, 12.5, 9.8), Ink.WARN, True)


def _swollen(surface: Surface, square: _Square) -> None:
    turns = [math.tau * index / 24 for index in range(24)]
    bulge = [square.at(8 + 7 * math.cos(turn), 8 + 5.5 * math.sin(turn)) for turn in turns]
    surface.polygon(bulge, Ink.WARN, False)
    surface.line(*square.at(4, 8), *square.at(12, 8), Ink.WARN, _STROKE)


def _missing(surface: Surface, square: _Square) -> None:
    for start, end in (((3, 3), (13, 13)), ((13, 3), (3, 13))):
        surface.line(*square.at(*start), *square.at(*end), Ink.WARN, 2.0)


def _not_counted(surface: Surface, square: _Square) -> None:
    outline = _corners(square, 2, 4, 14, 12)
    surface.polyline([*outline, outline[0]], Ink.FAINT, 1.2, dashed=True)


def _corners(square: _Square, left: float, top: float, right: float, bottom: float) -> list[Point]:
    return [square.at(*at) for at in ((left, top), (right, top), (right, bottom), (left, bottom))]


_SHAPES: dict[str, Callable[[Surface, _Square], None]] = {
    "sound": _sound,
    "cracked": _cracked,
    "debonded": _debonded,
    "swollen": _swollen,
    "missing": _missing,
}


_ARROW = ((8, 1), (14.5, 8), (11, 8), (11, 15), (5, 15), (5, 8), (1.5, 8))


def draw_verdict(surface: Surface, verdict: str, x: float, y: float, size: float) -> None:
    """Draw a verdict's shape in a square whose top left corner is (x, y)."""
    unit = size / 16.0

    def at(across: float, down: float) -> Point:
        return x + across * unit, y + down * unit

    arrow = [at(*corner) for corner in _ARROW]
    if verdict == "suitable":
        surface.polygon(arrow, Ink.ACCENT)
    elif verdict == "suitable with care":
        surface.polygon(arrow, Ink.WARN, False)
        surface.circle(*at(8, 10), 1.6 * unit, Ink.WARN)
    elif verdict == "cannot be judged":
        surface.circle(*at(8, 8), 6.5 * unit, Ink.WARN, False)
        surface.line(*at(5, 8), *at(11, 8), Ink.WARN, 2.0 * unit)
    else:
        surface.rect(*at(1.5, 1.5), 13 * unit, 13 * unit, Ink.WARN)
        surface.line(*at(4, 8), *at(12, 8), Ink.PAPER, 2.4 * unit)
