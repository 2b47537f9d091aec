"""How papers look and read: paragraphs, tables, the page and its margins."""

from __future__ import annotations

import re
from collections.abc import Sequence
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import letter
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph, Table, TableStyle

from ratings.paper.letters import WIDER, is_standard, printable, write

INK = colors.HexColor("#1b1b18")
RULE = colors.HexColor("#b9b5a6")
WARN = colors.HexColor("#9a3412")

# What the standard text font lacks and its symbol font has.
SYMBOLS = frozenset("Σστνπ√≥≤∞")
RAISED = {
    "⁴": '<super rise="3" size="6">4</super>',
    "₀": '<sub rise="2" size="6">0</sub>',
    "₁": '<sub rise="2" size="6">1</sub>',
}

BODY = ParagraphStyle("body", fontName="Helvetica", fontSize=9, leading=11.5, textColor=INK)
SMALL = ParagraphStyle("small", parent=BODY, fontSize=7.5, leading=9.5)
CELL = ParagraphStyle("cell", parent=SMALL, alignment=TA_LEFT)
MONO = ParagraphStyle("mono", parent=SMALL, fontName="Courier", fontSize=7, leading=8.5)
TITLE = ParagraphStyle("title", parent=BODY, fontName="Helvetica-Bold", fontSize=16, leading=20)
HEADING = ParagraphStyle(
    "heading",
    parent=BODY,
    fontName="Helvetica-Bold",
    fontSize=11,
    leading=14,
    spaceBefore=10,
    spaceAfter=4,
    keepWithNext=True,
)
CAUTION = ParagraphStyle(
    "caution", parent=BODY, borderColor=WARN, borderWidth=0.8, borderPadding=5, spaceBefore=8,
    spaceAfter=8,
)  # fmt: skip

_WHOLE = ((0, 0), (-1, -1))


def cells(
    left: float, right: float, top: float, bottom: float, *commands: Sequence[object]
) -> TableStyle:
    """Return a style of cells, their words at the top, so far from their edges in points."""
    sides = {"LEFT": left, "RIGHT": right, "TOP": top, "BOTTOM": bottom}
    padding = [(f"{side}PADDING", *_WHOLE, points) for side, points in sides.items()]
    return TableStyle([("VALIGN", *_WHOLE, "TOP"), *padding, *commands])


def ruled(width: float) -> tuple[object, ...]:
    """Return a line below every row."""
    return ("LINEBELOW", *_WHOLE, width, RULE)


GRID = cells(3, 3, 2, 3, ruled(0.4), ("LINEBELOW", (0, 0), (-1, 0), 0.9, INK))


def marked_up(text: str) -> str:
    """Return text as a paragraph takes it: nothing in it is markup, letters of all fonts kept."""
    words = re.split(r"(\s+)", text)
    return "".join(map(_marked_up_word, words)).replace("\n", "<br/>")


def _marked_up_word(word: str) -> str:
    plain = printable("".join(each for each in word if each not in SYMBOLS and each not in RAISED))
    if not all(map(is_standard, plain)):
        # One font for all of a word.
        return f'<font face="{WIDER}">{escape(printable(word))}</font>'
    parts = (RAISED.get(each) or _in_symbols(each) or escape(printable(each)) for each in word)
    return "".join(parts)


def _in_symbols(character: str) -> str:
    return f'<font face="Symbol">{character}</font>' if character in SYMBOLS else ""


def paragraph(
    text: str,
    style: ParagraphStyle = BODY,
    *,
    bold: bool = False,
    anchor: str = "",
    link: str = "",
) -> Paragraph:
    """Return a paragraph of plain text; nothing in it is taken for markup.

    anchor: the name of this place in the paper. link: the place in it that the text leads to.
    """
    safe = marked_up(text)
    if bold:
        safe = f"<b>{safe}</b>"
    if link:
        safe = f'<a href="#{link}">{safe}</a>'
    return Paragraph(f'<a name="{anchor}"/>{safe}' if anchor else safe, style)


def table(header: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float]) -> Table:
    """Return a ruled table whose header repeats on every page."""
    written = [[paragraph(text, CELL, bold=True) for text in header]]
    written += [[paragraph(text, CELL) for text in row] for row in rows]
    return Table(written, colWidths=widths, repeatRows=1, style=GRID, hAlign="LEFT")


PAGE = letter
MARGIN = 42.0
WIDTH = PAGE[0] - 2 * MARGIN

SMALL_PRINT = ("Helvetica", 7.5)
# The library keeps so much inside its margins; the text shall reach them.
FRAME_PADDING = 6.0


def small_print(canvas: Canvas, y: float, text: str) -> None:
    """Write a line of a page's head or foot, whatever letters it has."""
    write(canvas, MARGIN, y, text, *SMALL_PRINT)
