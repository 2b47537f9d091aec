"""A sheet of labels as a PDF."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from inspections.labels.stocks import LabelStock
from ratings.paper.letters import text_width, write
from ratings.paper.scan_code import draw_code

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
