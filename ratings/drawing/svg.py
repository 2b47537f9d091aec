"""The surface of a page: SVG text that also stands without a stylesheet."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256
from html import escape

from ratings.drawing.surface import Anchor, Ink, Point

_COLOURS = {
    Ink.INK: "#1b1b18",
    Ink.FAINT: "#5b5a52",
    Ink.GRID: "#d9d6ca",
    Ink.PAPER: "#ffffff",
    Ink.ACCENT: "#0b5c63",
    Ink.WARN: "#9a3412",
    Ink.BAND: "#e3eeee",
}
_OUTLINE = 1.2


class SvgSurface:
    """Gathers strokes and renders them as one SVG element, sized by its container."""

    def __init__(self, width: float, height: float, title: str, description: str = "") -> None:
        self._size = f"0 0 {_number(width)} {_number(height)}"
        self._title = title
        self._description = description
        self._parts: list[str] = []

    def line(
        self,
        x1: float,
        y1: float,
        x2: float,
        y2: float,
        ink: Ink,
        width: float,
        dashed: bool = False,
    ) -> None:
        ends = f'x1="{_number(x1)}" y1="{_number(y1)}" x2="{_number(x2)}" y2="{_number(y2)}"'
        self._parts.append(f"<line {ends} {_stroke(ink, width, dashed)}/>")

    def rect(self, x: float, y: float, w: float, h: float, ink: Ink, filled: bool = True) -> None:
        box = f'x="{_number(x)}" y="{_number(y)}" width="{_number(w)}" height="{_number(h)}"'
        self._parts.append(f"<rect {box} {_shape(ink, filled)}/>")

    def polygon(self, points: Sequence[Point], ink: Ink, filled: bool = True) -> None:
        self._parts.append(f'<polygon points="{_points(points)}" {_shape(ink, filled)}/>')

    def polyline(
        self, points: Sequence[Point], ink: Ink, width: float, dashed: bool = False
    ) -> None:
        self._parts.append(
            f'<polyline points="{_points(points)}" fill="none" {_stroke(ink, width, dashed)}/>'
        )

    def circle(self, x: float, y: float, r: float, ink: Ink, filled: bool = True) -> None:
        place = f'cx="{_number(x)}" cy="{_number(y)}" r="{_number(r)}"'
        self._parts.append(f"<circle {place} {_shape(ink, filled)}/>")

    def text(
        self,
        x: float,
        y: float,
        string: str,
        ink: Ink,
        size: float,
        anchor: Anchor = "start",
        bold: bool = False,
    ) -> None:
        weight = ' font-weight="700"' if bold else ""
        self._parts.append(
            f'<text x="{_number(x)}" y="{_number(y)}" font-size="{_number(size)}"'
            f' text-anchor="{anchor}"{weight} {_fill(ink)}>{_words(string)}</text>'
        )

    def render(self) -> str:
        """Return the drawing as one `<svg>` element, the same text for the same drawing."""
        content = "".join(self._parts)
        mark = sha256("\0".join((self._title, self._description, self._size, content)).encode())
        name = f"d{mark.hexdigest()[:12]}"
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" viewBox="{self._size}"'
            f' role="img" aria-labelledby="{name}-t {name}-d"'
            f' font-family="system-ui, Helvetica, Arial, sans-serif">'
            f'<title id="{name}-t">{_words(self._title)}</title>'
            f'<desc id="{name}-d">{_words(self._description)}</desc>{content}</svg>'
        )


def _number(value: float) -> str:
    written = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if written == "-0" else written


def _points(points: Sequence[Point]) -> str:
    return " ".join(f"{_number(x)},{_number(y)}" for x, y in points)


def _words(string: str) -> str:
    # Control characters may not stand in XML, not even escaped.
    return escape("".join(each if each.isprintable() else " " for each in string))


def _fill(ink: Ink) -> str:
    return f'class="d-fill-{ink}" fill="{_COLOURS[ink]}"'


def _stroke(ink: Ink, width: float, dashed: bool = False) -> str:
    dashes = ' stroke-dasharray="4 3"' if dashed else ""
    return f'class="d-line-{ink}" stroke="{_COLOURS[ink]}" stroke-width="{_number(width)}"{dashes}'


def _shape(ink: Ink, filled: bool) -> str:
    return _fill(ink) if filled else f'fill="none" {_stroke(ink, _OUTLINE)}'
