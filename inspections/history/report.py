"""The history report of a unit as a PDF: what an auditor takes away and can check later."""

from __future__ import annotations

from functools import partial
from io import BytesIO

from reportlab.platypus import SimpleDocTemplate

from inspections.history.facts import History
from inspections.history.findings import findings_section
from inspections.history.inspections import inspections_section
from inspections.history.ledger import ledger_section
from inspections.history.pages import head_and_foot
from inspections.history.repairs import mountings_section, replacements_section
from inspections.history.service import service_section
from inspections.history.standing import standing_section
from ratings.paper.numbered import MARGIN, PAGE, numbered_canvas


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
