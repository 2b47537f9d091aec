"""The history report of a unit as a PDF: what an auditor takes away and can check later."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import datetime
from io import BytesIO

from django.contrib.auth.models import User
from django.utils import timezone
from reportlab.lib.pagesizes import letter
from reportlab.platypus import (
    Flowable,
    KeepTogether,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from fleet.figures import capacity_words, force_words, pull_words, share_words
from fleet.quantities import Quantity
from inspections.history.facts import History
from inspections.history.pages import MARGIN, numbered_canvas
from inspections.history.style import (
    BODY,
    CAUTION,
    CELL,
    HEADING,
    MONO,
    RULE,
    SMALL,
    TITLE,
    paragraph,
    table,
)
from inspections.models import Inspection, PadCount, PadReplacement
from ratings.arithmetic import hand_arithmetic
from ratings.drawing.padmap import PadCell, draw_pad_map, pad_map_height
from ratings.drawing.pdf import DrawingFlowable
from ratings.drawing.pullhistory import draw_pull_history
from ratings.drawing.pullrule import Detail, draw_pull_rule
from ratings.ledger.differences import differences, pull_change_lbf
from ratings.mechanics.standing import Standing
from ratings.models import LedgerEntry
from ratings.pictures import history_points, rule_figures

WIDTH = letter[0] - 2 * MARGIN
PAD_MAP_WIDTH = 380.0
CAUTION_WORDS = (
    "Pads and housing are rated by measurement. The crane’s chart, rigging limits, the maker’s "
    "instructions, local code and a qualified person come first. Never pull to the stops while "
    "vibrating. Lock out before counting pads."
)
CONDITION_LETTERS = {
    "sound": "S",
    "cracked": "C",
    "debonded": "D",
    "swollen": "W",
    "missing": "M",
}
LEGEND = "S sound, C cracked, D debonded, W swollen, M missing; beside the letter the pad's lot."
PAD_GRID = TableStyle(
    [
        ("GRID", (1, 1), (-1, -1), 0.4, RULE),
        ("LEFTPADDING", (0, 0), (-1, -1), 1.5),
        ("RIGHTPADDING", (0, 0), (-1, -1), 1.5),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ]
)


def history_pdf(history: History) -> bytes:
    """Return the report's bytes."""
    buffer = BytesIO()
    document = SimpleDocTemplate(
        buffer,
        pagesize=letter,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=46,
        bottomMargin=54,
        title=f"History of housing {history.housing.mark}",
        author="Line-Pull Ledger",
        invariant=1,
    )
    story = [
        *_standing_now(history),
        *_ledger(history),
        *_inspections(history),
        *_replacements(history),
        *_mountings(history),
    ]
    document.build(story, canvasmaker=numbered_canvas(history))
    return buffer.getvalue()


def _standing_now(history: History) -> Iterator[Flowable]:
    housing, head = history.housing, history.head
    standing = head.judged if head else Standing.UNRATED
    yield paragraph(f"History of housing {housing.mark}", TITLE)
    yield paragraph(f"{history.hammer_words} · {housing.yard.name}")
    if housing.bumper:
        yield paragraph(f"Bumper in the stop: {housing.bumper}")
    yield paragraph(f"Standing now: {standing}", HEADING)
    if standing.is_flagged:
        yield paragraph("FLAGGED: this unit is not shown to meet a listed rating.", bold=True)
    if head is None:
        yield paragraph("Its pads were never counted and its travel never taped.")
    else:
        yield from _figures(history, head)
    yield paragraph(CAUTION_WORDS, CAUTION)


def _figures(history: History, head: LedgerEntry) -> Iterator[Flowable]:
    system, results = history.system, head.results
    uncertainty_lbf = results["standard_uncertainty_lbf"]
    if results["missing"]:
        yield paragraph(f"Missing: {', '.join(results['missing'])}.")
    rule = rule_figures(head, system)
    yield DrawingFlowable(
        WIDTH, 150, lambda surface: draw_pull_rule(surface, rule, WIDTH, 150, Detail.LARGE)
    )
    yield Spacer(1, 6)
    travel = head.inputs["travel_in"]
    yield table(
        ("Line pull", "Working capacity", "Listed", "Share", "Sound pads", "Travel", "Usable"),
        [
            (
                pull_words(head.pull_lbf, system, uncertainty_lbf),
                capacity_words(head.working_capacity_lbf, system, uncertainty_lbf),
                pull_words(head.listed_lbf, system),
                share_words(head.share_of_listed),
                f"{head.sound_pads} of {head.positions}",
                _length(travel, system),
                _usable_words(head, system),
            )
        ],
        (100, 100, 92, 40, 58, 52, 86),
    )
    yield from _arithmetic(history, head)
    yield KeepTogether(list(_pads_now(head)))


