"""The sheet on paper: one page on its side, so that the rule fits at true scale."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO

from reportlab.lib.pagesizes import landscape, letter
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, KeepInFrame, Paragraph, Spacer, Table, TableStyle

from fleet.figures import capacity_words, pull_words
from fleet.quantities import Quantity
from ratings.drawing.pdf import PdfSurface
from ratings.drawing.stoprule import HEIGHT, StopFigures, draw_stop_rule
from ratings.drawing.verdictshapes import draw_verdict
from ratings.paper.style import BODY, INK, RULE, SMALL, WARN, marked_up, paragraph, printable
from ratings.paper.words import when_words, who_words
from ratings.pullsheet.code import draw_code
from ratings.pullsheet.facts import Sheet
from ratings.pullsheet.limits import limit_rows
from ratings.pullsheet.steps import CAUTIONS, steps_of

PAGE_WIDTH, PAGE_HEIGHT = landscape(letter)
MARGIN = 36.0
WIDTH = PAGE_WIDTH - 2 * MARGIN
CODE_SIZE = 86.0
GUTTER = 18.0
COLUMN = (WIDTH - GUTTER) / 2
HEAD_BOTTOM = PAGE_HEIGHT - MARGIN - 68
BOXES_BOTTOM = HEAD_BOTTOM - 62
FOOT_TOP = MARGIN + 62
RULE_TOP = FOOT_TOP + HEIGHT + 2


def pull_sheet_pdf(sheet: Sheet) -> bytes:
    """Return the sheet's bytes: one page."""
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=(PAGE_WIDTH, PAGE_HEIGHT), invariant=1)
    canvas.setTitle(printable(f"Pull sheet {sheet.commitment.pk}, {sheet.commitment.housing}"))
    canvas.setAuthor("Line-Pull Ledger")
    _head(canvas, sheet)
    _boxes(canvas, sheet)
    _columns(canvas, sheet)
    _rule(canvas, sheet)
    _foot(canvas, sheet)
    if sheet.void:
        _void(canvas, sheet)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _head(canvas: Canvas, sheet: Sheet) -> None:
    made = sheet.commitment
    top = PAGE_HEIGHT - MARGIN
    draw_code(canvas, sheet.url, PAGE_WIDTH - MARGIN - CODE_SIZE, top - CODE_SIZE + 18, CODE_SIZE)
    room = WIDTH - CODE_SIZE - 14
    title = f"Pull sheet: {made.housing.mark} on {made.hammer.mark}"
    days = f"{made.first_day:%-d %b}"
    if made.last_day != made.first_day:
        days += f" to {made.last_day:%-d %b}"
    pile = sheet.job.pile
    length, embedment = (
        Quantity.DEPTH.words(value, sheet.system, 1)
        for value in (pile.length_ft, pile.embedment_ft)
    )
    where = f"{made.answer.contents['site']} · {days} {made.last_day:%Y}"
    what = f"{pile.kind} pile, {length} long, {embedment} in the ground · {sheet.job.method}"
    big = BODY.clone("sheet-title", fontName="Helvetica-Bold", fontSize=19, leading=22)
    _place(canvas, [Paragraph(marked_up(title), big)], MARGIN, top - 26, room, 26)
    lines: list[Flowable] = [
        paragraph(where, BODY.clone("where", fontSize=11, leading=13), bold=True),
        paragraph(what),
    ]
    _place(canvas, lines, MARGIN, HEAD_BOTTOM, room, 40)
    _verdict(canvas, sheet, MARGIN + room)


def _verdict(canvas: Canvas, sheet: Sheet, right: float) -> None:
    words, top = sheet.verdict.verdict, PAGE_HEIGHT - MARGIN - 20
    canvas.setFont("Helvetica-Bold", 12)
    canvas.setFillColor(INK)
    canvas.drawRightString(right - 8, top, words)
    left = right - 8 - canvas.stringWidth(words, "Helvetica-Bold", 12) - 20
    draw_verdict(PdfSurface(canvas, left, top + 12), words, 0, 0, 15)


def _boxes(canvas: Canvas, sheet: Sheet) -> None:
    """The figures the crew goes by, large."""
    results = sheet.commitment.answer.entry.results
    uncertainty = results["standard_uncertainty_lbf"]
    boxes = (
        ("Stretch not to pass", tape_words(sheet.stop_in, sheet.system)),
        ("Pull expected at the pads", pull_words(sheet.expected_lbf, sheet.system, uncertainty)),
        (
            "Working capacity at the stop line",
            capacity_words(sheet.capacity_lbf, sheet.system, uncertainty),
        ),
        ("Hook load to stop at", capacity_words(sheet.hook_stop_lbf, sheet.system, uncertainty)),
    )
    width = WIDTH / len(boxes)
    for place, (name, words) in enumerate(boxes):
        x = MARGIN + place * width
        canvas.setStrokeColor(WARN if place == 0 else RULE)
        canvas.setLineWidth(2.0 if place == 0 else 0.8)
        canvas.rect(x + 1, BOXES_BOTTOM + 8, width - 6, 44)
        head = SMALL.clone("box-name", fontSize=8.5)
        figure = BODY.clone("box-figure", fontName="Helvetica-Bold", fontSize=15, leading=17)
        lines: list[Flowable] = [paragraph(name, head), Spacer(0, 2), paragraph(words, figure)]
        _place(canvas, lines, x + 6, BOXES_BOTTOM + 9, width - 16, 41)


