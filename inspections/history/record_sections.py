"""The sections that print what else was recorded, a line or a few for each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from io import BytesIO
from itertools import chain

from PIL import Image, ImageOps

from fleet.dates import day_words, days_words, moment_words
from fleet.kept_files import is_there, let_go_words, photos_gone
from fleet.models import (
    ClampFitting,
    HourReading,
    HousingGuide,
    MachineSort,
    MeterChange,
    Mounting,
    OutOfService,
    PowerPackConnection,
)
from fleet.outages import named
from fleet.quantities import (
    Quantity,
    force_words,
    listed_words,
    money,
    plain_number,
    share_words,
)
from fleet.setup.tables import value_words
from fleet.signers import signer_words
from inspections.history.facts import Chapter
from inspections.history.overdue import Overdue, look
from inspections.models import (
    Finding,
    MovedRecords,
    PadReplacement,
    Photo,
    ReceivedUnit,
    RepairLine,
    RepairOrder,
)
from inspections.receiving.events import events_of
from inspections.service.recording import RELEASE
from ratings.check_record import Unreadable, Wrong
from ratings.ledger.posting import Cause
from ratings.models import (
    Commitment,
    LedgerEntry,
    Listing,
    LotRating,
    ProofPull,
    ProposalAnswer,
    PullRecord,
)
from ratings.paper.long_paper import ITEM, NOTE, SMALL, WIDTH, LongPaper
from ratings.proof.tables import fate_words
from ratings.proposals.recording import confirmers

# Of a photo in the paper, in pixels: enough for 110 points at 200 dots an inch.
_PHOTO_PIXELS = (420, 306)
_PHOTO_QUALITY = 70
NOT_ON_RECORD = "not on record"


def overdue_section(paper: LongPaper, chapter: Chapter, level: int) -> None:
    """Write which inspections were overdue from when to when, and where nobody looked."""
    looked = look(chapter)
    with paper.section("Overdue inspections and gaps", level):
        paper.text(
            "As the schedule in force on each day asked, by days or by hours as meters were read, "
            "of days the machine hung in a unit; what is asked for on days a job holds the unit, "
            "on those.",
            SMALL,
        )
        if looked.overdue:
            header = ("Machine", "Inspection, every", "Made before", "Overdue", "Days", "Made on")
            with paper.rows(header, (140, 116, 62, 112, 34, WIDTH - 464)) as add:
                for each in looked.overdue:
                    add(_overdue_row(each))
        else:
            paper.text("No inspection was overdue.")
        for gap in looked.gaps:
            paper.text(gap.words, SMALL)
        if looked.longest is not None and not looked.gaps:
            paper.text(
                f"No gap: nothing was left without an inspection for more than {looked.longest} "
                "days in use."
            )


def _overdue_row(each: Overdue) -> tuple[str, ...]:
    return (
        each.machine,
        f"{each.kind}, {each.interval}",
        day_words(each.last) if each.last else "never",
        days_words(each.first_day, each.last_day),
        f"{each.days:,}",
        day_words(each.made) if each.made else "not in these days",
    )


def findings_section(paper: LongPaper, chapter: Chapter, level: int) -> None:
    """Write every finding that was open in the span, with its photos."""
    with paper.section("Findings", level):
        is_any = False
        for finding in chain.from_iterable(chapter.findings()):
            is_any = True
            _finding(paper, finding)
        if not is_any:
            paper.text("None recorded.")


def _finding(paper: LongPaper, finding: Finding) -> None:
    seen, closing = finding.inspection, getattr(finding, "closing", None)
    by = f"by {day_words(finding.act_by)}" if finding.act_by else ""
    to_act = " ".join(part for part in (finding.who_acts, by) if part)
    of = "" if finding.housing_id else f"{named(finding.machine)}: "
    corrected = (
        f"Its inspection {seen.pk} was CORRECTED since." if hasattr(seen, "corrected_by") else ""
    )
    done = (
        f"Closed {moment_words(closing.closed_at)} by {signer_words(closing)}: {closing.done}"
        if closing
        else "Open."
    )
    photos, gone = _photos(finding.photos.all())
    paper.together(
        (
            (
                f"{finding.get_severity_display()} · found {moment_words(seen.seen_at)} in "
                f"inspection {seen.pk}, {signer_words(seen)}",
                ITEM,
            ),
            (corrected, NOTE),
            (f"{of}{finding.text}", SMALL),
            (f"To be acted on: {to_act}." if to_act else "", SMALL),
            (done, SMALL),
            ("\n".join(gone), NOTE),
        ),
        below=130.0 if photos else 0.0,
    )
    if photos:
        paper.photos(photos)


def _photos(photos: Iterable[Photo]) -> tuple[list[tuple[bytes, int, int, str]], list[str]]:
    """Return photos as they are printed, and what is said of those that can't be."""
    shown, gone = [], []
    for photo in photos:
        if not hasattr(photo, "held"):
            gone.append(f"Photo {photo.pk} is still to come from the phone.")
        elif not is_there(photo.held.file):
            how = let_go_words(photo.held.file)
            gone.append(
                f"Photo {photo.pk} was {how}."
                if how
                else f"THE FILE IS MISSING of photo {photo.pk} ({photo.held.file.name})."
            )
        else:
            words = photo.caption or f"photo {str(photo.pk)[:8]}"
            try:
                shown.append((*_thumbnail(photo), words))
            except (OSError, ValueError, Image.DecompressionBombError):
                gone.append(f"The file of photo {photo.pk} can’t be read as a picture.")
    return shown, gone


