"""The sections that print what was recorded: inspections, repairs, findings, outages."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reportlab.platypus import Flowable, KeepTogether, Paragraph, Spacer, Table

from fleet.dates import day_words, moment_words
from fleet.kept_files import is_there
from fleet.models import HousingGuide, OutOfService
from fleet.outages import capital, named
from fleet.quantities import Quantity, force_words, share_words
from fleet.signers import signer_words
from inspections.history.facts import History, length_words
from inspections.models import (
    Finding,
    Inspection,
    MovedRecords,
    PadCount,
    PadReplacement,
    Photo,
)
from inspections.receiving.events import events_of
from ratings.check_record import Unreadable, Wrong
from ratings.models import ProofPull, PullRecord
from ratings.paper.style import (
    BODY,
    CELL,
    HEADING,
    RULE,
    SMALL,
    WIDTH,
    cells,
    paragraph,
    table,
)
from ratings.proof.tables import fate_words

CONDITION_LETTERS = {"sound": "S", "cracked": "C", "debonded": "D", "swollen": "W", "missing": "M"}
LEGEND = "S sound, C cracked, D debonded, W swollen, M missing; beside the letter the pad's lot."
# A side and a lot of few letters stand at the foot of their cells.
PAD_GRID = cells(
    1.5, 1.5, 1, 2, ("GRID", (1, 1), (-1, -1), 0.4, RULE), ("VALIGN", (0, 0), (-1, -1), "BOTTOM")
)


def inspections_section(history: History) -> Iterator[Flowable]:
    yield paragraph("Inspections, as signed", HEADING)
    if not history.inspections:
        yield paragraph("None recorded.")
        return
    yield paragraph(LEGEND, SMALL)
    for inspection in history.inspections:
        yield KeepTogether(list(_inspection(history, inspection)))


def _inspection(history: History, inspection: Inspection) -> Iterator[Flowable]:
    yield Spacer(1, 6)
    yield paragraph(
        f"Inspection {inspection.pk} ({inspection.kind_name}) · "
        f"seen {moment_words(inspection.seen_at)} · "
        f"signed {moment_words(inspection.recorded_at)} by {signer_words(inspection)}",
        BODY,
        bold=True,
        anchor=_place(inspection),
    )
    by = getattr(inspection, "corrected_by", None)
    if by is not None:
        yield paragraph(_corrected_words(by), SMALL, bold=True, link=_place(by))
    corrected = (
        f"inspection {inspection.corrects_id}"
        if inspection.corrects_id
        else f"pad replacement {inspection.corrects_replacement_id}"
        if inspection.corrects_replacement_id
        else ""
    )
    answered = [answer.state for answer in inspection.answers.all()]
    meter, pack_meter = inspection.hour_reading, inspection.pack_hour_reading
    words = [
        inspected_words(inspection),
        f"travel {length_words(inspection.travel_in, history.system)}"
        if inspection.housing_id
        else "",
        inspection.travel_reason and f"beyond design: {inspection.travel_reason}",
        f"hour meter {meter.hours:g} h" if meter else "",
        f"hour meter of the power pack {pack_meter.hours:g} h" if pack_meter else "",
        corrected and f"corrects {corrected}: {inspection.correction_reason}",
        inspection.weather,
        f"checklist of {len(answered)}: {answered.count('done')} done, "
        f"{answered.count('not applicable')} not applicable, "
        f"{answered.count('finding')} with a finding"
        if answered
        else "",
        inspection.note and f"note: {inspection.note}",
        _photo_words(inspection),
    ]
    yield paragraph("; ".join(word.rstrip(".") for word in words if word) + ".", SMALL)
    if inspection.pads.all():
        yield _pad_grid(inspection)


def _place(inspection: Inspection) -> str:
    """Return the name of an inspection's place in the paper."""
    return f"inspection-{inspection.pk}"


def _corrected_words(by: Inspection) -> str:
    """Say that what stands here was corrected: by what, when, by whom and why."""
    return (
        f"CORRECTED since: it counts no more. Inspection {by.pk} stands in its place, signed "
        f"{moment_words(by.recorded_at)} by {signer_words(by)}: {_sentence(by.correction_reason)}"
    )


def _photo_words(inspection: Inspection) -> str:
    """Say how many photos there are, and name each whose file is not there; "" for none."""
    photos = list(inspection.photos.all())
    if not photos:
        return ""
    missing = [str(each.pk) for each in photos if hasattr(each, "held") and _is_gone(each)]
    waiting = sum(not hasattr(each, "held") for each in photos)
    words = f"photos: {len(photos)}"
    if waiting:
        words += f", {waiting} still to come from the phone"
    if missing:
        words += f", THE FILE IS MISSING of photo {', '.join(missing)}"
    return words


