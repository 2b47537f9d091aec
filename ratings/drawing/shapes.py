"""Shapes for what a word says, told apart without colour: pads and verdicts."""

from __future__ import annotations

import math

from ratings.drawing.surface import Ink, Point, Surface

_STROKE = 1.6
_PAD = ((2, 4), (14, 4), (14, 12), (2, 12))
_RUBBER = ((3.5, 6.2), (12.5, 6.2), (12.5, 9.8), (3.5, 9.8))
_CRACK = ((9.5, 2.5), (6.5, 7), (9.5, 9), (7, 13.5))
_TURNS = [math.tau * index / 24 for index in range(24)]
_BULGE = tuple((8 + 7 * math.cos(turn), 8 + 5.5 * math.sin(turn)) for turn in _TURNS)
_ARROW = ((8, 1), (14.5, 8), (11, 8), (11, 15), (5, 15), (5, 8), (1.5, 8))


class _Square:
    """A square on a surface, laid out in sixteenths from its top left corner."""

    def __init__(self, surface: Surface, x: float, y: float, size: float) -> None:
        self.surface, self._x, self._y, self.unit = surface, x, y, size / 16

    def at(self, across: float, down: float) -> Point:
        return self._x + across * self.unit, self._y + down * self.unit

    def line(self, start: Point, end: Point, ink: Ink, width: float) -> None:
        self.surface.line(*self.at(*start), *self.at(*end), ink, width)

    def polygon(self, corners: tuple[Point, ...], ink: Ink, filled: bool) -> None:
        self.surface.polygon([self.at(*corner) for corner in corners], ink, filled)


def draw_pad_shape(surface: Surface, condition: str, x: float, y: float, size: float) -> None:
    """Draw a condition's shape in a square whose top left corner is (x, y)."""
    square = _Square(surface, x, y, size)
    match condition:
        case "sound":
            square.polygon(_PAD, Ink.INK, True)
        case "cracked":
            square.polygon(_PAD, Ink.WARN, False)
            surface.polyline([square.at(*each) for each in _CRACK], Ink.WARN, _STROKE)
        case "debonded":
            for down in (3.0, 13.0):
                square.line((2, down), (14, down), Ink.WARN, _STROKE)
            square.polygon(_RUBBER, Ink.WARN, True)
        case "swollen":
            square.polygon(_BULGE, Ink.WARN, False)
            square.line((4, 8), (12, 8), Ink.WARN, _STROKE)
        case "missing":
            square.line((3, 3), (13, 13), Ink.WARN, 2.0)
            square.line((13, 3), (3, 13), Ink.WARN, 2.0)
        case _:
            outline = [square.at(*each) for each in (*_PAD, _PAD[0])]
            surface.polyline(outline, Ink.FAINT, 1.2, dashed=True)


def draw_verdict(surface: Surface, verdict: str, x: float, y: float, size: float) -> None:
    """Draw a verdict's shape in a square whose top left corner is (x, y)."""
    square = _Square(surface, x, y, size)
    unit = square.unit
    match verdict:
        case "suitable":
            square.polygon(_ARROW, Ink.ACCENT, True)
        case "suitable with care":
            square.polygon(_ARROW, Ink.WARN, False)
            surface.circle(*square.at(8, 10), 1.6 * unit, Ink.WARN)
        case "cannot be judged":
            surface.circle(*square.at(8, 8), 6.5 * unit, Ink.WARN, False)
            square.line((5, 8), (11, 8), Ink.WARN, 2.0 * unit)
        case _:
            surface.rect(*square.at(1.5, 1.5), 13 * unit, 13 * unit, Ink.WARN)
            square.line((4, 8), (12, 8), Ink.PAPER, 2.4 * unit)