def _thumbnail(photo: Photo) -> tuple[bytes, int, int]:
    with photo.held.file.open("rb") as file, Image.open(file) as opened:
        opened.draft("RGB", _PHOTO_PIXELS)
        picture = ImageOps.exif_transpose(opened).convert("RGB")
        picture.thumbnail(_PHOTO_PIXELS)
        written = BytesIO()
        picture.save(written, "JPEG", quality=_PHOTO_QUALITY)
        return written.getvalue(), *picture.size


def tables(paper: LongPaper, chapter: Chapter, level: int) -> None:
    """Write what is a line each, from pad replacements to changes of what is set up."""
    system = chapter.system
    if chapter.is_unit:
        _table(
            paper,
            level,
            "Pad replacements",
            ("No.", "Fitted", "Signed by", "Pads"),
            map(_replacement_row, chain.from_iterable(chapter.replacements())),
            (36, 92, 110, WIDTH - 238),
        )
    _table(
        paper,
        level,
        "Repairs",
        ("No.", "Ordered", "What", "Parts, hours and cost", "How it ended"),
        map(_repair_row, chain.from_iterable(chapter.repairs())),
        (30, 96, 0.5 * WIDTH - 126, 0.25 * WIDTH, 0.25 * WIDTH),
    )
    if chapter.is_unit:
        _of_units(paper, chapter, level)
    if chapter.all_mountings or chapter.is_unit:
        _table(
            paper,
            level,
            "Mountings",
            ("Housing" if not chapter.is_unit else "Hammer", "From", "By", "To", "By"),
            (_mounting_row(chapter, each) for each in chapter.mountings),
            (120, 90, 110, 90, WIDTH - 410),
            none="Never mounted on a hammer on record.",
        )
    _table(
        paper,
        level,
        "Clamps and power packs on hammers",
        ("Machine", "Hammer", "From", "By", "To", "By"),
        map(_fitting_row, chapter.fittings),
        (96, 76, 86, 92, 86, WIDTH - 436),
    )
    if chapter.sort in (MachineSort.HAMMER, MachineSort.POWER_PACK):
        _table(
            paper,
            level,
            "Hour meter",
            ("Read", "Hours", "Recorded by", "What else"),
            chain(
                map(_hours_row, chain.from_iterable(chapter.hour_readings())),
                map(_meter_row, chapter.meter_changes()),
            ),
            (100, 90, 140, WIDTH - 330),
        )
    out = list(chapter.times_out())
    released = confirmers(RELEASE, [each.pk for each in out])
    _table(
        paper,
        level,
        "Times out of service",
        ("From", "To", "Why it went out", "How it came back"),
        (_outage_row(each, released.get(each.pk)) for each in out),
        (80, 80, (WIDTH - 160) / 2, (WIDTH - 160) / 2),
    )
    if chapter.sort in (MachineSort.HOUSING, MachineSort.HAMMER):
        _table(
            paper,
            level,
            "Commitments",
            ("No.", "Days", "Job", "On what verdict", "Since"),
            (_commitment_row(chapter, each) for each in chapter.commitments()),
            (30, 96, 110, (WIDTH - 236) / 2, (WIDTH - 236) / 2),
        )
        _table(
            paper,
            level,
            "Listings and their sources",
            ("Hammer", "Listed", "Source", "Source dated", "Recorded"),
            (_listing_row(each, system) for each in chapter.listings()),
            (80, 100, WIDTH - 400, 70, 150),
            none="No listed rating on record.",
        )
    if chapter.is_unit:
        _table(
            paper,
            level,
            "Certificates of the lots in it",
            ("Lot", "Rating", "Rate, tested to", "Tests", "Approved", "How it stands"),
            _rating_rows(chapter.ratings_of_lots(), system),
            (90, 42, 110, 90, 100, WIDTH - 432),
            none="No lot in it was ever rated.",
        )
    _table(
        paper,
        level,
        "Serial numbers",
        ("Machine", "Serial number", "Make and type", "Yard"),
        (
            (
                named(each),
                each.serial_number or NOT_ON_RECORD,
                " ".join(
                    part
                    for part in (getattr(each, "make", ""), getattr(each, "type_name", ""))
                    if part
                )
                or "–",
                str(each.yard),
            )
            for each in chapter.machines
        ),
        (130, 130, 150, WIDTH - 410),
    )
    _table(
        paper,
        level,
        "Changes of what is set up",
        ("When, by", "Machine", "From, to", "Why"),
        _change_rows(chapter),
        (120, 90, (WIDTH - 210) * 0.6, (WIDTH - 210) * 0.4),
    )
    received = chapter.received()
    if received is not None:
        _before_it_came(paper, level, received, system)
    moved = list(chapter.moved())
    if moved:
        _table(
            paper,
            level,
            "Records put to their machine",
            ("When", "Machine", "What", "Why"),
            map(_moved_row, moved),
            (110, 90, (WIDTH - 200) / 2, (WIDTH - 200) / 2),
        )


