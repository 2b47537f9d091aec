"""Tables of the certificate: figures to the right, and facts in pairs."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.enums import TA_CENTER, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Table

from ratings.paper.style import (
    BODY,
    CAUTION,
    CELL,
    HEADING,
    INK,
    WARN,
    WIDTH,
    cells,
    paragraph,
    ruled,
)

FIGURE = ParagraphStyle("figure", parent=CELL, alignment=TA_RIGHT)
FORMULA = ParagraphStyle("formula", parent=CELL, fontSize=8, leading=10.5)
SECTION = ParagraphStyle("section", parent=HEADING, fontSize=10, leading=12, spaceBefore=7)
SECTION.spaceAfter = 2
RESULT = ParagraphStyle("result", parent=BODY, fontName="Helvetica-Bold", fontSize=15, leading=20)
RESULT.spaceBefore = 4
FLAG = ParagraphStyle("flag", parent=BODY, fontName="Helvetica-Bold", fontSize=17, leading=22)
FLAG.textColor = WARN
END = ParagraphStyle("end", parent=CELL, alignment=TA_CENTER, spaceBefore=8)
BOXED = ParagraphStyle("boxed", parent=CAUTION, fontSize=7.5, leading=9.5, leftIndent=6)
BOXED.rightIndent = 6

# As the papers' grid, its rows closer.
_FIGURES = cells(3, 3, 1, 1.5, ruled(0.4), ("LINEBELOW", (0, 0), (-1, 0), 0.9, INK))
_PAIRS = cells(2, 4, 1, 2, ruled(0.3))

# More rows of figures than this stand in two columns side by side.
MOST_IN_ONE = 8

Fact = tuple[str, str]


def figures(
    header: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float], words: int = 0
) -> Table:
    """Return a ruled table of figures, its first columns (`words` of them) set as words."""
    styles = [CELL if column < words else FIGURE for column in range(len(header))]
    written = [
        [paragraph(text, style, bold=True) for text, style in zip(header, styles, strict=True)]
    ]
    written += [[paragraph(t, style) for t, style in zip(row, styles, strict=True)] for row in rows]
    return Table(written, colWidths=widths, repeatRows=1, style=_FIGURES, hAlign="LEFT")


def folded(
    header: Sequence[str],
    rows: Sequence[tuple[str, ...]],
    widths: Sequence[float],
    most: int = MOST_IN_ONE,
) -> Table:
    """Return the table, in two columns side by side where it is long."""
    if len(rows) <= most:
        return figures(header, rows, widths)
    half = (len(rows) + 1) // 2
    blank = ("",) * len(header)
    right = [*rows[half:], *([blank] * (2 * half - len(rows)))]
    gap = WIDTH - 2 * sum(widths)
    return figures(
        [*header, "", *header],
        [(*one, "", *other) for one, other in zip(rows[:half], right, strict=True)],
        [*widths, gap, *widths],
    )


def facts_in_pairs(facts: Sequence[Fact]) -> Table:
    """Return name and value of each fact, two facts to a row."""
    half = (len(facts) + 1) // 2
    left, right = list(facts[:half]), list(facts[half:])
    right += [("", "")] * (half - len(right))
    rows = [
        [paragraph(text, CELL, bold=place % 2 == 0) for place, text in enumerate(one + other)]
        for one, other in zip(left, right, strict=True)
    ]
    name = 92.0
    value = WIDTH / 2 - name
    return Table(rows, colWidths=[name, value, name, value], style=_PAIRS, hAlign="LEFT")
