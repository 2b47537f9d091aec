"""Every page of the certificate names the rating, its state and its own number."""

from __future__ import annotations

from reportlab.pdfgen.canvas import Canvas

from ratings.certificate.facts import Certificate
from ratings.paper.letters import write
from ratings.paper.numbered import MARGIN

FONT = ("Helvetica", 7.5)


def head_and_foot(certificate: Certificate, canvas: Canvas, number: int, pages: int) -> None:
    width, height = canvas._pagesize
    rating = certificate.rating
    title = (
        f"Line-Pull Ledger · spring rate certificate {rating.pk} · lot {rating.lot.mark} · "
        f"{certificate.state.upper()}"
    )
    write(canvas, MARGIN, height - 26, title, *FONT)
    canvas.setFont(*FONT)
    canvas.drawRightString(width - MARGIN, height - 26, f"page {number} of {pages}")
    canvas.setLineWidth(0.5)
    canvas.line(MARGIN, height - 30, width - MARGIN, height - 30)
    canvas.line(MARGIN, 40, width - MARGIN, 40)
    canvas.drawString(
        MARGIN,
        30,
        "The figures hold for the pads tested, and for their lot by the spread stated. "
        "Copy it whole or not at all.",
    )