def _before_it_came(paper: LongPaper, level: int, received: ReceivedUnit, system: str) -> None:
    """Write what another site has on record of the unit, as its archive was received."""
    held = "held to a seal" if received.is_held else "with no seal from elsewhere to hold it to"
    with paper.section(f"Before it came, as received from {received.site}", level):
        paper.text(
            f"Unit {received.mark} of {received.site}, received "
            f"{moment_words(received.received_at)}; taken in by {signer_words(received)} under "
            f"seal {received.seal_number} of that site, {held}. SHA-256 of the archive: "
            f"{received.sha256}. What follows is the word of that site, no measurement of this "
            "yard, and counts for nothing in the figures above."
        )
        try:
            events = events_of(received, system)
        except (OSError, Wrong, Unreadable) as trouble:
            paper.text(f"The archive can’t be read: {trouble}.")
            return
        header = ("When", "What", "As that site has it", "Signed there by")
        with paper.rows(header, (80, 80, WIDTH - 250, 90)) as add:
            for each in events:
                add((moment_words(each.at), each.what, each.words, each.by))


def _of_units(paper: LongPaper, chapter: Chapter, level: int) -> None:
    """Write what only a whole unit has."""
    _table(
        paper,
        level,
        "Proof pulls",
        ("No.", "Pulled", "Recorded by", "Measured, of expected", "Found"),
        (_proof_row(each, chapter.system) for each in chapter.proof_pulls()),
        (30, 86, 90, 150, WIDTH - 356),
        none="Never pulled: its figures come from its pads alone."
        if chapter.span.first is None
        else "None in these days.",
    )
    _table(
        paper,
        level,
        "Piles pulled",
        ("No.", "Pulled", "Recorded by", "Job and pile", "What came of it"),
        (_pull_row(each, chapter.system) for each in chapter.pulls()),
        (30, 86, 90, 130, WIDTH - 336),
    )
    _table(
        paper,
        level,
        "Guided or not",
        ("Since", "The housing was", "What showed it", "Recorded"),
        map(_guide_row, chapter.guides()),
        (92, 80, WIDTH - 302, 130),
        none="Nobody has said that it is guided, so it counts as not guided."
        if chapter.span.first is None
        else "Nobody said anything of it in these days.",
    )


def _table(
    paper: LongPaper,
    level: int,
    heading: str,
    header: Sequence[str],
    rows: Iterable[Sequence[str]],
    widths: Sequence[float],
    none: str = "None recorded.",
) -> None:
    """Write a table row by row as its records are read, or that there is none."""
    with paper.section(heading, level):
        reading = iter(rows)
        first = next(reading, None)
        if first is None:
            paper.text(none)
            return
        with paper.rows(header, widths) as add:
            add(first)
            for row in reading:
                add(row)


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


