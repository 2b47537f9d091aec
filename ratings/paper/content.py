"""What stands on a page of a long paper: text, rules and pictures, as operators of a PDF."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from ratings.drawing.surface import Anchor, Ink, Point
from ratings.paper.embedded_font import EmbeddedFont, Letters

# Dark enough for a black-and-white printer.
_COLOURS = {
    Ink.INK: "#1b1b18",
    Ink.FAINT: "#4a4942",
    Ink.GRID: "#b9b5a6",
    Ink.PAPER: "#ffffff",
    Ink.ACCENT: "#0b5c63",
    Ink.WARN: "#9a3412",
    Ink.BAND: "#d3e4e4",
}
_OUTLINE = 1.0
# A circle in four curves.
_ROUND = 0.5523


class Fonts:
    """The two weights of a paper, and how each letter is written in them."""

    def __init__(self) -> None:
        self.letters = Letters()
        self.regular = EmbeddedFont(400)
        self.bold = EmbeddedFont(700)

    def of(self, *, bold: bool) -> EmbeddedFont:
        return self.bold if bold else self.regular

    def printable(self, text: str) -> str:
        """Return text in letters the fonts have."""
        # Every letter of ASCII prints as it is; what is none of its letters may not.
        is_plain = text.isascii() and text.isprintable()
        return text if is_plain else text.translate(self.letters)


def font_name(*, bold: bool) -> str:
    """Return what the pages call a weight."""
    return "/B" if bold else "/R"


def show(fonts: Fonts, x: float, y: float, text: str, size: float, *, bold: bool = False) -> str:
    """Return what writes a line of printable text."""
    written = fonts.of(bold=bold).written(text)
    return f"BT {font_name(bold=bold)} {size:g} Tf {x:.2f} {y:.2f} Td {written} Tj ET"


@cache
def colour(ink: Ink, *, stroke: bool = False) -> str:
    """Return what sets a colour, of what is filled unless stroke."""
    told = _COLOURS[ink]
    parts = (f"{int(told[at : at + 2], 16) / 255:.3f}" for at in (1, 3, 5))
    return f"{' '.join(parts)} {'RG' if stroke else 'rg'}"


class ContentSurface:
    """Draws a picture, its top left corner at (x, y_top) in points."""

    def __init__(self, fonts: Fonts, x: float, y_top: float) -> None:
        self.operators: list[str] = []
        self._fonts = fonts
        self._x = x
        self._y_top = y_top

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
        (left, up), (right, down) = self._at(x1, y1), self._at(x2, y2)
        path = f"{left:.2f} {up:.2f} m\n{right:.2f} {down:.2f} l"
        dash = "[4 3] 0 d" if dashed else "[] 0 d"
        self._put(colour(ink, stroke=True), f"{width:g} w", dash, path, "S [] 0 d")

    def rect(self, x: float, y: float, w: float, h: float, ink: Ink, filled: bool = True) -> None:
        left, up = self._at(x, y + h)
        drawn = f"{left:.2f} {up:.2f} {w:.2f} {h:.2f} re {'f' if filled else 'S'}"
        self._put(colour(ink, stroke=not filled), *(() if filled else (f"{_OUTLINE:g} w",)), drawn)

    def polygon(self, points: Sequence[Point], ink: Ink, filled: bool = True) -> None:
        if filled:
            self._put(colour(ink), *self._path(points), "h f")
        else:
            self._put(colour(ink, stroke=True), f"{_OUTLINE:g} w", *self._path(points), "h S")

    def polyline(
        self, points: Sequence[Point], ink: Ink, width: float, dashed: bool = False
    ) -> None:
        if points:
            dash = "[4 3] 0 d" if dashed else "[] 0 d"
            path = self._path(points)
            self._put(colour(ink, stroke=True), f"{width:g} w", dash, *path, "S [] 0 d")

    def circle(self, x: float, y: float, r: float, ink: Ink, filled: bool = True) -> None:
        self._put(colour(ink, stroke=not filled), f"{_OUTLINE:g} w")
        c, (across, up) = r * _ROUND, self._at(x, y)
        self._put(f"{across + r:.2f} {up:.2f} m")
        for a, b, d, e, f, g in (
            (r, c, c, r, 0.0, r),
            (-c, r, -r, c, -r, 0.0),
            (-r, -c, -c, -r, 0.0, -r),
            (c, -r, r, -c, r, 0.0),
        ):
            curve = (across + a, up + b, across + d, up + e, across + f, up + g)
            self._put(" ".join(f"{each:.2f}" for each in curve) + " c")
        self._put("f" if filled else "h S")

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
        plain = self._fonts.printable(string)
        wide = self._fonts.of(bold=bold).width(plain) * size / 1000.0
        left, up = self._at(x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor], y)
        self._put(colour(ink), show(self._fonts, left, up, plain, size, bold=bold))

    def _at(self, x: float, y: float) -> Point:
        return self._x + x, self._y_top - y

    def _path(self, points: Sequence[Point]) -> list[str]:
        placed = [self._at(*point) for point in points]
        return [f"{x:.2f} {y:.2f} {'l' if place else 'm'}" for place, (x, y) in enumerate(placed)]

    def _put(self, *operators: str) -> None:
        self.operators += operators
