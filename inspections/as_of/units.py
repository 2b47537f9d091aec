"""How every unit stood on a past day: what was so, or what was known."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from django.db.models import Max, Q

from fleet.as_of import AsOf
from fleet.journal.then import rows_known_by, values_known_by
from fleet.models import (
    Hammer,
    HousingGuide,
    LotCorrection,
    MachineSort,
    OutOfService,
    SuppressorHousing,
    Transfer,
    TransferEnd,
    Yard,
)
from fleet.models.leaf import Leaf
from fleet.units import Hung, hung_as_of
from inspections.count.newest_facts import pads_as_of, travels_as_of
from inspections.models import Inspection, PadCount, PadReplacement, ReplacedPad, SecondLook
from inspections.units.board import WORST_FIRST
from ratings.ledger.facts import Facts, Seen, gather_as_of
from ratings.ledger.posting import entry_as_if_posted, says
from ratings.mechanics.standing import Standing
from ratings.models import LedgerEntry, Listing, ProofPull


class By(StrEnum):
    """What the figures of a unit on a day come from."""

    NOTHING = "nothing"
    THEN = "the entry then in force"
    LATER = "an entry posted later, on what had happened by then"
    METHOD = "the facts of that day, by today’s method"


@dataclass
class UnitThen:
    """One unit as of a moment.

    told: the ledger entry in force then, as known then. entry: what its figures come from; one
    that was never posted, `by` METHOD, has no key. outages: of any of its machines, its housing's
    first. counted_at, findings_open to be acted on, kinds overdue and the jobs that held it are
    read for those that are shown.
    """

    housing: SuppressorHousing
    hung: Hung
    told: LedgerEntry | None
    entry: LedgerEntry | None
    by: By
    yard: str = ""
    outages: list[OutOfService] = field(default_factory=list)
    counted_at: datetime | None = None
    findings_open: int = 0
    overdue: list[str] = field(default_factory=list)
    held: list[str] = field(default_factory=list)

    @property
    def mark(self) -> str:
        return str(self.housing.mark)

    @property
    def hammer(self) -> Hammer | None:
        return self.hung.hammer

    @property
    def standing(self) -> Standing:
        return self.entry.judged if self.entry else Standing.UNRATED

    @property
    def is_told_otherwise(self) -> bool:
        """Whether what was so is other than what the ledger said that day."""
        return self.by in (By.LATER, By.METHOD)

    @property
    def rank(self) -> tuple[bool, bool, int, float, str]:
        """Its place on the board: worst first, as the board of today has it."""
        share = self.entry.share_of_listed if self.entry else None
        return (
            self.hammer is None,
            not self.outages,
            WORST_FIRST.index(self.standing),
            -1.0 if share is None else share,
            self.mark,
        )


def units_as_of(as_of: AsOf, only: Collection[int] | None = None) -> list[UnitThen]:
    """Return every unit there was at a moment, worst first, in a fixed number of queries.

    only: the keys of those asked about; None for all. Of entries that stand as they were posted
    the documents are not read: `with_documents` reads those that are shown.
    """
    hung = hung_as_of(as_of)
    told = _entries_in_force(as_of.at, only)
    housings = [
        each
        for each in SuppressorHousing.objects.select_related("yard").order_by("mark")
        if (only is None or each.pk in only)
    ]
    known = _on_record(housings, as_of, hung, told)
    here = [each for each in housings if each.pk in known]
    outages = outages_as_of(as_of)
    yards = _yards(as_of)
    otherwise = {} if as_of.is_as_known_then else _otherwise(here, as_of, hung, told)
    found = []
    for housing in here:
        unit = hung.get(housing.pk, Hung(housing=housing))
        entry, by = told.get(housing.pk), By.THEN
        if housing.pk in otherwise:
            entry, by = otherwise[housing.pk]
        found.append(
            UnitThen(
                housing,
                unit,
                told.get(housing.pk),
                entry,
                by if entry else By.NOTHING,
                yards.get(housing.pk, str(housing.yard)),
                outages_of(unit, housing, outages),
            )
        )
    return sorted(found, key=lambda unit: unit.rank)


def known_only_later(as_of: AsOf, known_by: datetime) -> list[SuppressorHousing]:
    """Return the housings there were at a moment of which nothing was on record then, by mark.

    known_by: until when it came on record.
    """
    so = AsOf(as_of.at, known_by)
    housings = list(SuppressorHousing.objects.order_by("mark"))
    found = [
        _on_record(housings, each, hung_as_of(each), _entries_in_force(as_of.at))
        for each in (as_of.as_known_then, so)
    ]
    return [each for each in housings if each.pk in found[1] - found[0]]


def with_documents(units: Iterable[UnitThen]) -> None:
    """Read the documents of the entries of some units. One query."""
    entries = [each for unit in units for each in (unit.entry, unit.told) if each and each.pk]
    documents = dict(
        LedgerEntry.objects.filter(pk__in={each.pk for each in entries}).values_list(
            "pk", "document"
        )
    )
    for entry in entries:
        entry.document = documents[entry.pk]


def _entries_in_force(
    moment: datetime, only: Collection[int] | None = None
) -> dict[int, LedgerEntry]:
    """Return the last entry of each housing that was posted by a moment. One query."""
    posted = LedgerEntry.objects.filter(recorded_at__lte=moment)
    if only is not None:
        posted = posted.filter(housing__in=only)
    last = posted.order_by().values("housing").annotate(last=Max("pk")).values("last")
    entries = LedgerEntry.objects.filter(pk__in=last).defer("document")
    return {each.housing_id: each for each in entries}


def _on_record(
    housings: Collection[SuppressorHousing],
    as_of: AsOf,
    hung: dict[int, Hung],
    told: dict[int, LedgerEntry],
) -> set[int]:
    """Return which housings there were and were in use: on record, or with any record of then.

    When a housing came on record its first leaf tells; of one older than the journal nothing does,
    so that only a record of its own shows it.
    """
    label = SuppressorHousing._meta.label_lower
    leaves = Leaf.objects.filter(model=label, recorded_at__lte=as_of.at)
    keys = set(leaves.exclude(what=Leaf.What.FOUND).order_by().values_list("row_key", flat=True))
    seen = Inspection.objects.as_of(as_of, "seen_at").exclude(housing=None).order_by()
    inspected = set(seen.values_list("housing", flat=True).distinct())
    there = {int(key) for key in keys} | inspected | set(hung) | set(told)
    return {
        each.pk
        for each in housings
        if each.pk in there and (each.retired_on is None or each.retired_on > as_of.day)
    }


def _yards(as_of: AsOf) -> dict[int, str]:
    """Return the name of the yard each housing was in, by its key. Three queries.

    By the record of then, and by arrivals of then that came on record later.
    """
    names = dict(Yard.objects.values_list("pk", "name"))
    found = values_known_by(SuppressorHousing, as_of.at, "yard_id")
    arrived = Transfer.objects.filter(
        as_of.recorded_since("end__"),
        housing__isnull=False,
        end__kind=TransferEnd.ARRIVED,
        end__ended_on__lte=as_of.day,
    )
    in_order = arrived.order_by("end__ended_on", "end__pk")
    found |= dict(in_order.values_list("housing", "goal"))
    return {key: names[yard] for key, yard in found.items() if yard in names}


def outages_as_of(as_of: AsOf) -> list[OutOfService]:
    """Return the times out of service that machines were in at a moment, in one query."""
    rows = rows_known_by(OutOfService, as_of.known_by, "since", "released_at")
    return [each for each in rows if as_of.holds(each, "since", "released_at")]


def outages_of(
    hung: Hung, housing: SuppressorHousing, outages: Iterable[OutOfService]
) -> list[OutOfService]:
    """Return those of the machines of a unit, the housing's first."""
    keys = {(sort.column, machine.pk) for sort, machine in hung.by_sort.items()}
    keys.add((MachineSort.HOUSING.column, housing.pk))
    found = [each for each in outages if _whose(each) in keys]
    return sorted(found, key=lambda outage: (outage.housing_id is None, outage.since))


