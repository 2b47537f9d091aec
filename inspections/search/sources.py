"""What is searched, a group for each sort of record, and where in a record a word was found."""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Any

from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.dates import day_words, days_words
from fleet.models import (
    Clamp,
    Hammer,
    Hire,
    MachineSort,
    OutOfService,
    PadLot,
    PowerPack,
    StockMove,
    SuppressorHousing,
    Transfer,
)
from inspections.models import Finding, Inspection, ItemAnswer, PadReplacement, RepairOrder
from inspections.schedule.tables import machine_url
from ratings.models import (
    BenchTest,
    Commitment,
    ExtractionJob,
    Gauge,
    GaugeCalibration,
    LoadIndicator,
    ProofPull,
    PullRecord,
    ReferencePiece,
    TestStand,
)

# Longer is no word of a yard's; more words ask the database for more than they narrow.
LONGEST_ASKED = 100
MOST_WORDS = 6
# Letters around a word found.
AROUND = 60
# A key of the database is no longer.
MOST_DIGITS = 9


def words_asked(asked: str) -> list[str]:
    """Return the words to be found, each of them once; no more than a search takes."""
    plain = asked.replace("\0", "")[:LONGEST_ASKED]
    # As they were typed: SQLite folds the case of plain English letters alone.
    return list({word.lower(): word for word in plain.split()}.values())[:MOST_WORDS]


@dataclass(frozen=True)
class Place:
    """Where in a record words were found: a field's name for a person, and what stands there."""

    where: str
    text: SafeString


@dataclass(frozen=True)
class Hit:
    """A record found."""

    name: str
    page: str
    places: tuple[Place, ...]


@dataclass(frozen=True)
class Source:
    """A sort of record that is searched.

    records: with all that its name and fields read. fields: by their paths, what each is called.
    is_numbered: known by its number, so that a number asked for finds it.
    """

    key: str
    title: str
    records: Callable[[], QuerySet[Any]]
    fields: Mapping[str, str]
    name: Callable[[Any], str]
    page: Callable[[Any], str]
    is_numbered: bool = False

    def found(self, words: Sequence[str]) -> QuerySet[Any]:
        """Return the records of which every word stands in some field, the newest first."""
        return self.records().filter(*(self._holds(word) for word in words)).order_by("-pk")

    def _holds(self, word: str) -> Q:
        fields = [Q(**{f"{field}__icontains": word}) for field in self.fields]
        if self.is_numbered and word.isascii() and word.isdigit() and len(word) <= MOST_DIGITS:
            fields.append(Q(pk=int(word)))
        return reduce(operator.or_, fields)

    def hit(self, record: Any, words: Sequence[str]) -> Hit:
        """Return a record found, with where the words stand in it."""
        return Hit(self.name(record), self.page(record), tuple(self._places(record, words)))

    def _places(self, record: Any, words: Sequence[str]) -> Iterator[Place]:
        if self.is_numbered and str(record.pk) in words:
            yield Place("number", around(str(record.pk), words))
        for field, where in self.fields.items():
            text = _text_of(record, field)
            if any(word.lower() in text.lower() for word in words):
                yield Place(where, around(text, words))


def _text_of(record: Any, path: str) -> str:
    value = record
    for name in path.split("__"):
        value = getattr(value, name, None)
    return " ".join(str(value or "").split())


def around(text: str, words: Sequence[str]) -> SafeString:
    """Return what stands around the first of some words in a text, each of them marked."""
    spans = _spans(text, words)
    middle = spans[0] if spans else (0, 0)
    first, last = max(middle[0] - AROUND, 0), min(middle[1] + AROUND, len(text))
    parts, at = [format_html("{}", "…" if first else "")], first
    for begin, end in spans:
        if end <= last:
            parts.append(format_html("{}<mark>{}</mark>", text[at:begin], text[begin:end]))
            at = end
    parts.append(format_html("{}{}", text[at:last], "…" if last < len(text) else ""))
    return SafeString("".join(parts))


def _spans(text: str, words: Sequence[str]) -> list[tuple[int, int]]:
    """Return where words stand in a text, none overlapping another, in order."""
    lower = text.lower()
    # A few letters become two when their case is folded: then no place is sure.
    if len(lower) != len(text):
        return []
    found: list[tuple[int, int]] = []
    for word in (each.lower() for each in words):
        at = lower.find(word)
        while at >= 0:
            found.append((at, at + len(word)))
            at = lower.find(word, at + len(word))
    spans: list[tuple[int, int]] = []
    for begin, end in sorted(found):
        if not spans or begin >= spans[-1][1]:
            spans.append((begin, end))
    return spans


