"""The stretch card as a PDF: to hang on the unit, its rule at true scale for the tape beside it."""

from __future__ import annotations

from io import BytesIO

from reportlab.lib.pagesizes import A3, A4, TABLOID, landscape, letter
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from fleet.dates import day_words
from fleet.quantities import capacity_words, listed_words, pull_words
from inspections.card.facts import Card, travel_words
from ratings.drawing.blade import POINTS_PER_IN
from ratings.drawing.pdf import PdfSurface
from ratings.drawing.pull_rule import Detail, draw_pull_rule, true_scale_width
from ratings.jobs.stops import cut_words
from ratings.paper.letters import write
from ratings.paper.scan_code import draw_code
from ratings.paper.style import BODY, INK, MARGIN, MONO, RULE, SMALL, WARN, paragraph
from ratings.pictures import rule_figures
from ratings.pullsheet.layout import place
from ratings.record.papers import Stamp, entry_lines
from ratings.record.seals import foot_words

# The smaller page first; what fits neither gets no card.
PAGES = {"us": (letter, TABLOID), "si": (A4, A3)}
CODE = 104.0
RULE_HEIGHT = 150.0
# So long is the line by which a print is held to a tape: its length in inches, and in words.
CHECK_LENGTHS = {"us": (4.0, "4 inches"), "si": (100.0 / 25.4, "100 millimetres")}

MARK = BODY.clone("card-mark", fontName="Helvetica-Bold", fontSize=30, leading=34)
WHAT = BODY.clone("card-what", fontSize=12, leading=15)
NAME = SMALL.clone("card-name", fontName="Helvetica-Bold", fontSize=9, leading=11)
FIGURE = BODY.clone("card-figure", fontName="Helvetica-Bold", fontSize=19, leading=22)
NOTE = SMALL.clone("card-note", fontSize=8.6, leading=10)
FLAG = BODY.clone(
    "card-flag", fontName="Helvetica-Bold", fontSize=13, leading=15, textColor="white"
)
CAUTION = SMALL.clone("card-caution", fontName="Helvetica-Bold", fontSize=9.6, leading=12)
CAUTIONS = (
    "Pads and housing are rated by measurement. The crane’s chart, rigging limits, the maker’s "
    "instructions, local code and a qualified person come first, and any of them may ask for less.",
    "Never pull to the stops while vibrating. Keep clear of a stretched line: it holds energy. "
    "Lock out before counting pads. Take this card off when a pad, the travel or the housing is "
    "changed.",
)


class TooLong(Exception):
    """A travel that no page shows at true scale."""


def stretch_card_pdf(card: Card, system: str, stamp: Stamp) -> bytes:
    """Return the card's bytes. Raises TooLong where its travel fits no page."""
    width, height = page_of(card, system)
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=(width, height), invariant=1)
    canvas.setTitle(stamp.stated.title)
    canvas.setAuthor("Line-Pull Ledger")
    top = height - 30.0
    _draw_head(canvas, card, stamp, width, top)
    top -= CODE + 22
    top -= _draw_flag(canvas, card, width, top)
    _draw_figures(canvas, card, system, width, top)
    top -= BOX + 14
    figures = rule_figures(card.head, system)
    rule = PdfSurface(canvas, MARGIN, top)
    draw_pull_rule(rule, figures, width - 2 * MARGIN, RULE_HEIGHT, Detail.TRUE_SCALE)
    _draw_check_line(canvas, system, top - RULE_HEIGHT - 18)
    words: list[Flowable] = [paragraph(each, CAUTION) for each in CAUTIONS]
    place(canvas, words, MARGIN, 106, width - 2 * MARGIN, 62)
    _draw_foot(canvas, card, stamp)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def page_of(card: Card, system: str) -> tuple[float, float]:
    """Return the page its rule fits on at true scale, on its side."""
    needed = true_scale_width(rule_figures(card.head, system)) + 2 * MARGIN
    for size in PAGES[system]:
        width, height = landscape(size)
        if needed <= width:
            return float(width), float(height)
    longest = (landscape(PAGES[system][-1])[0] - 2 * MARGIN) / POINTS_PER_IN - 1
    raise TooLong(
        f"Its travel of {travel_words(card.travel_in, system)} is longer than the "
        f"{travel_words(float(int(longest)), system)} that the largest page shows at true scale."
    )


