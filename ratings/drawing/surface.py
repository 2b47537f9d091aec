"""What a picture is drawn on. Lengths in the surface's own units; y grows downwards."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from enum import StrEnum
from typing import Literal, Protocol

Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]


class Ink(StrEnum):
    """What a stroke or a fill means; each surface has its own colour for it."""

    INK = "ink"
    FAINT = "faint"
    GRID = "grid"
    PAPER = "paper"
    ACCENT = "accent"
    WARN = "warn"
    BAND = "band"


class Surface(Protocol):
    """The few strokes every picture is made of."""

    def line(
        self,
        x1: float,
        y1: float,
        x2: float,
        y2: float,
        ink: Ink,
        width: float,
        dashed: bool = False,
    ) -> None: ...

    def rect(
        self, x: float, y: float, w: float, h: float, ink: Ink, filled: bool = True
    ) -> None: ...

    def polygon(self, points: Sequence[Point], ink: Ink, filled: bool = True) -> None: ...

    def polyline(
        self, points: Sequence[Point], ink: Ink, width: float, dashed: bool = False
    ) -> None: ...

    def circle(self, x: float, y: float, r: float, ink: Ink, filled: bool = True) -> None: ...

    def text(
        self,
        x: float,
        y: float,
        string: str,
        ink: Ink,
        size: float,
        anchor: Anchor = "start",
        bold: bool = False,
    ) -> None: ...


# Widest glyph of each kind, in ems, over the sans-serif faces a browser may fall back to.
_WIDTHS = (
    (frozenset(" ijlI.,:;'|!"), 0.34),
    (frozenset('frt()[]{}-/\\*"`'), 0.5),
    (frozenset("mwMW%@…—½¼¾"), 1.02),
)
_CAPITAL, _SMALL, _OTHER, _WIDE = 0.79, 0.64, 0.88, 1.05
_BOLD = 1.13


def text_width(string: str, size: float, bold: bool = False) -> float:
    """Return a width the string will not exceed in a common sans-serif face."""
    ems = sum(_ems(character) for character in string)
    return ems * size * (_BOLD if bold else 1.0)


def _ems(character: str) -> float:
    for characters, width in _WIDTHS:
        if character in characters:
            return width
    if unicodedata.east_asian_width(character) in "WF":
        return _WIDE
    if character.isupper():
        return _CAPITAL
    return _SMALL if character.isascii() and character.isalnum() else _OTHER
