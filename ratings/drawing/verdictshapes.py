"""The shape of a verdict, told apart without colour: an arrow up for a pull that may be made."""

from __future__ import annotations

from ratings.drawing.surface import Ink, Point, Surface

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
