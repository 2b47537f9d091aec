"""The page of a pull sheet, front and back, and words that both sides use."""

from __future__ import annotations

from reportlab.lib.pagesizes import landscape, letter
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, KeepInFrame

from fleet.quantities import Quantity
from ratings.jobs.stops import tape_words
from ratings.pullsheet.facts import Sheet

PAGE_WIDTH, PAGE_HEIGHT = landscape(letter)
MARGIN = 36.0
WIDTH = PAGE_WIDTH - 2 * MARGIN
GUTTER = 16.0


def place(
    canvas: Canvas, flowables: list[Flowable], x: float, top: float, width: float, height: float
) -> float:
    """Draw flowables from the top of a box, made smaller where they would not fit it.

    Returns the height they took.
    """
    frame = KeepInFrame(width, height, flowables, mode="shrink")
    _, taken = frame.wrapOn(canvas, width, height)
    frame.drawOn(canvas, x, top - taken)
    return float(taken)


def force_words(value: float, sheet: Sheet) -> str:
    """Return a force in full, such as "120,000 lbf"."""
    return Quantity.FORCE.words(value, sheet.system, 0 if sheet.system == "us" else 1)


def stop_words(stop_in: float, is_by_load: bool, sheet: Sheet) -> str:
    """Return where a pull stops by the tape, or that the load indicator alone tells."""
    tape = tape_words(stop_in, sheet.system)
    return f"load indicator; never past {tape}" if is_by_load else tape
