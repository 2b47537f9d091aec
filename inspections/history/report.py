"""The history report of a unit as a PDF: what an auditor takes away and can check later."""

from __future__ import annotations

from django.utils import timezone
from reportlab.pdfgen.canvas import Canvas

from fleet.dates import moment_words
from inspections.history.facts import History
from inspections.history.ledger_section import ledger_section
from inspections.history.record_sections import inspections_section, tables
from inspections.history.standing_section import standing_section
from ratings.paper.style import MARGIN, paper_pdf, small_print


def history_pdf(history: History) -> bytes:
    """Return the report's bytes."""
    printed, head = timezone.localtime(history.printed_at), history.head
    trace = f"head entry {head.sequence} {head.hash}" if head else "no ledger entry yet"

    def draw_foot(canvas: Canvas) -> None:
        words = f"printed {moment_words(printed)} {printed:%Z} by {history.printed_by}"
        small_print(canvas, 30, words)
        canvas.setFont("Courier", 6.8)
        canvas.drawString(MARGIN, 20, trace)

    return paper_pdf(
        [
            *standing_section(history),
            *ledger_section(history),
            *inspections_section(history),
            *tables(history),
        ],
        title=f"History of housing {history.housing.mark}",
        head=f"history of housing {history.housing.mark}",
        draw_foot=draw_foot,
        side=MARGIN,
        top=46,
        bottom=54,
    )
