"""The sheet's table: what is under the hook, what it may be pulled with, and by what limits."""

from __future__ import annotations

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Table, TableStyle

from fleet.figures import capacity_words, pull_words
from fleet.quantities import Quantity, plain_number
from ratings.extraction.amounts import about, at_most
from ratings.extraction.rangewords import range_words
from ratings.mechanics.extraction.verdict import CheckKey
from ratings.paper.style import RULE, SMALL, paragraph
from ratings.pullsheet.facts import Sheet
from ratings.pullsheet.layout import MARGIN, place

NAME = SMALL.clone("limit-name", fontSize=9, leading=10.8)
STYLE = TableStyle(
    [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 2),
        ("TOPPADDING", (0, 0), (-1, -1), 1.2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.4),
    ]
)
MOST_UNSOUND = 6


def draw_limits(canvas: Canvas, sheet: Sheet, top: float, width: float, height: float) -> None:
    rows = [
        [paragraph(name, NAME), paragraph(words, NAME, bold=True)]
        for name, words in limit_rows(sheet)
    ]
    table = Table(rows, colWidths=[58, width - 58], style=STYLE, hAlign="LEFT")
    place(canvas, [table], MARGIN, top, width, height)


def limit_rows(sheet: Sheet) -> list[tuple[str, str]]:
    """Return the rows, each a name and its words."""
    return [
        ("Pads", _pads(sheet)),
        ("Rating", _rating(sheet)),
        ("At the pads", _at_pads(sheet)),
        ("Crane", _crane(sheet)),
        ("Rigging", _rigging(sheet)),
        ("Clamp, pile", _clamp_and_pile(sheet)),
        ("The ground", range_words(sheet.verdict, sheet.ground.high_lbf, sheet.system)),
    ]


def _pads(sheet: Sheet) -> str:
    results = sheet.record.results
    lots = ", ".join(f"{lot['count']} of {lot['lot']}" for lot in results["lots"])
    words = f"{results['sound_pads']} sound of {results['positions']} ({lots})"
    unsound = [
        f"{each['side']}{each['number']} {each['condition'] or 'not counted'}"
        for each in sheet.record.positions
        if each["condition"] != "sound"
    ]
    if not unsound:
        return words
    more = len(unsound) - MOST_UNSOUND
    rest = f" and {more} more" if more > 0 else ""
    return f"{words}; not sound: {', '.join(unsound[:MOST_UNSOUND])}{rest}"


def _rating(sheet: Sheet) -> str:
    results = sheet.record.results
    uncertainty = results["standard_uncertainty_lbf"]
    pull = pull_words(results["pull_lbf"], sheet.system, uncertainty)
    capacity = capacity_words(results["working_capacity_lbf"], sheet.system, uncertainty)
    travel = Quantity.LENGTH.words(sheet.unit.usable_travel_in or 0.0, sheet.system)
    return f"{sheet.unit.standing}; line pull {pull} at {travel}, working capacity {capacity}"


def _at_pads(sheet: Sheet) -> str:
    ground = sheet.ground
    held, low, high = (
        about(each, sheet.system)
        for each in (ground.resistance_lbf, ground.low_lbf, ground.high_lbf)
    )
    plug = ", plug" if any(step.name == "plug" for step in sheet.path.steps) else ""
    hanging = about(sheet.hanging_lb, sheet.system)
    return f"the ground’s hold {held} ({low} to {high}); pile{plug}, clamp and exciter {hanging}"


def _crane(sheet: Sheet) -> str:
    above = _force((sheet.path.at_crane_lbf or 0.0) - sheet.expected_lbf, sheet)
    chart = _force(sheet.job.crane.capacity_lbf or 0.0, sheet)
    left = _left(CheckKey.CRANE, sheet)
    return (
        f"chart allows {chart}; less block, rigging and housing {above} leaves {left} at the pads"
    )


def _rigging(sheet: Sheet) -> str:
    crane = sheet.job.crane
    limit = _force(crane.rigging_limit_lbf or 0.0, sheet)
    left = _left(CheckKey.RIGGING, sheet)
    lead = f"working load limit {limit}"
    if crane.legs > 1 or crane.leg_angle_deg < 90.0:
        counted = ", two of them counted" if crane.legs > crane.bearing_legs else ""
        legs = f"{crane.legs} leg{'' if crane.legs == 1 else 's'}"
        angle = plain_number(crane.leg_angle_deg, 1)
        lead += f" each of {legs} at {angle}° from level{counted}"
    return f"{lead}; leaves {left} at the pads"


def _clamp_and_pile(sheet: Sheet) -> str:
    clamp, pile = (_left(key, sheet) for key in (CheckKey.CLAMP, CheckKey.TENSION))
    return f"the clamp grips up to {clamp} at the pads, the pile bears up to {pile} there"


def _left(key: CheckKey, sheet: Sheet) -> str:
    return at_most(sheet.stops.at_pads_lbf[key], sheet.system)


def _force(value: float, sheet: Sheet) -> str:
    return Quantity.FORCE.words(value, sheet.system, 0 if sheet.system == "us" else 1)