def _usable_words(entry: LedgerEntry, system: str) -> str:
    limit = entry.results["limited_by"]
    words = _length(entry.usable_travel_in, system)
    return f"{words}, limited by {limit}" if limit else words


def _length(value: float | None, system: str) -> str:
    return "not taped" if value is None else Quantity.LENGTH.words(value, system)


def _arithmetic(history: History, head: LedgerEntry) -> Iterator[Flowable]:
    reckoning = hand_arithmetic(head)
    if reckoning is None:
        return
    system = history.system
    travel = Quantity.LENGTH.words(head.usable_travel_in or 0.0, system, 3)
    for line in reckoning.lots:
        share = line.share
        each = (
            f"{Quantity.RATE.words(line.rate_lbf_in, system, 1)} × {travel}"
            if share.is_linear
            else f"{force_words(share.force_per_pad_lbf, system)} at {travel}, by its load curve"
        )
        yield paragraph(
            f"Lot {share.lot}: {share.count} sound pads × {each} = "
            f"{force_words(share.pull_lbf, system)}",
            SMALL,
        )
    uncertainty = force_words(head.results["standard_uncertainty_lbf"], system)
    yield paragraph(
        f"Line pull {force_words(head.pull_lbf, system)} less {head.results['coverage_factor']} × "
        f"standard uncertainty {uncertainty} = working capacity "
        f"{force_words(head.working_capacity_lbf, system)} (one-sided "
        f"{reckoning.confidence_pct:g} %, assumed pad-to-pad spread "
        f"{reckoning.pad_spread_pct:g} %).",
        SMALL,
    )


def _pads_now(head: LedgerEntry) -> Iterator[Flowable]:
    cells = [PadCell(**pad | {"lot": pad["lot"] or ""}) for pad in head.inputs["positions"]]
    yield paragraph("Pads as the newest facts have them", HEADING)
    yield DrawingFlowable(
        PAD_MAP_WIDTH,
        pad_map_height(cells, PAD_MAP_WIDTH),
        lambda surface: draw_pad_map(surface, cells, PAD_MAP_WIDTH),
    )


def _ledger(history: History) -> Iterator[Flowable]:
    yield paragraph("Ledger: every change of line pull, oldest first", HEADING)
    if not history.entries:
        yield paragraph("No entry yet.")
        return
    points, until = history_points(history.entries), history.printed_at
    yield DrawingFlowable(
        WIDTH,
        190,
        lambda surface: draw_pull_history(
            surface, points, WIDTH, 190, until=until, units=history.system
        ),
    )
    before: LedgerEntry | None = None
    for entry in history.entries:
        yield KeepTogether(list(_entry(history, before, entry)))
        before = entry


def _entry(history: History, before: LedgerEntry | None, entry: LedgerEntry) -> Iterator[Flowable]:
    system = history.system
    uncertainty_lbf = entry.results["standard_uncertainty_lbf"]
    change = pull_change_lbf(before, entry)
    yield Spacer(1, 5)
    yield paragraph(
        f"Entry {entry.sequence} · {_when(entry.occurred_at)} · {entry.judged}", BODY, bold=True
    )
    lines = [
        f"Cause: {entry.cause_words}. Recorded {_when(entry.recorded_at)} "
        f"by {_who(entry.recorded_by)}.",
        f"Line pull {pull_words(entry.pull_lbf, system, uncertainty_lbf)}"
        + (
            f" ({'+' if change >= 0 else ''}{force_words(change, system)})"
            if change is not None
            else ""
        )
        + f"; working capacity "
        f"{capacity_words(entry.working_capacity_lbf, system, uncertainty_lbf)}; listed "
        f"{pull_words(entry.listed_lbf, system)}.",
        f"Inputs: {_inputs_words(entry, system)}",
        "Differs from the entry before: " + "; ".join(differences(before, entry, system)) + ".",
    ]
    if entry.corrects:
        lines.append(f"Corrects entry {entry.corrects.sequence}.")
    lines += [f"Corrected by entry {each.sequence}." for each in entry.corrections.all()]
    for line in lines:
        yield paragraph(line, SMALL)
    yield paragraph(entry.hash, MONO)


def _change_words(change_lbf: float | None, system: str) -> str:
    if change_lbf is None:
        return ""
    return f" ({'+' if change_lbf >= 0 else ''}{force_words(change_lbf, system)})"


