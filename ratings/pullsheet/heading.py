"""The head of the sheet: what is pulled, with what, where and when; the verdict; the code."""

from __future__ import annotations

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer

from fleet.quantities import Quantity
from ratings.drawing.pdf import PdfSurface
from ratings.drawing.verdictshapes import draw_verdict
from ratings.extraction.amounts import margin_words
from ratings.paper.style import BODY, SMALL, WARN, paragraph
from ratings.pullsheet.code import draw_code
from ratings.pullsheet.facts import Sheet
from ratings.pullsheet.layout import (
    BAND,
    CODE,
    HEAD_BOTTOM,
    HEAD_WIDTH,
    MARGIN,
    PAGE_HEIGHT,
    PAGE_WIDTH,
    TOP,
    WIDTH,
    place,
)
from ratings.pullsheet.state import Word

TITLE = BODY.clone("sheet-title", fontName="Helvetica-Bold", fontSize=21, leading=24)
SITE = BODY.clone("sheet-site", fontName="Helvetica-Bold", fontSize=12, leading=14)
PILE = BODY.clone("sheet-pile", fontSize=11, leading=13.5)
STAMP = SMALL.clone("stamp", fontSize=8.6, leading=11)
CAPTION = SMALL.clone("caption", fontSize=8, leading=9.2, alignment=1)
VERDICT_SIZE = 12.0


def draw_head(canvas: Canvas, sheet: Sheet) -> None:
    record = sheet.record
    lines: list[Flowable] = [
        paragraph(f"Pull sheet {record.number}: {record.housing} on {record.hammer}", TITLE),
        paragraph(f"{record.site} · {record.days}", SITE),
        paragraph(_pile_words(sheet), PILE),
    ]
    place(canvas, lines, MARGIN, TOP, HEAD_WIDTH, TOP - HEAD_BOTTOM)
    _draw_code(canvas, sheet)


def draw_band(canvas: Canvas, sheet: Sheet) -> None:
    """Say across the top whether the sheet holds; loudly where it does not."""
    if sheet.state.word is Word.VALID:
        if sheet.printed:
            words = f"Valid when printed, {sheet.printed}. Scan the code: it may be void by now."
            place(canvas, [paragraph(words, STAMP)], MARGIN, PAGE_HEIGHT - 24, WIDTH, 14)
        return
    canvas.saveState()
    canvas.setFillColor(WARN)
    canvas.rect(0, PAGE_HEIGHT - BAND, PAGE_WIDTH, BAND, stroke=0, fill=1)
    words = f"{sheet.state.word.upper()}: {' '.join(sheet.state.reasons)}"
    style = BODY.clone(
        "band", fontName="Helvetica-Bold", fontSize=13, leading=15, textColor="white"
    )
    # Clear of the edge that an A4 page cuts off.
    place(canvas, [paragraph(words, style)], MARGIN, PAGE_HEIGHT - 8, WIDTH, BAND - 8)
    canvas.restoreState()


def draw_void(canvas: Canvas, sheet: Sheet) -> None:
    """Say it across the whole page too, so that no part of a copy passes for a sheet."""
    if not sheet.state.is_void:
        return
    canvas.saveState()
    canvas.setFillColor(WARN)
    canvas.setFillAlpha(0.16)
    canvas.setFont("Helvetica-Bold", 190)
    canvas.translate(PAGE_WIDTH / 2, PAGE_HEIGHT / 2 - 60)
    canvas.rotate(22)
    canvas.drawCentredString(0, 0, "VOID")
    canvas.restoreState()


def draw_verdict_line(canvas: Canvas, sheet: Sheet, x: float, top: float, width: float) -> None:
    """The verdict with its shape, and the check that governs."""
    verdict = sheet.verdict
    margin = "" if verdict.margin is None else f", {margin_words(verdict.margin)}"
    words = f"{verdict.verdict[0].upper()}{verdict.verdict[1:]}: {verdict.governing}{margin}"
    draw_verdict(PdfSurface(canvas, x, top), verdict.verdict, 0, 0, VERDICT_SIZE + 2)
    style = BODY.clone("verdict", fontName="Helvetica-Bold", fontSize=VERDICT_SIZE, leading=14)
    place(canvas, [paragraph(words, style), Spacer(0, 0)], x + 20, top, width - 20, 16)


def _draw_code(canvas: Canvas, sheet: Sheet) -> None:
    left = PAGE_WIDTH - MARGIN - CODE
    draw_code(canvas, sheet.url, left, TOP - CODE, CODE)
    words = "Scan before the pull: does this sheet still hold?"
    place(canvas, [paragraph(words, CAPTION)], left, TOP - CODE - 1, CODE, 20)


def _pile_words(sheet: Sheet) -> str:
    pile = sheet.job.pile
    length, embedment = (
        Quantity.DEPTH.words(value, sheet.system, 1)
        for value in (pile.length_ft, pile.embedment_ft)
    )
    return f"{pile.kind} pile, {length} long, {embedment} in the ground · {sheet.job.method}"
