"""The section that prints every inspection with its pad map."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable, KeepTogether, Paragraph, Spacer, Table, TableStyle

from fleet.dates import moment_words
from inspections.history.facts import History
from inspections.history.words import length_words
from inspections.models import Inspection, PadCount
from ratings.paper.numbered import WIDTH
from ratings.paper.style import BODY, CELL, HEADING, RULE, SMALL, paragraph
from ratings.paper.words import who_words

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


def inspections_section(history: History) -> Iterator[Flowable]:
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
        f"Inspection {inspection.pk} ({inspection.kind_name}) · "
        f"seen {moment_words(inspection.seen_at)} · "
        f"signed {moment_words(inspection.recorded_at)} by {who_words(inspection.recorded_by)}",
        BODY,
        bold=True,
    )
    words = [f"Travel {length_words(inspection.travel_in, history.system)}"]
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
    if inspection.weather:
        words.append(inspection.weather)
    answered = [answer.state for answer in inspection.answers.all()]
    if answered:
        words.append(
            f"checklist of {len(answered)}: {answered.count('done')} done, "
            f"{answered.count('not applicable')} not applicable, "
            f"{answered.count('finding')} with a finding"
        )
    if inspection.note:
        words.append(f"note: {inspection.note}")
    yield paragraph("; ".join(word.rstrip(".") for word in words) + ".", SMALL)
    if inspection.pads.all():
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
