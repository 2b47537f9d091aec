"""A sheet of labels as a PDF."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from io import BytesIO

from reportlab.lib.units import inch, mm
from reportlab.pdfgen.canvas import Canvas

from ratings.paper.letters import text_width, write
from ratings.paper.scan_code import draw_code


@dataclass(frozen=True)
class LabelStock:
    """A sheet of labels. All in points; margins to the first label's upper left corner."""

    name: str
    page: tuple[float, float]
    across: int
    down: int
    width: float
    height: float
    left: float
    top: float
    step_across: float
    step_down: float
    # Where labels fill the sheet to its edges, few printers reach the outermost of it.
    inset: float = field(default=3.0, kw_only=True)

    @property
    def many(self) -> int:
        return self.across * self.down

    def corner(self, place: int) -> tuple[float, float]:
        """Return the lower left corner of a label, places counted from 0 along the rows."""
        row, column = divmod(place, self.across)
        x = self.left + column * self.step_across
        return x, self.page[1] - self.top - row * self.step_down - self.height


LETTER, A4 = (612.0, 792.0), (210.0 * mm, 297.0 * mm)


def _stock(
    name: str,
    page: tuple[float, float],
    across: int,
    down: int,
    *measures: float,
    inset: float = LabelStock.inset,
) -> LabelStock:
    """measures: from the width of a label on, in inches on letter paper, in millimetres on A4."""
    scale = inch if page == LETTER else mm
    return LabelStock(name, page, across, down, *(each * scale for each in measures), inset=inset)


STOCKS = {
    "letter-10": _stock(
        "Letter, 10 to a sheet, 4 × 2 in", LETTER, 2, 5, 4.0, 2.0, 0.156, 0.5, 4.1875, 2.0
    ),
    "letter-30": _stock(
        "Letter, 30 to a sheet, 2⅝ × 1 in", LETTER, 3, 10, 2.625, 1.0, 0.1875, 0.5, 2.75, 1.0
    ),
    "a4-8": _stock(
        "A4, 8 to a sheet, 99.1 × 67.7 mm", A4, 2, 4, 99.1, 67.7, 4.65, 13.1, 101.6, 67.7
    ),
    "a4-24": _stock(
        "A4, 24 to a sheet, 70 × 37 mm",
        A4,
        3,
        8,
        70.0,
        37.0,
        0.0,
        0.5,
        70.0,
        37.0,
        inset=5.0 * mm,
    ),
}


PAD = 6.0
LEAST_POINTS = 6.0
BOLD, PLAIN = "Helvetica-Bold", "Helvetica"


@dataclass(frozen=True)
class Label:
    """One label: a mark to be read from afar, what it is, whose, and where its code leads."""

    mark: str
    what: str
    whose: str
    url: str


def labels_pdf(labels: Sequence[Label], stock: LabelStock, skip: int = 0) -> bytes:
    """Return the sheets; the first `skip` labels of the first one are used up already."""
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=stock.page, invariant=1)
    canvas.setTitle("Labels")
    for index, label in enumerate(labels, start=skip):
        place = index % stock.many
        if place == 0 and index:
            canvas.showPage()
        _draw(canvas, label, stock, place)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _draw(canvas: Canvas, label: Label, stock: LabelStock, place: int) -> None:
    x, y = stock.corner(place)
    width, height = stock.width - 2 * stock.inset, stock.height - 2 * stock.inset
    x, y = x + stock.inset, y + stock.inset
    size = min(height, 0.45 * width)
    draw_code(canvas, label.url, x, y + (height - size) / 2, size)
    left, room = x + size + PAD, width - size - PAD
    big = min(0.36 * height, 40.0)
    middle = y + height / 2
    _text(canvas, label.mark, BOLD, big, (left, middle + 0.02 * height), room)
    _text(canvas, label.what, PLAIN, 0.34 * big, (left, middle - 0.42 * big), room)
    _text(canvas, label.whose, PLAIN, 0.34 * big, (left, middle - 0.8 * big), room)


def _text(
    canvas: Canvas, text: str, font: str, size: float, at: tuple[float, float], room: float
) -> None:
    """Write a line, smaller where it would not fit, and no smaller than can be read."""
    fitting = room / max(text_width(text, font, 1.0), 0.01)
    size = min(size, max(fitting, LEAST_POINTS))
    canvas.setFillGray(0)
    write(canvas, *at, _cut(text, font, size, room), font, size)


def _cut(text: str, font: str, size: float, room: float) -> str:
    if text_width(text, font, size) <= room + 0.01:
        return text
    while text and text_width(f"{text}…", font, size) > room:
        text = text[:-1]
    return f"{text.rstrip()}…"