def _inputs_words(entry: LedgerEntry, system: str) -> str:
    inputs, results = entry.inputs, entry.results
    counts = Counter(
        (pad["condition"] or "not counted", pad["lot"] or "no known lot")
        for pad in inputs["positions"]
    )
    pads = ", ".join(
        f"{count} {condition}" + ("" if condition in ("missing", "not counted") else f" of {lot}")
        for (condition, lot), count in sorted(counts.items())
    )
    lots = ", ".join(
        f"{lot['lot']} {Quantity.RATE.words(lot['rate_lbf_in'], system, 1)} to "
        f"{Quantity.LENGTH.words(lot['tested_stretch_in'], system)}"
        for lot in inputs["lots"]
    )
    usable = _usable_words(entry, system) if results["usable_travel_in"] else "none"
    return (
        f"pads {pads or 'none'}; rates {lots or 'none'}; travel "
        f"{_length(inputs['travel_in'], system)}; usable {usable}."
    )


def _inspections(history: History) -> Iterator[Flowable]:
    yield paragraph("Inspections, as signed", HEADING)
    if not history.inspections:
        yield paragraph("None on record.")
        return
    yield paragraph(LEGEND, SMALL)
    for inspection in history.inspections:
        yield KeepTogether(list(_inspection(history, inspection)))


def _inspection(history: History, inspection: Inspection) -> Iterator[Flowable]:
    yield Spacer(1, 6)
    yield paragraph(
        f"Inspection {inspection.pk} · seen {_when(inspection.seen_at)} · signed "
        f"{_when(inspection.recorded_at)} by {_who(inspection.recorded_by)}",
        BODY,
        bold=True,
    )
    words = [f"Travel {_length(inspection.travel_in, history.system)}"]
    if inspection.travel_reason:
        words.append(f"beyond design: {inspection.travel_reason}")
    if inspection.hour_reading:
        words.append(f"hour meter {inspection.hour_reading.hours:g} h")
    if inspection.corrects_id:
        words.append(
            f"corrects inspection {inspection.corrects_id}: {inspection.correction_reason}"
        )
    if inspection.corrects_replacement_id:
        words.append(
            f"corrects pad replacement {inspection.corrects_replacement_id}: "
            f"{inspection.correction_reason}"
        )
    if inspection.note:
        words.append(f"note: {inspection.note}")
    yield paragraph("; ".join(word.rstrip(".") for word in words) + ".", SMALL)
    yield _pad_grid(inspection)


def _pad_grid(inspection: Inspection) -> Table:
    """The pad map laid on its side: a column for each number, a row for each side."""
    pads = {(pad.side, pad.number): pad for pad in inspection.pads.all()}
    numbers = sorted({number for _, number in pads})
    rows = [[paragraph("", CELL), *(paragraph(str(number), CELL) for number in numbers)]]
    for side in ("A", "B"):
        row = [paragraph(f"Side {side}", CELL)]
        row += [_pad_cell(pads[side, number]) for number in numbers if (side, number) in pads]
        rows.append(row)
    width = min(46.0, (WIDTH - 36.0) / max(len(numbers), 1))
    return Table(rows, colWidths=[36.0] + [width] * len(numbers), style=PAD_GRID, hAlign="LEFT")


def _pad_cell(pad: PadCount) -> Paragraph:
    letter_and_lot = f"{CONDITION_LETTERS[pad.condition]} {pad.lot.mark if pad.lot else '-'}"
    return paragraph(letter_and_lot, CELL, bold=pad.condition != "sound")


def _replacements(history: History) -> Iterator[Flowable]:
    yield paragraph("Pad replacements", HEADING)
    if not history.replacements:
        yield paragraph("None on record.")
        return
    yield table(
        ("No.", "Fitted", "Signed by", "Pads"),
        [_replacement_row(each) for each in history.replacements],
        (36, 92, 110, WIDTH - 238),
    )


def _replacement_row(replacement: PadReplacement) -> tuple[str, str, str, str]:
    pads = "; ".join(
        f"{pad.side}{pad.number}: {pad.removed_condition or 'not counted'} out, "
        f"lot {pad.lot.mark} in"
        for pad in replacement.pads.all()
    )
    return (
        str(replacement.pk),
        _when(replacement.fitted_at),
        _who(replacement.recorded_by),
        pads,
    )


def _mountings(history: History) -> Iterator[Flowable]:
    yield paragraph("Mountings", HEADING)
    if not history.mountings:
        yield paragraph("Never mounted on a hammer on record.")
        return
    yield table(
        ("Hammer", "From", "To"),
        [
            (
                each.hammer.mark,
                _when(each.mounted_at),
                _when(each.removed_at) if each.removed_at else "now",
            )
            for each in history.mountings
        ],
        (140, 110, 110),
    )


def _when(at: datetime) -> str:
    return f"{timezone.localtime(at):%d %b %Y %H:%M}"


def _who(user: User) -> str:
    return user.get_full_name() or user.get_username()