def _whose(outage: OutOfService) -> tuple[str, int]:
    column = outage.sort.column
    return column, getattr(outage, f"{column}_id")


def _otherwise(
    housings: Collection[SuppressorHousing],
    as_of: AsOf,
    hung: dict[int, Hung],
    told: dict[int, LedgerEntry],
) -> dict[int, tuple[LedgerEntry, By]]:
    """Return, by housing, what figures a unit had where its ledger of then said otherwise.

    An entry posted on the very facts of the day is preferred: that of then, else a later one.
    """
    late = _touched(as_of, hung)
    touched = [each for each in housings if each.pk in late]
    if not touched:
        return {}
    before = as_of.as_known_then
    so = facts_as_of(touched, as_of, hung)
    known = facts_as_of(touched, before, hung_as_of(before))
    later = _posted_later([each.pk for each in touched], as_of)
    documents = dict(
        LedgerEntry.objects.filter(
            pk__in=[told[each.pk].pk for each in touched if each.pk in told]
        ).values_list("pk", "document")
    )
    found: dict[int, tuple[LedgerEntry, By]] = {}
    for housing in touched:
        facts, entry = so[housing.pk], told.get(housing.pk)
        if entry is not None:
            entry.document = documents[entry.pk]
            if says(entry, facts) or facts.inputs == known[housing.pk].inputs:
                continue
        elif not any(each.condition for each in facts.positions) and facts.inputs.travel_in is None:
            continue
        match = next((each for each in later.get(housing.pk, ()) if says(each, facts)), None)
        if match is not None:
            found[housing.pk] = match, By.LATER
        else:
            found[housing.pk] = entry_as_if_posted(housing, facts, as_of.at), By.METHOD
    return found


