"""Every page of the report names the unit, the head of its ledger, the time and its number."""

from __future__ import annotations

from django.utils import timezone
from reportlab.pdfgen.canvas import Canvas

from fleet.dates import moment_words
from inspections.history.facts import History
from ratings.paper.letters import write
from ratings.paper.numbered import MARGIN

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
