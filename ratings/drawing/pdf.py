"""The surface of paper: a reportlab canvas, with y turned to grow downwards."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from ratings.drawing.surface import Anchor, Ink, Point, Surface

# Dark enough for a black-and-white printer.
_COLOURS = {
    Ink.INK: HexColor("#1b1b18"),
    Ink.FAINT: HexColor("#4a4942"),
    Ink.GRID: HexColor("#c9c6ba"),
    Ink.PAPER: HexColor("#ffffff"),
    Ink.ACCENT: HexColor("#0b5c63"),
    Ink.WARN: HexColor("#9a3412"),
    Ink.BAND: HexColor("#d3e4e4"),
}
_OUTLINE = 1.0
_FONTS = {False: "Helvetica", True: "Helvetica-Bold"}


class PdfSurface:
    """Draws on a reportlab canvas, its top left corner at (x, y_top) in points."""

    def __init__(self, canvas: Canvas, x: float, y_top: float, scale: float = 1.0) -> None:
        self._canvas = canvas
        self._x = x
        self._y_top = y_top
        self._scale = scale

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
        self.polyline(((x1, y1), (x2, y2)), ink, width, dashed)

    def rect(self, x: float, y: float, w: float, h: float, ink: Ink, filled: bool = True) -> None:
        self._set(ink, filled)
        left, bottom = self._at(x, y + h)
        size = (w * self._scale, h * self._scale)
        self._canvas.rect(left, bottom, *size, stroke=int(not filled), fill=int(filled))

    def polygon(self, points: Sequence[Point], ink: Ink, filled: bool = True) -> None:
        self._set(ink, filled)
        self._path(points, closed=True, filled=filled)

    def polyline(
        self, points: Sequence[Point], ink: Ink, width: float, dashed: bool = False
    ) -> None:
        self._set(ink, filled=False, width=width)
        if dashed:
            self._canvas.setDash([4 * self._scale, 3 * self._scale])
        self._path(points, closed=False, filled=False)
        self._canvas.setDash([])

    def circle(self, x: float, y: float, r: float, ink: Ink, filled: bool = True) -> None:
        self._set(ink, filled)
        across, up = self._at(x, y)
        self._canvas.circle(across, up, r * self._scale, stroke=int(not filled), fill=int(filled))

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
        self._canvas.setFillColor(_COLOURS[ink])
        self._canvas.setFont(_FONTS[bold], size * self._scale)
        write = {
            "start": self._canvas.drawString,
            "middle": self._canvas.drawCentredString,
            "end": self._canvas.drawRightString,
        }[anchor]
        write(*self._at(x, y), string)

    def _at(self, x: float, y: float) -> Point:
        return round(self._x + x * self._scale, 2), round(self._y_top - y * self._scale, 2)

    def _set(self, ink: Ink, filled: bool, width: float = _OUTLINE) -> None:
        if filled:
            self._canvas.setFillColor(_COLOURS[ink])
            return
        self._canvas.setStrokeColor(_COLOURS[ink])
        self._canvas.setLineWidth(width * self._scale)

    def _path(self, points: Sequence[Point], closed: bool, filled: bool) -> None:
        if not points:
            return
        path = self._canvas.beginPath()
        path.moveTo(*self._at(*points[0]))
        for point in points[1:]:
            path.lineTo(*self._at(*point))
        if closed:
            path.close()
        self._canvas.drawPath(path, stroke=int(not filled), fill=int(filled))


class DrawingFlowable(Flowable):  # type: ignore[misc, unused-ignore]
    """A picture among the paragraphs of a paper. scale: what it is brought down to from draw's."""

    def __init__(
        self, width: float, height: float, draw: Callable[[Surface], None], scale: float = 1.0
    ) -> None:
        super().__init__()
        self.width = width
        self.height = height
        self._draw = draw
        self._scale = scale

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        self.canv.saveState()
        self._draw(PdfSurface(self.canv, 0.0, self.height, self._scale))
        self.canv.restoreState()
