"""Every page of the report names the unit, the head of its ledger, the time and its number."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from reportlab.lib.pagesizes import letter
from reportlab.pdfgen.canvas import Canvas

from inspections.history.facts import History
from inspections.history.style import printable

PAGE = letter
MARGIN = 42.0
WIDTH = PAGE[0] - 2 * MARGIN


def numbered_canvas(history: History) -> type[Canvas]:
    """Return a canvas that writes head and foot once it knows how many pages there are."""

    class NumberedCanvas(Canvas):
        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self._kept: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 - reportlab's name
            self._kept.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for number, page in enumerate(self._kept, start=1):
                self.__dict__.update(page)
                _head_and_foot(self, history, number, len(self._kept))
                super().showPage()
            super().save()

    return NumberedCanvas


def _head_and_foot(canvas: Canvas, history: History, number: int, pages: int) -> None:
    width, height = canvas._pagesize
    printed = timezone.localtime(history.printed_at)
    head = history.head
    canvas.setFont("Helvetica", 7.5)
    canvas.drawString(
        MARGIN,
        height - 26,
        printable(f"Line-Pull Ledger · history of housing {history.housing.mark}"),
    )
    canvas.drawRightString(width - MARGIN, height - 26, f"page {number} of {pages}")
    canvas.setLineWidth(0.5)
    canvas.line(MARGIN, height - 30, width - MARGIN, height - 30)
    canvas.line(MARGIN, 40, width - MARGIN, 40)
    printed_words = f"printed {printed:%d %b %Y %H:%M %Z} by {history.printed_by}"
    canvas.drawString(MARGIN, 30, printable(printed_words))
    canvas.setFont("Courier", 6.8)
    canvas.drawString(
        MARGIN, 20, f"head entry {head.sequence} {head.hash}" if head else "no ledger entry yet"
    )