def _machine(record: Any) -> str:
    return ", ".join([record.mark, *filter(None, [f"{record.make} {record.type_name}".strip()])])


def _machine_page(machine: Any) -> str:
    return machine_url(machine)


def _page(name: str, field: str = "pk") -> Callable[[Any], str]:
    return lambda record: reverse(name, args=[getattr(record, field)])


_MACHINES = [sort.column for sort in MachineSort]
_OF_A_MACHINE = {
    "mark": "mark",
    "make": "make",
    "type_name": "type",
    "serial_number": "serial number",
    "note": "note",
}
SOURCES = (
    Source(
        "housings",
        "Housings",
        lambda: SuppressorHousing.objects.select_related("yard"),
        {
            "mark": "mark",
            "serial_number": "serial number",
            "bumper": "bumper",
            "note": "note",
            "yard__name": "yard",
        },
        lambda record: f"Housing {record.mark}",
        _page("unit"),
    ),
    Source(
        "hammers",
        "Hammers",
        lambda: Hammer.objects.select_related("yard"),
        {**_OF_A_MACHINE, "yard__name": "yard"},
        lambda record: f"Hammer {_machine(record)}",
        _machine_page,
    ),
    Source(
        "clamps",
        "Clamps",
        lambda: Clamp.objects.select_related("yard"),
        {**_OF_A_MACHINE, "jaws_note": "jaws", "yard__name": "yard"},
        lambda record: f"Clamp {_machine(record)}",
        _page("clamp"),
    ),
    Source(
        "packs",
        "Power packs",
        lambda: PowerPack.objects.select_related("yard"),
        {**_OF_A_MACHINE, "yard__name": "yard"},
        lambda record: f"Power pack {_machine(record)}",
        _page("power-pack"),
    ),
    Source(
        "lots",
        "Pad lots",
        PadLot.objects.all,
        {"mark": "mark", "supplier": "supplier", "note": "note"},
        lambda record: f"Lot {record.mark}",
        _page("lot"),
    ),
    Source(
        "jobs",
        "Jobs",
        ExtractionJob.objects.all,
        {"site": "site", "address": "address", "note": "note", "barge_note": "barge"},
        lambda record: f"{record.site}, {days_words(record.first_day, record.last_day)}",
        _page("job"),
        is_numbered=True,
    ),
    Source(
        "commitments",
        "Commitments",
        lambda: Commitment.objects.select_related("job", "housing"),
        {"release_reason": "why it was released", "housing__mark": "housing", "job__site": "site"},
        lambda record: (
            f"{record.housing.mark} for {record.job.site}, "
            f"{days_words(record.first_day, record.last_day)}"
        ),
        _page("commitment"),
        is_numbered=True,
    ),
    Source(
        "hires",
        "Hires",
        lambda: Hire.objects.select_related("housing", "hammer"),
        {
            "hirer": "hired by",
            "contact": "contact",
            "place": "where it works",
            "note": "note",
            "cancel_reason": "why it was cancelled",
            "housing__mark": "housing",
            "hammer__mark": "hammer",
        },
        lambda record: (
            f"{record.housing} on {record.hammer}, {record.state}: {record.hirer}, {record.days}"
        ),
        _page("hire"),
        is_numbered=True,
    ),
    Source(
        "pulls",
        "Pulls",
        lambda: PullRecord.objects.select_related("commitment__job", "commitment__housing"),
        {
            "pile_mark": "pile",
            "in_the_way": "what was in the way",
            "correction_reason": "correction",
        },
        lambda record: (
            f"Pile {record.pile_mark} at {record.commitment.job.site}, "
            f"{day_words(record.pulled_at)}"
        ),
        _page("pull-record"),
    ),
    Source(
        "findings",
        "Findings",
        lambda: Finding.objects.select_related(*_MACHINES, "closing", "inspection"),
        {"text": "what was found", "who_acts": "who acts", "closing__done": "what was done"},
        lambda record: f"{record.machine}, {day_words(record.inspection.seen_at)}",
        _page("inspection", "inspection_id"),
    ),
    Source(
        "repairs",
        "Repairs",
        lambda: RepairOrder.objects.select_related(*_MACHINES, "closing"),
        {
            "what": "what is to be done",
            "who": "who does it",
            "parts_needed": "parts to have at hand",
            "closing__text": "how it ended",
        },
        lambda record: f"Order {record.pk}, {record.machine}",
        _page("repair-order", "pk"),
    ),
    Source(
        "inspections",
        "Inspections",
        lambda: Inspection.objects.select_related(*_MACHINES, "own_kind"),
        {
            "note": "note",
            "weather": "weather",
            "travel_reason": "why the travel is so",
            "correction_reason": "correction",
            "own_kind__name": "kind",
            "kind": "kind",
        },
        lambda record: f"Inspection {record.pk} of {record.inspected}, {day_words(record.seen_at)}",
        _page("inspection"),
        is_numbered=True,
    ),
    Source(
        "answers",
        "Checklists answered",
        lambda: ItemAnswer.objects.exclude(reason="").select_related(
            *(f"inspection__{each}" for each in _MACHINES)
        ),
        {"reason": "reason", "text": "item"},
        lambda record: f"Inspection {record.inspection_id} of {record.inspection.inspected}",
        _page("inspection", "inspection_id"),
    ),
    Source(
        "replacements",
        "Pads replaced",
        lambda: PadReplacement.objects.select_related("housing"),
        {"note": "note"},
        lambda record: f"{record.housing}, {day_words(record.fitted_at)}",
        _page("replacement"),
    ),
    Source(
        "outages",
        "Out of service",
        lambda: OutOfService.objects.select_related(*_MACHINES),
        {
            "reason": "reason",
            "release_reason": "why it was released",
            "qualified_person": "qualified person",
        },
        lambda record: f"{record.machine}, since {day_words(record.since)}",
        lambda record: _machine_page(record.machine),
    ),
    Source(
        "tests",
        "Bench tests",
        lambda: BenchTest.objects.select_related("lot", "stand"),
        {"note": "note", "witness": "witness", "arrangement": "arrangement"},
        lambda record: f"Bench test {record.pk} of lot {record.lot.mark}",
        _page("bench-test"),
        is_numbered=True,
    ),
    Source(
        "proofs",
        "Proof pulls",
        lambda: ProofPull.objects.select_related("housing"),
        {"note": "note", "anchor": "anchor", "witness": "witness"},
        lambda record: f"{record.housing}, {day_words(record.pulled_at)}",
        _page("proof-pull"),
    ),
    Source(
        "stands",
        "Test stands",
        lambda: TestStand.objects.select_related("yard"),
        {"name": "name", "note": "note", "yard__name": "yard"},
        lambda record: f"Stand {record.name}",
        _page("stand"),
    ),
    Source(
        "gauges",
        "Gauges",
        lambda: Gauge.objects.select_related("yard"),
        {
            "mark": "mark",
            "serial_number": "serial number",
            "certificate_number": "certificate",
        },
        lambda record: f"Gauge {record.mark}",
        _page("gauge"),
    ),
    Source(
        "certificates",
        "Certificates of gauges",
        lambda: GaugeCalibration.objects.select_related("gauge"),
        {"certificate_number": "certificate", "laboratory": "laboratory", "note": "note"},
        lambda record: f"Certificate {record.certificate_number} of gauge {record.gauge.mark}",
        _page("gauge-calibration"),
    ),
    Source(
        "pieces",
        "Reference pieces",
        ReferencePiece.objects.all,
        {"mark": "mark", "note": "note"},
        lambda record: f"Reference piece {record.mark}",
        lambda record: f"{reverse('stands')}#pieces",
    ),
    Source(
        "indicators",
        "Load indicators",
        LoadIndicator.objects.all,
        {"mark": "mark", "certificate_number": "certificate"},
        lambda record: f"Load indicator {record.mark}",
        lambda record: reverse("stands"),
    ),
    Source(
        "transfers",
        "Transfers",
        lambda: Transfer.objects.select_related("housing", "hammer", "origin", "goal"),
        {"note": "note", "housing__mark": "housing", "hammer__mark": "hammer"},
        str,
        _page("transfer"),
    ),
    Source(
        "moves",
        "Stock moves",
        lambda: StockMove.objects.exclude(note="").select_related("lot"),
        {"note": "note"},
        lambda record: f"Lot {record.lot.mark}, {day_words(record.occurred_at)}",
        _page("lot", "lot_id"),
    ),
)
