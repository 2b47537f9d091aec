"""The foot of the sheet: cautions, what it rests on, and who signs."""

from __future__ import annotations

from reportlab.pdfgen.canvas import Canvas

from ratings.paper.style import INK, MONO, RULE, SMALL, paragraph
from ratings.pullsheet.facts import Sheet
from ratings.pullsheet.layout import BOTTOM, FOOT_TOP, MARGIN, PAGE_WIDTH, SIGN, WIDTH, place

SIGNERS = ("Dispatcher", "Crane operator", "Rigger", "Watches the stretch")
CAUTIONS = (
    "A screening aid: the crane’s chart, rigging limits, the maker’s instructions, local code and "
    "a qualified person come first. Never pull to the stops while vibrating. Lock out before "
    "counting pads. Void once the unit’s rating changes: pads counted otherwise, travel taped "
    "anew, a lot rated again."
)
CAUTION = SMALL.clone("sheet-caution", fontName="Helvetica-Bold", fontSize=8.6, leading=10)
TRACE = MONO.clone("sheet-trace", fontSize=6.8, leading=8)


def draw_foot(canvas: Canvas, sheet: Sheet) -> None:
    record = sheet.record
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.6)
    canvas.line(MARGIN, FOOT_TOP, PAGE_WIDTH - MARGIN, FOOT_TOP)
    lines = [
        paragraph(CAUTIONS, CAUTION),
        paragraph(
            f"rating  {record.entry_hash}  ledger entry {record.entry_sequence} of "
            f"{record.housing}",
            TRACE,
        ),
        paragraph(f"answer  {record.answer_hash}  committed {record.committed}", TRACE),
    ]
    place(canvas, [*lines], MARGIN, FOOT_TOP - 2, WIDTH, FOOT_TOP - BOTTOM - SIGN - 2)
    _draw_signers(canvas)


def _draw_signers(canvas: Canvas) -> None:
    room = WIDTH / len(SIGNERS)
    canvas.setStrokeColor(INK)
    canvas.setFillColor(INK)
    canvas.setFont("Helvetica", 8)
    for number, signer in enumerate(SIGNERS):
        x = MARGIN + number * room
        canvas.line(x, BOTTOM + 9, x + room - 14, BOTTOM + 9)
        canvas.drawString(x, BOTTOM, f"{signer}, name and time")