def _draw_head(canvas: Canvas, card: Card, stamp: Stamp, width: float, top: float) -> None:
    on = f" on {card.hammer}" if card.hammer else ""
    lines: list[Flowable] = [
        paragraph(f"{card.housing.mark}{on}", MARK),
        paragraph(f"Stretch card · {card.housing.yard.name}", WHAT, bold=True),
        paragraph(
            "What the pads pull at each stretch. Rest is the first tick: the tape’s zero.",
            WHAT,
        ),
        paragraph(f"Valid until {day_words(card.until)}: {card.until_words}.", WHAT, bold=True),
    ]
    place(canvas, lines, MARGIN, top, width - 2 * MARGIN - CODE - 12, CODE + 10)
    left = width - MARGIN - CODE
    draw_code(canvas, stamp.url, left, top - CODE, CODE)
    caption = SMALL.clone("card-scan", alignment=1, fontSize=8, leading=9)
    said = [paragraph("Scan: does this card still hold?", caption)]
    place(canvas, said, left - 10, top - CODE - 1, CODE + 20, 12)


def _draw_flag(canvas: Canvas, card: Card, width: float, top: float) -> float:
    """Say loudly that the unit does not meet its listing; return the height taken."""
    if not card.head.judged.is_flagged:
        return 0.0
    canvas.setFillColor(WARN)
    canvas.rect(MARGIN, top - 22, width - 2 * MARGIN, 22, stroke=0, fill=1)
    said = f"FLAGGED: {card.head.judged.upper()}. It is not shown to meet a listed rating."
    words = [paragraph(said, FLAG)]
    place(canvas, words, MARGIN + 8, top - 2, width - 2 * MARGIN - 16, 20)
    return 30.0


BOX, GAP = 62.0, 8.0


def figures_of(card: Card, system: str) -> tuple[tuple[str, str, str], ...]:
    """Return the boxes from left to right: name, figure, and what there is to say of it."""
    head, listed_lbf = card.head, card.head.listed_lbf
    pull = pull_words(head.pull_lbf, system, listed_lbf=listed_lbf)
    capacity = capacity_words(head.working_capacity_lbf, system, listed_lbf=listed_lbf)
    return (
        ("Line pull", pull, "best estimate at the stretch not to pass"),
        ("Working capacity", capacity, "the yard stands behind no more"),
        (
            "Stretch not to pass",
            cut_words(card.usable_in, system),
            "from rest; while vibrating stop short of it by half the amplitude",
        ),
        ("Stops at", travel_words(card.travel_in, system), "the housing meets its stops there"),
        ("Listed", listed_words(listed_lbf, system), f"it {_stands(card)}"),
    )


def _stands(card: Card) -> str:
    standing = str(card.head.judged)
    return standing if standing.startswith("meets") else f"is {standing} against it"


def _draw_figures(canvas: Canvas, card: Card, system: str, width: float, top: float) -> None:
    boxes = figures_of(card, system)
    each = (width - 2 * MARGIN + GAP) / len(boxes)
    for number, (name, figure, note) in enumerate(boxes):
        x, is_stop = MARGIN + number * each, number == 2
        canvas.setStrokeColor(WARN if is_stop else RULE)
        canvas.setLineWidth(2.0 if is_stop else 0.8)
        canvas.rect(x, top - BOX, each - GAP, BOX)
        large, _, beside = figure.partition(" (")
        said = f"{beside.rstrip(')')}; {note}" if beside else note
        lines: list[Flowable] = [
            paragraph(name, NAME),
            paragraph(large, FIGURE),
            paragraph(said, NOTE),
        ]
        place(canvas, lines, x + 6, top - 4, each - GAP - 12, BOX - 8)


def _draw_check_line(canvas: Canvas, system: str, y: float) -> None:
    """Draw a line of a known length, by which a print that was made smaller is found."""
    inches, words = CHECK_LENGTHS[system]
    end = MARGIN + inches * POINTS_PER_IN
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(1.2)
    canvas.line(MARGIN, y, end, y)
    for x in (MARGIN, end):
        canvas.line(x, y - 5, x, y + 5)
    said = f"This line is {words} long. Hold it to the tape: where it is not, throw the card away"
    write(canvas, end + 10, y + 1, said, "Helvetica-Bold", 9)
    write(canvas, end + 10, y - 10, "and print it again at 100 %, not fitted to the page.",
          "Helvetica-Bold", 9)  # fmt: skip


def _draw_foot(canvas: Canvas, card: Card, stamp: Stamp) -> None:
    written = [
        paragraph(
            f"Code {stamp.code} · {stamp.url} · ledger " + "; ".join(entry_lines([card.head])),
            MONO,
        )
    ]
    place(canvas, written, MARGIN, 38, canvas._pagesize[0] - 2 * MARGIN, 20)
    write(canvas, MARGIN, 12, foot_words(stamp.code), "Helvetica", 6)