def facts_as_of(
    housings: Collection[SuppressorHousing], as_of: AsOf, hung: dict[int, Hung]
) -> dict[int, Facts]:
    """Return what the rating of each housing rested on at a moment, by its key."""
    keys = [each.pk for each in housings]
    pads, travels = pads_as_of(keys, as_of), travels_as_of(keys, as_of)
    seen = {
        key: Seen(
            {place: (state.condition, state.lot_id) for place, state in pads[key].items()},
            travels[key][0] if key in travels else None,
        )
        for key in keys
    }
    return gather_as_of(list(housings), as_of, seen, hung)


def _posted_later(keys: Collection[int], as_of: AsOf) -> dict[int, list[LedgerEntry]]:
    """Return the entries posted since on what had happened by the moment, by housing."""
    late = LedgerEntry.objects.filter(as_of.came_late("occurred_at"), housing__in=keys)
    found: dict[int, list[LedgerEntry]] = {}
    for entry in late.order_by("housing", "sequence"):
        found.setdefault(entry.housing_id, []).append(entry)
    return found


def _touched(as_of: AsOf, hung: dict[int, Hung]) -> set[int]:
    """Return the housings of which anything that had happened came on record only later.

    Of no other can what was so differ from what was known: each thing a rating rests on is asked.
    """
    late, since = as_of.came_late, as_of.recorded_since
    inspected = Inspection.objects.filter(
        late("seen_at")
        | (since() & Q(corrects__seen_at__lte=as_of.at))
        | (since() & Q(corrects_replacement__fitted_at__lte=as_of.at))
    )
    looked = SecondLook.objects.filter(since(), inspection__seen_at__lte=as_of.at)
    replaced = PadReplacement.objects.filter(late("fitted_at"))
    guided = HousingGuide.objects.filter(
        late("occurred_at") | (since() & Q(corrects__occurred_at__lte=as_of.at))
    )
    pulled = ProofPull.objects.filter(
        late("pulled_at")
        | (since() & Q(corrects__pulled_at__lte=as_of.at))
        | (since("decision__") & Q(pulled_at__lte=as_of.at))
    )
    found: set[int] = set()
    for query, name in (
        (inspected, "housing"),
        (looked, "inspection__housing"),
        (replaced, "housing"),
        (guided, "housing"),
        (pulled, "housing"),
    ):
        found |= set(query.order_by().values_list(name, flat=True))
    listed = set(
        Listing.objects.filter(since(), corrects__isnull=False).values_list("hammer", flat=True)
    )
    before = hung_as_of(as_of.as_known_then)
    for key in hung.keys() | before.keys():
        hammers = [each.hammer for each in (hung.get(key), before.get(key)) if each]
        if (
            len(hammers) == 1
            or hammers[0] != hammers[1]
            or (hammers[0] is not None and hammers[0].pk in listed)
        ):
            found.add(key)
    lots = list(LotCorrection.objects.filter(since()).values_list("lot", flat=True))
    if lots:
        counted = PadCount.objects.filter(lot__in=lots).order_by()
        fitted = ReplacedPad.objects.filter(lot__in=lots).order_by()
        found |= set(counted.values_list("inspection__housing", flat=True).distinct())
        found |= set(fitted.values_list("replacement__housing", flat=True).distinct())
    return found