def _repair_row(order: RepairOrder) -> tuple[str, ...]:
    ended = order.ended
    parts = "; ".join(map(_line_words, order.lines.all()))
    photos = list(order.photos.all())
    if photos:
        gone = photos_gone((each.pk, each.file) for each in photos)
        told = ", ".join([f"photos: {len(photos)}", *gone])
        parts = "; ".join(part for part in (parts, told) if part)
    needed = f" Parts: {order.parts_needed}" if order.parts_needed else ""
    finding = f" For finding {order.finding_id}." if order.finding_id else ""
    return (
        str(order.pk),
        f"{moment_words(order.recorded_at)}, {signer_words(order)}; for "
        f"{day_words(order.planned_on)}, {order.who}",
        f"{named(order.machine)}: {_sentence(order.what)}{needed}{finding}",
        parts or "–",
        f"{ended.kind} {moment_words(ended.ended_at)}"
        + (f" by {ended.done_by}" if ended.done_by else "")
        + f", recorded by {signer_words(ended)}: {ended.text}"
        if ended
        else "not done yet",
    )


def _line_words(line: RepairLine) -> str:
    cost = "no price" if line.cost is None else money(line.cost, line.currency)
    words = f"{plain_number(float(line.amount), 2)} × {line.text}, {cost}"
    back = getattr(line, "taken_back", None)
    return f"TAKEN BACK ({back.reason}): {words}" if back else words


def _mounting_row(chapter: Chapter, mounting: Mounting) -> tuple[str, ...]:
    return (
        mounting.hammer.mark if chapter.is_unit else mounting.housing.mark,
        moment_words(mounting.mounted_at),
        _mover(mounting, mounting.mounted_at),
        moment_words(mounting.removed_at) if mounting.removed_at else "now",
        _mover(mounting, mounting.removed_at) if mounting.removed_at else "–",
    )


def _mover(mounting: Mounting, at: datetime) -> str:
    """Return who moved a housing, by the entry that its move posted."""
    entry = (
        LedgerEntry.objects.filter(
            housing=mounting.housing_id, cause=Cause.MOUNTING, occurred_at=at
        )
        .select_related("recorded_by")
        .defer("document")
        .order_by("sequence")
        .first()
    )
    return signer_words(entry) if entry else NOT_ON_RECORD


def _fitting_row(fitting: ClampFitting | PowerPackConnection) -> tuple[str, ...]:
    machine = fitting.clamp if isinstance(fitting, ClampFitting) else fitting.power_pack
    return (
        named(machine),
        fitting.hammer.mark,
        moment_words(fitting.fitted_at),
        signer_words(fitting) or NOT_ON_RECORD,
        moment_words(fitting.removed_at) if fitting.removed_at else "now",
        (signer_words(fitting, "removed_by", "removed_at") or NOT_ON_RECORD)
        if fitting.removed_at
        else "–",
    )


def _hours_row(reading: HourReading) -> tuple[str, ...]:
    by = getattr(reading, "corrected_by", None)
    corrects = f"corrects reading {reading.corrects_id}" if reading.corrects_id else ""
    return (
        moment_words(reading.read_at),
        f"{reading.hours:g} h",
        f"{signer_words(reading)}, {moment_words(reading.recorded_at)}",
        f"CORRECTED since: it showed {by.hours:g} h" if by else corrects or "–",
    )


def _meter_row(change: MeterChange) -> tuple[str, ...]:
    return (
        moment_words(change.changed_at),
        f"{change.old_hours:g} h, then {change.new_hours:g} h",
        f"{signer_words(change)}, {moment_words(change.recorded_at)}",
        f"The meter was changed: {change.reason}",
    )


def _guide_row(guide: HousingGuide) -> tuple[str, ...]:
    corrected = " (CORRECTED since)" if hasattr(guide, "corrected_by") else ""
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
    corrected = " CORRECTED since." if hasattr(pull, "corrected_by") else ""
    return (
        str(pull.pk),
        moment_words(pull.pulled_at),
        signer_words(pull),
        f"{pull.commitment.job.site}, pile {pull.pile_mark}",
        f"{words}.{doubts}{corrected}",
    )


def _outage_row(outage: OutOfService, second: ProposalAnswer | None) -> tuple[str, ...]:
    since = moment_words(outage.since)
    if outage.reached_back_words:
        since += f" ({outage.reached_back_words})"
    of = "" if outage.housing_id else f"{named(outage.machine)}: "
    taken_out = f"{of}{_sentence(outage.reason)} Taken out by {signer_words(outage)}."
    if outage.released_at is None or outage.released_by is None:
        return since, "now", taken_out, "Not released yet."
    fit = f" Found fit by {outage.qualified_person}." if outage.qualified_person else ""
    both = signer_words(outage, "released_by", "released_at")
    if second:
        both += f", confirmed by {signer_words(second)}"
    back = f"{_sentence(outage.release_reason)}{fit} Released by {both}."
    return since, moment_words(outage.released_at), taken_out, back


