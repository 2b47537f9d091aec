"""The code on the sheet: squares that lead a phone to the commitment's page."""

from __future__ import annotations

from itertools import groupby

import segno
from reportlab.pdfgen.canvas import Canvas

# A quiet zone of four squares all around, as ISO/IEC 18004 asks.
QUIET = 4


def code_matrix(text: str) -> tuple[tuple[bool, ...], ...]:
    """Return the squares of the code for a text, dark or not, quiet zone and all."""
    code = segno.make(text, error="m", micro=False)
    return tuple(tuple(bool(dark) for dark in row) for row in code.matrix_iter(border=QUIET))


def dark_runs(text: str) -> tuple[int, list[tuple[int, int, int]]]:
    """Return how many squares a side of the code has, and its dark squares, run by run in a row.

    Of each run: how far from the left and from the top it begins, and how many squares it has.
    """
    rows, runs = code_matrix(text), []
    for down, row in enumerate(rows):
        across = 0
        for is_dark, squares in groupby(row):
            many = len(list(squares))
            if is_dark:
                runs.append((across, down, many))
            across += many
    return len(rows), runs


def draw_code(canvas: Canvas, text: str, x: float, y: float, size: float) -> None:
    """Draw the code of a text in a square whose lower left corner is (x, y)."""
    rows = code_matrix(text)
    unit = size / len(rows)
    canvas.setFillGray(0)
    for down, row in enumerate(rows):
        for across, dark in enumerate(row):
            if dark:
                # A hair wider, so that no printer leaves gaps between squares.
                top = y + size - (down + 1) * unit
                canvas.rect(x + across * unit, top, unit * 1.02, unit * 1.02, stroke=0, fill=1)