def _is_gone(photo: Photo) -> bool:
    return not is_there(photo.held.file)


def inspected_words(inspection: Inspection) -> str:
    """Say which machines an inspection looked at, the first word with a capital."""
    machines = inspection.machines
    names = [named(machine) for machine in machines.values()]
    return f"{capital(names[0])} by itself" if len(names) == 1 else f"Of {', '.join(names)}"


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


def tables(history: History) -> Iterator[Flowable]:
    """Return what is a line each, from pad replacements to findings."""
    yield from _table(
        "Pad replacements",
        ("No.", "Fitted", "Signed by", "Pads"),
        [_replacement_row(each) for each in history.replacements],
        (36, 92, 110, WIDTH - 238),
    )
    yield from _table(
        "Proof pulls",
        ("No.", "Pulled", "Recorded by", "Measured, of expected", "Found"),
        [_proof_row(each, history.system) for each in history.proof_pulls],
        (30, 86, 90, 150, WIDTH - 356),
        none="Never pulled: its figures come from its pads alone.",
    )
    yield from _table(
        "Piles pulled",
        ("No.", "Pulled", "Recorded by", "Job and pile", "What came of it"),
        [_pull_row(each, history.system) for each in history.pulls],
        (30, 86, 90, 130, WIDTH - 336),
    )
    yield from _table(
        "Mountings",
        ("Hammer", "From", "To"),
        [
            (
                each.hammer.mark,
                moment_words(each.mounted_at),
                moment_words(each.removed_at) if each.removed_at else "now",
            )
            for each in history.mountings
        ],
        (140, 110, 110),
        none="Never mounted on a hammer on record.",
    )
    yield from _table(
        "Guided or not",
        ("Since", "The housing was", "What showed it", "Recorded"),
        [_guide_row(each) for each in history.guides],
        (92, 80, WIDTH - 302, 130),
        none="Nobody has said that it is guided, so it counts as not guided.",
    )
    yield from _table(
        "Times out of service",
        ("From", "To", "Why it went out", "How it came back"),
        [_outage_row(history, each) for each in history.times_out],
        (80, 80, (WIDTH - 160) / 2, (WIDTH - 160) / 2),
    )
    yield from _table(
        "Findings",
        ("Found", "How bad", "What", "To be acted on", "Closed"),
        [_finding_row(finding) for finding in history.findings],
        (66, 66, 0.3 * WIDTH, 80, 0.7 * WIDTH - 212),
    )
    if history.received:
        yield from _before_it_came(history)
    if history.moved:
        yield from _table(
            "Records put to their machine",
            ("When", "Machine", "What", "Why"),
            [_moved_row(each) for each in history.moved],
            (110, 90, (WIDTH - 200) / 2, (WIDTH - 200) / 2),
        )


def _before_it_came(history: History) -> Iterator[Flowable]:
    """Yield what another site has on record of the unit, as its archive was received."""
    received = history.received
    assert received is not None
    held = "held to a seal" if received.is_held else "with no seal from elsewhere to hold it to"
    yield paragraph(f"Before it came, as received from {received.site}", HEADING)
    yield paragraph(
        f"Unit {received.mark} of {received.site}, received {moment_words(received.received_at)}; "
        f"taken in by {signer_words(received)} under seal {received.seal_number} of that site, "
        f"{held}. SHA-256 of the archive: {received.sha256}. What follows is the word of that "
        "site, no measurement of this yard, and counts for nothing in the figures above."
    )
    try:
        events = events_of(received, history.system)
    except (OSError, Wrong, Unreadable) as trouble:
        yield paragraph(f"The archive can’t be read: {trouble}.")
        return
    yield table(
        ("When", "What", "As that site has it", "Signed there by"),
        [(moment_words(each.at), each.what, each.words, each.by) for each in events],
        (80, 80, WIDTH - 250, 90),
    )


def _table(
    heading: str,
    header: Sequence[str],
    rows: Sequence[Sequence[str]],
    widths: Sequence[float],
    none: str = "None recorded.",
) -> Iterator[Flowable]:
    yield paragraph(heading, HEADING)
    yield table(header, rows, widths) if rows else paragraph(none)


