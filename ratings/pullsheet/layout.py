"""Where what stands on the sheet: a letter page on its side, so that the rule fits at true scale.

Nothing but paper lies within 24 points of the short way's edges, so that it prints on A4 at 100 %
as well.
"""

from __future__ import annotations

from reportlab.lib.pagesizes import landscape, letter
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, KeepInFrame

from ratings.drawing.stop_rule import HEIGHT

PAGE_WIDTH, PAGE_HEIGHT = landscape(letter)
MARGIN = 36.0
WIDTH = PAGE_WIDTH - 2 * MARGIN
GUTTER = 16.0

# Where a sheet that holds no more says so.
BAND = 40.0
TOP = PAGE_HEIGHT - BAND - 2

CODE = 100.0
HEAD_WIDTH = WIDTH - CODE - 10
HEAD_BOTTOM = TOP - 60
BOXES = 63.0
BOXES_BOTTOM = HEAD_BOTTOM - BOXES

BOTTOM = 24.0
SIGN = 26.0
FOOT_TOP = BOTTOM + SIGN + 46
RULE_TOP = FOOT_TOP + HEIGHT
COLUMNS = BOXES_BOTTOM - RULE_TOP - 8


def place(
    canvas: Canvas, flowables: list[Flowable], x: float, top: float, width: float, height: float
) -> None:
    """Draw flowables from the top of a box, made smaller where they would not fit it."""
    held = KeepInFrame(width, height, flowables, mode="shrink")
    _, taken = held.wrapOn(canvas, width, height)
    held.drawOn(canvas, x, top - taken)
