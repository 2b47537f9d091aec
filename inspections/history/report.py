"""The history report of a unit as a PDF: what an auditor takes away and can check later."""

from __future__ import annotations

from functools import partial
from io import BytesIO

from django.utils import timezone
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import SimpleDocTemplate

from fleet.dates import moment_words
from inspections.history.facts import History
from inspections.history.ledger import ledger_section
from inspections.history.records import (
    findings_section,
    inspections_section,
    mountings_section,
    replacements_section,
    service_section,
)
from inspections.history.standing import standing_section
from ratings.paper.letters import write
from ratings.paper.style import MARGIN, PAGE, numbered_canvas

FONT = ("Helvetica", 7.5)


def head_and_foot(history: History, canvas: Canvas, number: int, pages: int) -> None:
    width, height = canvas._pagesize
    printed = timezone.localtime(history.printed_at)
    head = history.head
    title = f"Line-Pull Ledger · history of housing {history.housing.mark}"
    write(canvas, MARGIN, height - 26, title, *FONT)
    canvas.setFont(*FONT)
    canvas.drawRightString(width - MARGIN, height - 26, f"page {number} of {pages}")
    canvas.setLineWidth(0.5)
    canvas.line(MARGIN, height - 30, width - MARGIN, height - 30)
    canvas.line(MARGIN, 40, width - MARGIN, 40)
    printed_words = f"printed {moment_words(printed)} {printed:%Z} by {history.printed_by}"
    write(canvas, MARGIN, 30, printed_words, *FONT)
    canvas.setFont("Courier", 6.8)
    canvas.drawString(
        MARGIN, 20, f"head entry {head.sequence} {head.hash}" if head else "no ledger entry yet"
    )


def history_pdf(history: History) -> bytes:
    """Return the report's bytes."""
    buffer = BytesIO()
    document = SimpleDocTemplate(
        buffer,
        pagesize=PAGE,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=46,
        bottomMargin=54,
        title=f"History of housing {history.housing.mark}",
        author="Line-Pull Ledger",
        invariant=1,
    )
    story = [
        *standing_section(history),
        *ledger_section(history),
        *inspections_section(history),
        *replacements_section(history),
        *mountings_section(history),
        *service_section(history),
        *findings_section(history),
    ]
    document.build(story, canvasmaker=numbered_canvas(partial(head_and_foot, history)))
    return buffer.getvalue()