def _replacement_row(replacement: PadReplacement) -> tuple[str, ...]:
    pads = "; ".join(
        f"{pad.side}{pad.number}: {pad.removed_condition or 'not counted'} out, "
        f"lot {pad.lot.mark} in"
        for pad in replacement.pads.all()
    )
    signer = signer_words(replacement)
    by = getattr(replacement, "corrected_by", None)
    if by is not None:
        pads = f"CORRECTED by inspection {by.pk}, it counts no more. {pads}"
    return str(replacement.pk), moment_words(replacement.fitted_at), signer, pads


def _guide_row(guide: HousingGuide) -> tuple[str, ...]:
    corrected = " (corrected since)" if hasattr(guide, "corrected_by") else ""
    recorded = f"{moment_words(guide.recorded_at)}, {signer_words(guide)}"
    return moment_words(guide.occurred_at), guide.words + corrected, guide.reason, recorded


def _proof_row(pull: ProofPull, system: str) -> tuple[str, ...]:
    fate = fate_words(pull)
    decision = getattr(pull, "decision", None)
    if decision is not None:
        fate = f"{fate} by {signer_words(decision)}: {decision.reason}"
    found = f"{pull.verdict}, E_n {pull.e_n_words}"
    return (
        str(pull.pk),
        moment_words(pull.pulled_at),
        signer_words(pull),
        f"{force_words(pull.measured_lbf, system)} of {force_words(pull.expected_lbf, system)} at "
        f"{Quantity.LENGTH.words(pull.stretch_in, system)}: {share_words(pull.ratio)} ± "
        f"{pull.half_width_pct:.1f} %",
        f"{found}; {fate}" if fate else found,
    )


def _pull_row(pull: PullRecord, system: str) -> tuple[str, ...]:
    words = f"{pull.outcome}, {pull.method}"
    if pull.measured_lbf is not None:
        more = "more than " if pull.is_lower_bound else ""
        words += f"; {more}{force_words(pull.measured_lbf, system)} measured"
        if pull.expected_lbf is not None:
            words += f", {force_words(pull.expected_lbf, system)} calculated"
    doubts = "".join(f" {each}" for each in pull.doubt_words)
    corrected = " Corrected since." if hasattr(pull, "corrected_by") else ""
    return (
        str(pull.pk),
        moment_words(pull.pulled_at),
        signer_words(pull),
        f"{pull.commitment.job.site}, pile {pull.pile_mark}",
        f"{words}.{doubts}{corrected}",
    )


def _outage_row(history: History, outage: OutOfService) -> tuple[str, ...]:
    since = moment_words(outage.since)
    if outage.reached_back_words:
        since += f" ({outage.reached_back_words})"
    of = "" if outage.housing_id else f"{named(outage.machine)}: "
    taken_out = f"{of}{_sentence(outage.reason)} Taken out by {signer_words(outage)}."
    if outage.released_at is None or outage.released_by is None:
        return since, "now", taken_out, "Not released yet."
    fit = f" Found fit by {outage.qualified_person}." if outage.qualified_person else ""
    second = history.release_confirmers.get(outage.pk)
    both = signer_words(outage, "released_by", "released_at")
    if second:
        both += f", confirmed by {signer_words(second)}"
    back = f"{_sentence(outage.release_reason)}{fit} Released by {both}."
    return since, moment_words(outage.released_at), taken_out, back


def _sentence(words: str) -> str:
    return words.rstrip(".") + "."


def _finding_row(finding: Finding) -> tuple[str, ...]:
    seen, closing = finding.inspection, getattr(finding, "closing", None)
    by = f"by {day_words(finding.act_by)}" if finding.act_by else ""
    return (
        f"{moment_words(seen.seen_at)}, {signer_words(seen)}"
        + (f"; its inspection {seen.pk} was CORRECTED" if hasattr(seen, "corrected_by") else ""),
        finding.get_severity_display(),
        finding.text if finding.housing_id else f"{named(finding.machine)}: {finding.text}",
        " ".join(part for part in (finding.who_acts, by) if part) or "–",
        f"{moment_words(closing.closed_at)}, {signer_words(closing)}: {closing.done}"
        if closing
        else "open",
    )


def _moved_row(moved: MovedRecords) -> tuple[str, ...]:
    by = signer_words(moved) if moved.recorded_by else "an upgrade of the site"
    return (
        f"{moment_words(moved.recorded_at)}, {by}",
        named(moved.machine),
        f"{moved.words}, kept at {named(moved.unit)} before",
        moved.why,
    )