def _commitment_row(chapter: Chapter, commitment: Commitment) -> tuple[str, ...]:
    answer = commitment.answer
    since = [
        f"Confirmed {moment_words(each.recorded_at)} by {signer_words(each)} on answer "
        f"{each.answer_id}: {each.answer.verdict}."
        for each in commitment.confirmations.all()
    ]
    if commitment.released_at is not None:
        since.append(
            f"Released {moment_words(commitment.released_at)} by "
            f"{signer_words(commitment, 'released_by', 'released_at')}: "
            f"{_sentence(commitment.release_reason)}"
        )
    other = f"on hammer {commitment.hammer}" if chapter.is_unit else f"housing {commitment.housing}"
    return (
        str(commitment.pk),
        days_words(commitment.first_day, commitment.last_day),
        f"{commitment.job.site}, {other}",
        f"{answer.verdict}, answer {answer.pk} of {moment_words(answer.recorded_at)} by "
        f"{signer_words(answer)}, on entry {answer.entry.sequence}",
        " ".join(since) or "as promised",
    )


def _listing_row(listing: Listing, system: str) -> tuple[str, ...]:
    by = getattr(listing, "corrected_by", None)
    source = listing.source if not listing.note else f"{listing.source} ({listing.note})"
    if by is not None:
        source = (
            f"CORRECTED {moment_words(by.recorded_at)} by {signer_words(by)}: it counts no more. "
            f"{source}"
        )
    return (
        listing.hammer.mark,
        listed_words(listing.listed_lbf, system),
        source,
        day_words(listing.dated),
        f"{moment_words(listing.recorded_at)}, {signer_words(listing)}",
    )


def _rating_rows(ratings: Iterable[LotRating], system: str) -> Iterator[tuple[str, ...]]:
    """Yield a row for each rating, of one that gave way to a later one by which."""
    listed = list(ratings)
    standing = [
        each for each in listed if hasattr(each, "approval") and not hasattr(each, "withdrawal")
    ]
    in_force = {
        each.lot_id: each for each in sorted(standing, key=lambda rating: rating.approval.pk)
    }
    for each in listed:
        last = in_force.get(each.lot_id) if each in standing else None
        yield _rating_row(each, None if last == each else last, system)


def _rating_row(rating: LotRating, later: LotRating | None, system: str) -> tuple[str, ...]:
    approval = getattr(rating, "approval", None)
    ended = [
        f"{word} {moment_words(each.recorded_at)} by {signer_words(each)}: {each.reason}"
        for word, each in (
            ("withdrawn", getattr(rating, "withdrawal", None)),
            ("rejected", getattr(rating, "rejection", None)),
        )
        if each is not None
    ]
    return (
        f"{rating.lot.mark}, {rating.lot.supplier}" if rating.lot.supplier else rating.lot.mark,
        str(rating.pk),
        f"{Quantity.RATE.words(rating.rate_lbf_in, system, 1)} to "
        f"{Quantity.LENGTH.words(rating.tested_stretch_in, system)}",
        ", ".join(f"{test.pk} of {day_words(test.tested_at)}" for test in rating.tests.all()),
        f"{moment_words(approval.recorded_at)}, {signer_words(approval)}; drafted by "
        f"{signer_words(rating)}"
        if approval
        else f"never; drafted by {signer_words(rating)}",
        "; ".join(ended) or (f"gave way to rating {later.pk}" if later else _state_words(rating)),
    )


def _state_words(rating: LotRating) -> str:
    return "in force" if hasattr(rating, "approval") else str(rating.state)


def _change_rows(chapter: Chapter) -> Iterator[tuple[str, ...]]:
    for machine, change in chapter.set_up_changes():
        fields = {field.name: field for field in type(machine)._meta.concrete_fields}
        told = "; ".join(
            f"{fields[name].verbose_name}: {value_words(fields[name], before, chapter.system)} → "
            f"{value_words(fields[name], after, chapter.system)}"
            for name, (before, after) in change.changes.items()
            if name in fields
        )
        yield (
            f"{moment_words(change.recorded_at)}, {signer_words(change)}",
            named(machine),
            "; ".join(part for part in (change.get_kind_display(), told) if part),
            change.reason or "–",
        )


def _moved_row(moved: MovedRecords) -> tuple[str, ...]:
    by = signer_words(moved) if moved.recorded_by else "an upgrade of the site"
    return (
        f"{moment_words(moved.recorded_at)}, {by}",
        named(moved.machine),
        f"{moved.words}, kept at {named(moved.unit)} before",
        moved.why,
    )


def _sentence(words: str) -> str:
    return words.rstrip(".") + "."
