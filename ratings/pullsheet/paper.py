"""The sheet on paper: one page."""

from __future__ import annotations

from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from ratings.drawing.pdf import PdfSurface
from ratings.drawing.stoprule import StopFigures, draw_stop_rule
from ratings.pullsheet.boxes import draw_boxes, limit_name
from ratings.pullsheet.facts import Sheet
from ratings.pullsheet.foot import draw_foot
from ratings.pullsheet.heading import draw_band, draw_head, draw_verdict_line, draw_void
from ratings.pullsheet.layout import (
    BOXES_BOTTOM,
    COLUMNS,
    GUTTER,
    MARGIN,
    PAGE_HEIGHT,
    PAGE_WIDTH,
    RULE_TOP,
    WIDTH,
)
from ratings.pullsheet.limits import draw_limits
from ratings.pullsheet.steps import draw_steps
from ratings.pullsheet.tape import tape_words

LEFT = 0.44 * WIDTH
VERDICT = 20.0


def pull_sheet_pdf(sheet: Sheet) -> bytes:
    """Return the sheet's bytes: one page."""
    buffer, record = BytesIO(), sheet.record
    canvas = Canvas(buffer, pagesize=(PAGE_WIDTH, PAGE_HEIGHT), invariant=1)
    canvas.setTitle(f"Pull sheet {record.number}, {record.housing}")
    canvas.setAuthor("Line-Pull Ledger")
    draw_head(canvas, sheet)
    draw_boxes(canvas, sheet)
    _draw_columns(canvas, sheet)
    draw_stop_rule(PdfSurface(canvas, MARGIN, RULE_TOP), stop_figures(sheet), WIDTH)
    draw_foot(canvas, sheet)
    draw_void(canvas, sheet)
    draw_band(canvas, sheet)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def stop_figures(sheet: Sheet) -> StopFigures:
    """Return the rule's marks; where another limit comes before the pads', that one's."""
    words = tape_words(sheet.stop_in, sheet.system)
    if sheet.stops_before_line:
        words = f"{words}: {limit_name(sheet)}"
        return StopFigures(sheet.stop_in, sheet.expected_in, None, sheet.system, words)
    return StopFigures(sheet.stop_in, sheet.expected_in, sheet.capacity_in, sheet.system, words)


def _draw_columns(canvas: Canvas, sheet: Sheet) -> None:
    top = BOXES_BOTTOM - 6
    draw_verdict_line(canvas, sheet, MARGIN, top, LEFT)
    draw_limits(canvas, sheet, top - VERDICT, LEFT, COLUMNS - VERDICT)
    right = MARGIN + LEFT + GUTTER
    draw_steps(canvas, sheet, right, top, WIDTH - LEFT - GUTTER, COLUMNS)