def _columns(canvas: Canvas, sheet: Sheet) -> None:
    height = BOXES_BOTTOM - RULE_TOP - 6
    style = TableStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("TOPPADDING", (0, 0), (-1, -1), 1.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
        ]
    )
    name_style = SMALL.clone("limit", fontSize=8.6, leading=10.6)
    rows = [[paragraph(name, name_style), paragraph(words, name_style, bold=True)]
            for name, words in limit_rows(sheet)]  # fmt: skip
    table = Table(rows, colWidths=[0.36 * COLUMN, 0.64 * COLUMN], style=style, hAlign="LEFT")
    _place(canvas, [table], MARGIN, RULE_TOP + 8, COLUMN, height)
    steps: list[Flowable] = []
    for number, step in enumerate(steps_of(sheet.job.is_vibrating), start=1):
        steps += [paragraph(f"{number}.  {step}", SMALL.clone("step", fontSize=9.6, leading=11.4))]
        steps += [Spacer(0, 3.2)]
    _place(canvas, steps, MARGIN + COLUMN + GUTTER, RULE_TOP + 8, COLUMN, height)


def _rule(canvas: Canvas, sheet: Sheet) -> None:
    figures = StopFigures(
        sheet.stop_in,
        sheet.expected_in,
        sheet.capacity_in,
        sheet.system,
        tape_words(sheet.stop_in, sheet.system),
    )
    draw_stop_rule(PdfSurface(canvas, MARGIN, RULE_TOP), figures, WIDTH)


def _foot(canvas: Canvas, sheet: Sheet) -> None:
    made, answer = sheet.commitment, sheet.commitment.answer
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.6)
    canvas.line(MARGIN, FOOT_TOP, PAGE_WIDTH - MARGIN, FOOT_TOP)
    words = (
        f"Rating: ledger entry {answer.entry.sequence} of {made.housing.mark}, "
        f"{answer.entry.hash}. Answer {answer.hash[:16]}…, committed "
        f"{when_words(answer.recorded_at)} by {who_words(answer.recorded_by)}."
    )
    tiny = SMALL.clone("foot", fontSize=7, leading=8.4)
    lines: list[Flowable] = [paragraph(CAUTIONS, tiny), paragraph(words, tiny)]
    _place(canvas, lines, MARGIN, MARGIN + 20, WIDTH, FOOT_TOP - MARGIN - 22)
    canvas.setFont("Helvetica", 7.5)
    third = WIDTH / 3
    for place, role in enumerate(("Dispatcher", "Crane operator", "Who watches the stretch")):
        x = MARGIN + place * third
        canvas.line(x, MARGIN + 8, x + third - 20, MARGIN + 8)
        canvas.drawString(x, MARGIN, role)


def _void(canvas: Canvas, sheet: Sheet) -> None:
    canvas.saveState()
    canvas.setFillColor(WARN)
    canvas.rect(0, PAGE_HEIGHT - 24, PAGE_WIDTH, 24, stroke=0, fill=1)
    canvas.setFillGray(1)
    canvas.setFont("Helvetica-Bold", 13)
    words = printable(f"VOID: {sheet.void}")
    canvas.drawString(MARGIN, PAGE_HEIGHT - 17, words[:110])
    canvas.setFillColor(WARN)
    canvas.setFillAlpha(0.16)
    canvas.setFont("Helvetica-Bold", 190)
    canvas.translate(PAGE_WIDTH / 2, PAGE_HEIGHT / 2 - 60)
    canvas.rotate(22)
    canvas.drawCentredString(0, 0, "VOID")
    canvas.restoreState()


def tape_words(stretch_in: float, system: str) -> str:
    """Return a stretch as a tape shows it, such as "5 5/8 in"; in SI in millimetres."""
    if system == "si":
        return Quantity.LENGTH.words(stretch_in, system)
    whole, sixteenths = divmod(round(stretch_in * 16), 16)
    if not sixteenths:
        return f"{whole} in"
    part = Fraction(sixteenths, 16)
    return f"{whole} {part.numerator}/{part.denominator} in"


def _place(
    canvas: Canvas, flowables: list[Flowable], x: float, y: float, width: float, height: float
) -> None:
    """Draw flowables from the top of a box, made smaller where they would not fit it."""
    held = KeepInFrame(width, height, flowables, mode="shrink")
    _, taken = held.wrapOn(canvas, width, height)
    held.drawOn(canvas, x, y + height - taken)
