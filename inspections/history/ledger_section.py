"""The sections of the ledger: how the unit stood over time, and every entry."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from fleet.dates import moment_words
from fleet.quantities import Quantity, capacity_words, change_words, listed_words, pull_words
from fleet.signers import signer_words
from inspections.history.facts import Chapter, corrections_of, length_words, usable_words
from ratings.drawing.pull_history import HistoryPoint, draw_pull_history
from ratings.ledger.differences import differences, pull_change_lbf
from ratings.mechanics.standing import Standing
from ratings.models import LedgerEntry, ProposalAnswer
from ratings.paper.long_paper import CODE, ITEM, NOTE, SMALL, WIDTH, LongPaper
from ratings.proposals.recording import confirmers_of

HOW_TO_CHECK = (
    "The site says how its entries are checked against these pages: “How this site works” at its "
    "foot, “The ledger”."
)
GRAPH_HEIGHT = 190.0
# What the first entry takes, in points: its heading never stands alone at the foot of a page.
_FIRST_ENTRY = 110.0
# More entries than this are drawn by the lowest of each group: no eye tells more apart.
_MOST_DRAWN = 600
Step = Callable[[int], None]


@dataclass
class _Stood:
    """Entries one after the other in which a unit stood alike."""

    standing: str
    first: int
    last: int
    since: datetime
    until: datetime | None
    lowest_lbf: float | None
    listed_lbf: float | None

    def row(self, system: str) -> tuple[str, ...]:
        entries = str(self.first) if self.first == self.last else f"{self.first} to {self.last}"
        return (
            moment_words(self.since),
            moment_words(self.until) if self.until else "the end of these days",
            self.standing,
            pull_words(self.lowest_lbf, system, listed_lbf=self.listed_lbf),
            listed_words(self.listed_lbf, system),
            entries,
        )


def over_time_section(paper: LongPaper, chapter: Chapter, level: int) -> None:
    """Write how the unit stood from when to when, by what was recorded, with its graph."""
    stood, points = _stood(chapter)
    with paper.section("Standing over time", level, below=GRAPH_HEIGHT + 20.0 if stood else 20.0):
        if not stood:
            paper.text("No entry yet.")
            return
        paper.text(
            "By what was on record at each time: an entry holds from when it was recorded.", SMALL
        )
        until = chapter.span.end if chapter.span.is_past else _midnight_of(chapter)
        paper.picture(
            WIDTH,
            GRAPH_HEIGHT,
            lambda surface: draw_pull_history(
                surface, points, WIDTH, GRAPH_HEIGHT, until=until, units=chapter.system
            ),
            said="Line pull, working capacity and listed rating over time, as in the table below.",
        )
        header = ("From", "To", "Standing", "Lowest line pull", "Listed", "Entries")
        with paper.rows(header, (84, 84, 90, 108, 96, WIDTH - 462)) as add:
            for each in stood:
                add(each.row(chapter.system))


def _stood(chapter: Chapter) -> tuple[list[_Stood], list[HistoryPoint]]:
    entries = LedgerEntry.objects.filter(
        housing=chapter.machine, recorded_at__lt=chapter.span.end
    ).order_by("sequence")
    group = max(entries.count() // _MOST_DRAWN, 1)
    stood: list[_Stood] = []
    points: list[HistoryPoint] = []
    columns = ("sequence", "recorded_at", "standing", "pull_lbf", "working_capacity_lbf")
    lowest: HistoryPoint | None = None
    rows = entries.values_list(*columns, "listed_lbf").iterator()
    begin = chapter.span.begin
    for place, (sequence, at, standing, pull, capacity, listed) in enumerate(rows):
        point = HistoryPoint(at, pull, capacity, listed)
        if lowest is None or (pull or 0.0) < (lowest.pull_lbf or 0.0):
            lowest = point
        if place % group == group - 1:
            points.append(lowest)
            lowest = None
        if stood and (stood[-1].standing, stood[-1].listed_lbf) == (standing, listed):
            last = stood[-1]
            last.last = sequence
            if pull is not None:
                last.lowest_lbf = min(pull, pull if last.lowest_lbf is None else last.lowest_lbf)
            continue
        if stood:
            stood[-1].until = at
            if begin is not None and at <= begin:
                # Over before these days.
                stood.pop()
        stood.append(_Stood(standing, sequence, sequence, at, None, pull, listed))
    if lowest is not None:
        points.append(lowest)
    return stood, points


def _midnight_of(chapter: Chapter) -> datetime:
    """Return the beginning of today: the graph then looks the same the whole day."""
    return timezone.make_aware(datetime.combine(chapter.span.today, datetime.min.time()))


def ledger_section(paper: LongPaper, chapter: Chapter, level: int, step: Step) -> None:
    """Write every entry of the span, oldest first; bookmarks lead to each year."""
    heading = "Ledger: every change of line pull, oldest first"
    with paper.section(heading, level, bookmark="Ledger", below=_FIRST_ENTRY):
        before: LedgerEntry | None = None
        year = 0
        for chunk in chapter.entries_in_words():
            if not year:
                paper.text(HOW_TO_CHECK, SMALL)
            confirmers, corrections = confirmers_of(chunk), corrections_of(chunk)
            for entry in chunk:
                recorded_in = timezone.localtime(entry.recorded_at).year
                if recorded_in != year:
                    year = recorded_in
                    paper.bookmark(f"Entries recorded in {year}", level + 1)
                if before is None or before.sequence != entry.sequence - 1:
                    before = LedgerEntry.objects.filter(
                        housing=chapter.machine, sequence=entry.sequence - 1
                    ).first()
                second, corrected_by = confirmers.get(entry.pk), corrections.get(entry.pk, ())
                _write(paper, chapter.system, before, entry, second, corrected_by)
                before = entry
            step(len(chunk))
        if not year:
            paper.text("No entry yet." if chapter.head is None else "No entry in these days.")


def _write(
    paper: LongPaper,
    system: str,
    before: LedgerEntry | None,
    entry: LedgerEntry,
    second: ProposalAnswer | None,
    corrected_by: Sequence[int],
) -> None:
    listed_lbf = entry.listed_lbf
    change = pull_change_lbf(before, entry)
    corrections = "; ".join(f"CORRECTED since: by entry {each}" for each in corrected_by)
    lines = [
        f"Cause: {entry.cause_words}. Recorded {moment_words(entry.recorded_at)} "
        f"by {signer_words(entry)}"
        + (f", confirmed by {signer_words(second)}." if second else "."),
        f"Line pull {pull_words(entry.pull_lbf, system, listed_lbf=listed_lbf)}"
        + (f" ({change_words(change, system)})" if change is not None else "")
        + f"; working capacity "
        f"{capacity_words(entry.working_capacity_lbf, system, listed_lbf=listed_lbf)}; listed "
        f"{_listing_words(entry, system)}.",
        *([f"Missing: {', '.join(entry.results['missing'])}."] if entry.results["missing"] else []),
        f"Inputs: {_inputs_words(entry, system)}",
        "Differs from the entry before: " + "; ".join(differences(before, entry, system)) + ".",
    ]
    if entry.corrects:
        lines.append(f"Corrects entry {entry.corrects.sequence}.")
    paper.together(
        (
            (
                f"Entry {entry.sequence} · {moment_words(entry.occurred_at)} · {entry.judged}",
                ITEM,
            ),
            (corrections and f"{corrections}.", NOTE),
            ("\n".join(lines), SMALL),
            (entry.hash, CODE),
        ),
    )


def _listing_words(entry: LedgerEntry, system: str) -> str:
    """Say the listed rating, and by what source."""
    words = listed_words(entry.listed_lbf, system)
    listing = entry.contents["provenance"].get("listing")
    return f"{words} by {listing['source']}" if listing else words


def _inputs_words(entry: LedgerEntry, system: str) -> str:
    inputs, results = entry.inputs, entry.results
    counts = Counter(
        (pad["condition"] or "not counted", pad["lot"] or "no known lot")
        for pad in inputs["positions"]
    )
    pads = ", ".join(_pads_words(counts))
    lots = ", ".join(
        f"{lot['lot']} {Quantity.RATE.words(lot['rate_lbf_in'], system, 1)} to "
        f"{Quantity.LENGTH.words(lot['tested_stretch_in'], system)}"
        for lot in inputs["lots"]
    )
    usable = usable_words(entry, system) if results["usable_travel_in"] else "none"
    return (
        f"pads {pads or 'none'}; rates {lots or 'none'}; travel "
        f"{length_words(inputs['travel_in'], system)}; usable {usable}."
    )


def _pads_words(counts: Counter[tuple[str, str]]) -> Iterator[str]:
    for (condition, lot), count in sorted(counts.items()):
        of = "" if condition in ("missing", "not counted") else f" of {lot}"
        yield f"{count} {condition}{of}"


def judged_at_the_end(chapter: Chapter) -> Standing:
    """Return how the unit stood at the end of the span."""
    return chapter.head.judged if chapter.head else Standing.UNRATED
