"""The figures the crew goes by, large."""

from __future__ import annotations

from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from fleet.figures import LBF_PER_US_TON, capacity_words
from fleet.quantities import Quantity
from ratings.extraction.amounts import about
from ratings.mechanics.extraction.verdict import CheckKey
from ratings.paper.style import BODY, RULE, SMALL, WARN, paragraph
from ratings.pullsheet.facts import Sheet
from ratings.pullsheet.layout import BOXES, BOXES_BOTTOM, HEAD_WIDTH, MARGIN, place
from ratings.pullsheet.tape import cut_words, tape_words

WHOSE = {
    CheckKey.LINE_PULL: "the pads’",
    CheckKey.CRANE: "the crane’s",
    CheckKey.RIGGING: "the rigging’s",
    CheckKey.CLAMP: "the clamp’s",
    CheckKey.TENSION: "the pile’s",
}
NAME = SMALL.clone("box-name", fontName="Helvetica-Bold", fontSize=8.6, leading=10.5)
FIGURE = BODY.clone("box-figure", fontName="Helvetica-Bold", fontSize=20, leading=23)
NOTE = SMALL.clone("box-note", fontSize=8.4, leading=9.8)
GAP = 6.0


@dataclass(frozen=True)
class Figure:
    """A box: its name, its figure, and what there is to say of it."""

    name: str
    words: str
    note: str


def figures_of(sheet: Sheet) -> tuple[Figure, ...]:
    """Return the boxes from left to right."""
    return (_stop(sheet), _expected(sheet), _capacity(sheet), _hook(sheet))


def draw_boxes(canvas: Canvas, sheet: Sheet) -> None:
    figures = figures_of(sheet)
    width = (HEAD_WIDTH + GAP) / len(figures)
    for number, figure in enumerate(figures):
        x = MARGIN + number * width
        is_stop = number == 0
        canvas.setStrokeColor(WARN if is_stop else RULE)
        canvas.setLineWidth(2.0 if is_stop else 0.8)
        canvas.rect(x, BOXES_BOTTOM, width - GAP, BOXES - 2)
        lines: list[Flowable] = [
            paragraph(figure.name, NAME),
            paragraph(figure.words, FIGURE),
            paragraph(figure.note, NOTE),
        ]
        place(canvas, lines, x + 5, BOXES_BOTTOM + BOXES - 4, width - GAP - 9, BOXES - 6)


def limit_name(sheet: Sheet) -> str:
    """Return whose limit the hook load to stop at is."""
    return f"{WHOSE[sheet.stops.by]} limit"


def _stop(sheet: Sheet) -> Figure:
    if sheet.stops_before_line:
        own = tape_words(sheet.pads_stop_in, sheet.system)
        note = f"from rest: there {limit_name(sheet)} is reached, before the pads’ own {own}"
        return Figure("Stretch not to pass", tape_words(sheet.stop_in, sheet.system), note)
    travel = Quantity.LENGTH.words(sheet.unit.usable_travel_in or 0.0, sheet.system)
    note = f"from rest: the usable travel of {travel}"
    if sheet.job.is_vibrating:
        note += " less half the amplitude"
    return Figure("Stretch not to pass", tape_words(sheet.stop_in, sheet.system), note)


def _expected(sheet: Sheet) -> Figure:
    low, high = (
        _aloud(sheet.hanging_lb + each, sheet.system)
        for each in (sheet.ground.low_lbf, sheet.ground.high_lbf)
    )
    beside = _beside(about(sheet.expected_lbf, sheet.system), sheet)
    note = f"{beside}{_at(sheet.expected_in, sheet)}; the ground’s range {low} to {high}"
    words = _aloud(sheet.expected_lbf, sheet.system)
    return Figure("Pull expected at the pads", words, note)


def _capacity(sheet: Sheet) -> Figure:
    words, beside = _stood_behind(sheet.capacity_lbf, sheet)
    note = f"{beside}{_at(sheet.capacity_in, sheet)}; the yard stands behind no more"
    return Figure("Working capacity", words, note)


def _hook(sheet: Sheet) -> Figure:
    words, beside = _stood_behind(sheet.stops.hook_lbf, sheet)
    note = f"{beside}block and all: {limit_name(sheet)}"
    if sheet.stops_before_line:
        note += ", at the stop line"
    return Figure("Hook load to stop at", words, note)


def _stood_behind(force_lbf: float, sheet: Sheet) -> tuple[str, str]:
    """Return a force rounded down, large, and what stands beside it."""
    uncertainty = sheet.record.results["standard_uncertainty_lbf"]
    words = capacity_words(force_lbf, sheet.system, uncertainty)
    aloud, _, beside = words.partition(" (")
    return aloud, _beside(beside.rstrip(")"), sheet)


def _aloud(force_lbf: float, system: str) -> str:
    """Return a force that hangs on the ground, as it is read aloud."""
    if system == "si":
        return about(force_lbf, system)
    return f"{force_lbf / LBF_PER_US_TON:,.1f} tons"


def _beside(words: str, sheet: Sheet) -> str:
    return f"{words}, " if sheet.system == "us" else ""


def _at(stretch_in: float | None, sheet: Sheet) -> str:
    return "" if stretch_in is None else f"at about {cut_words(stretch_in, sheet.system)}"
