"""What a chapter of the history report is printed from: of a unit, or of one machine."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any, NamedTuple

from django.db.models import Prefetch, Q, QuerySet

from fleet.models import (
    ClampFitting,
    HourReading,
    HousingGuide,
    MachineSort,
    MeterChange,
    Mounting,
    OutOfService,
    PadLot,
    PowerPackConnection,
    SetUpChange,
)
from fleet.models.machine import column_of, sort_of
from fleet.outages import named
from fleet.quantities import Quantity, pull_words
from inspections.history.span import Span
from inspections.models import (
    Finding,
    Inspection,
    MovedRecords,
    PadCount,
    PadReplacement,
    ReceivedUnit,
    RepairOrder,
)
from inspections.repairs.tables import with_machines
from ratings.models import Commitment, LedgerEntry, Listing, LotRating, ProofPull, PullRecord
from ratings.proof.tables import proof_pulls_of
from ratings.pulls.tables import pulls_of_unit
from ratings.record.papers import Stated, paper_kind, unit_figures, unit_stated

KIND = "history"
# Of days gone by, or of more than a unit: it tells of its day, and is not kept up.
DAYS_KIND = "history of days"

# Read and printed at a time, so that no long history is held in memory.
AT_ONCE = 200
_MACHINES = tuple(sort.column for sort in MachineSort)


@dataclass(frozen=True)
class Chapter:
    """One unit, by its housing, or one machine of another sort: what is on record of it.

    system: the reader's system of units. Each part is a query, read as it is printed.
    """

    machine: Any
    span: Span
    system: str

    @property
    def sort(self) -> MachineSort:
        return sort_of(self.machine)

    @property
    def is_unit(self) -> bool:
        return self.sort is MachineSort.HOUSING

    @property
    def name(self) -> str:
        return named(self.machine)

    @property
    def is_empty(self) -> bool:
        """Whether nothing is on record of it in the span."""
        dated: tuple[Any, ...] = (
            self.entries(),
            self.inspections(),
            self.times_out(),
            self.commitments(),
            self.pulls(),
            self.proof_pulls(),
        )
        if self.mountings or self.fittings or any(each.exists() for each in dated):
            return False
        return next(iter(self.replacements()), None) is None and (
            next(iter(self.findings()), None) is None and next(iter(self.repairs()), None) is None
        )

    # The ledger

    def entries(self) -> QuerySet[LedgerEntry]:
        """The entries of what happened in the span, or was recorded in it."""
        if not self.is_unit:
            return LedgerEntry.objects.none()
        return LedgerEntry.objects.filter(
            self.span.holds_either("occurred_at", "recorded_at"), housing=self.machine
        ).order_by("sequence")

    def entries_in_words(self) -> Iterator[list[LedgerEntry]]:
        """The same, so many at once, each with who recorded it and what it corrects."""
        short = LedgerEntry.objects.only("sequence", "corrects")
        entries = self.entries().prefetch_related("recorded_by", Prefetch("corrects", short))
        return _in_chunks(entries)

    @cached_property
    def head(self) -> LedgerEntry | None:
        """The last entry of what had happened by the end of the span."""
        if not self.is_unit:
            return None
        entries = LedgerEntry.objects.filter(housing=self.machine)
        if self.span.is_past:
            entries = entries.filter(occurred_at__lt=self.span.end)
        return entries.order_by("-sequence").first()

    # What it hung together with

    @cached_property
    def all_mountings(self) -> list[Mounting]:
        if self.sort not in (MachineSort.HOUSING, MachineSort.HAMMER):
            return []
        return list(
            Mounting.objects.filter(**column_of(self.machine))
            .select_related("hammer__yard", "housing__yard")
            .order_by("mounted_at")
        )

    @property
    def mountings(self) -> list[Mounting]:
        """Those that meet the span."""
        begin, end = self.span.begin, self.span.end
        return [
            each
            for each in self.all_mountings
            if each.mounted_at < end
            and (begin is None or each.removed_at is None or each.removed_at >= begin)
        ]

    @cached_property
    def fittings(self) -> list[ClampFitting | PowerPackConnection]:
        """Clamps and power packs on its hammers in the span; of such a machine, its hammers."""
        found: list[Any] = []
        for model, column in ((ClampFitting, "clamp"), (PowerPackConnection, "power_pack")):
            of: Any = model.objects.filter(self.span.meets("fitted_at", "removed_at"))
            if self.is_unit:
                on = [each.hammer_id for each in self.mountings]
                of = of.filter(hammer__in=on)
            elif self.sort is MachineSort.HAMMER:
                of = of.filter(hammer=self.machine)
            elif self.sort.column == column:
                of = of.filter(**{column: self.machine})
            else:
                continue
            found += of.select_related(column, "hammer", "recorded_by", "removed_by").order_by(
                "fitted_at"
            )
        return found

    @cached_property
    def machines(self) -> list[Any]:
        """It, and each machine that hung together with it in the span."""
        found: dict[Any, Any] = {(self.sort, self.machine.pk): self.machine}
        for mounting in self.mountings:
            for each in (mounting.housing, mounting.hammer):
                found.setdefault((sort_of(each), each.pk), each)
        for fitting in self.fittings:
            of: Any = fitting.clamp if isinstance(fitting, ClampFitting) else fitting.power_pack
            for hung in (of, fitting.hammer):
                found.setdefault((sort_of(hung), hung.pk), hung)
        return list(found.values())

    def listings(self) -> QuerySet[Listing]:
        """The listings of its hammers, recorded by the end of the span."""
        hammers = [each.pk for each in self.machines if sort_of(each) is MachineSort.HAMMER]
        return (
            Listing.objects.filter(hammer__in=hammers, recorded_at__lt=self.span.end)
            .select_related("hammer", "recorded_by", "corrected_by__recorded_by")
            .order_by("hammer", "pk")
        )

    def set_up_changes(self) -> Iterator[tuple[Any, SetUpChange]]:
        """What was changed on record of it and of what it hung together with."""
        for machine in self.machines if self.is_unit else [self.machine]:
            changes = SetUpChange.objects.of(machine).filter(self.span.holds("recorded_at"))
            for change in changes.select_related("recorded_by").order_by("pk"):
                yield machine, change

    # What people saw and did

    def all_inspections(self) -> QuerySet[Inspection]:
        if not self.is_unit:
            return Inspection.objects.filter(**column_of(self.machine))
        return Inspection.objects.filter(self._while_part("seen_at", of_one=False))

    def inspections(self) -> QuerySet[Inspection]:
        """Those seen in the span, or recorded in it."""
        asked = self.span.holds_either("seen_at", "recorded_at")
        return self.all_inspections().filter(asked).order_by("seen_at", "pk")

    def inspections_in_words(self) -> Iterator[list[Inspection]]:
        """The same, so many at once, each with all that is printed of it."""
        return _in_chunks(
            self.inspections()
            .select_related(
                "corrected_by__recorded_by",
                "second_look__recorded_by",
                "hour_reading",
                "pack_hour_reading",
            )
            # People, kinds and machines are few: one record of each serves all that name it.
            .prefetch_related("recorded_by", "own_kind", *_MACHINES, "answers", "photos__held")
        )

    def replacements(self) -> Iterator[list[PadReplacement]]:
        if not self.is_unit:
            return iter(())
        return _in_chunks(
            PadReplacement.objects.filter(
                self.span.holds_either("fitted_at", "recorded_at"), housing=self.machine
            )
            .select_related("recorded_by", "corrected_by")
            .prefetch_related("pads__lot", "pads__removed_lot")
            .order_by("fitted_at", "pk")
        )

    def findings(self) -> Iterator[list[Finding]]:
        """Those open at any time in the span, of it or of what hung there then or does today."""
        found: Any = Finding.objects.filter(
            self.span.meets("inspection__seen_at", "closing__closed_at")
        )
        if self.is_unit:
            found = found.with_unit().filter(
                Q(unit_today=self.machine.pk)
                | Q(inspection__housing=self.machine)
                | self._while_part("inspection__seen_at")
            )
        else:
            found = found.of(self.machine)
        return _in_chunks(
            found.distinct()
            .select_related(
                "inspection__recorded_by",
                "inspection__corrected_by",
                "closing__recorded_by",
                *_MACHINES,
            )
            .prefetch_related("photos__held")
            .order_by("inspection__seen_at", "pk")
        )

    def repairs(self) -> Iterator[list[RepairOrder]]:
        """Orders open at any time in the span, of it or of what hung there when it was ordered."""
        orders: Any = RepairOrder.objects.filter(
            self.span.meets("recorded_at", "closing__ended_at")
        )
        if self.is_unit:
            orders = orders.filter(self._while_part("recorded_at"))
        else:
            orders = orders.of(self.machine)
        return _in_chunks(
            with_machines(orders)
            .select_related("closing__recorded_by")
            .prefetch_related("lines__taken_back", "photos")
            .order_by("pk")
        )

    def times_out(self) -> QuerySet[OutOfService]:
        """Times out of service that meet the span."""
        out: Any = OutOfService.objects.filter(self.span.meets("since", "released_at"))
        if self.is_unit:
            out = out.with_unit().filter(
                Q(unit_today=self.machine.pk)
                | Q(findings__inspection__housing=self.machine)
                | self._while_part("since")
            )
        else:
            out = out.of(self.machine)
        found: QuerySet[OutOfService] = (
            out.distinct()
            .select_related("recorded_by", "released_by", *_MACHINES)
            .prefetch_related("reaches")
            .order_by("since", "pk")
        )
        return found

    def outage(self) -> OutOfService | None:
        """The time out of service that it is in at the end of the span."""
        end = self.span.end
        return next(
            (each for each in self.times_out() if not each.released_at or each.released_at >= end),
            None,
        )

    def moved(self) -> QuerySet[MovedRecords]:
        moved: Any = (
            MovedRecords.objects.of_unit(self.machine)
            if self.is_unit
            else MovedRecords.objects.of(self.machine)
        )
        found: QuerySet[MovedRecords] = (
            moved.filter(self.span.holds("recorded_at"))
            .select_related("recorded_by", *_MACHINES)
            .order_by("recorded_at", "pk")
        )
        return found

    def received(self) -> ReceivedUnit | None:
        """The record with which a unit came from another site, where it did."""
        if not self.is_unit:
            return None
        units = ReceivedUnit.objects.filter(housing=self.machine)
        return units.select_related("recorded_by").first()

    # Of units alone

    def guides(self) -> QuerySet[HousingGuide]:
        if not self.is_unit:
            return HousingGuide.objects.none()
        return (
            HousingGuide.objects.filter(
                self.span.holds_either("occurred_at", "recorded_at"), housing=self.machine
            )
            .select_related("recorded_by", "corrects", "corrected_by")
            .order_by("occurred_at", "pk")
        )

    def proof_pulls(self) -> QuerySet[ProofPull]:
        if not self.is_unit:
            return ProofPull.objects.none()
        pulls = proof_pulls_of(self.machine)
        return pulls.filter(self.span.holds_either("pulled_at", "recorded_at")).order_by(
            "pulled_at", "pk"
        )

    def pulls(self) -> QuerySet[PullRecord]:
        if not self.is_unit:
            return PullRecord.objects.none()
        pulls = pulls_of_unit(self.machine)
        return pulls.filter(self.span.holds_either("pulled_at", "recorded_at")).order_by(
            "pulled_at", "pk"
        )

    def commitments(self) -> QuerySet[Commitment]:
        """Those that hold the unit or the hammer in the span, or were made or ended in it."""
        if self.sort not in (MachineSort.HOUSING, MachineSort.HAMMER):
            return Commitment.objects.none()
        asked = (
            self.span.meets_days("first_day", "last_day")
            | self.span.holds("answer__recorded_at")
            | self.span.holds("released_at")
        )
        return (
            Commitment.objects.filter(asked, **column_of(self.machine))
            .select_related(
                "answer__recorded_by", "answer__entry", "job", "hammer", "housing", "released_by"
            )
            .defer("answer__document", "answer__entry__document")
            .prefetch_related("confirmations__answer", "confirmations__recorded_by")
            .order_by("first_day", "pk")
        )

    def ratings_of_lots(self) -> QuerySet[LotRating]:
        """The ratings of the lots whose pads were in it in the span, or are now."""
        if not self.is_unit:
            return LotRating.objects.none()
        in_it = PadLot.objects.filter(
            Q(pk__in=self._lots_seen())
            | Q(mark__in=self._lots_counted())
            | (Q() if self.span.is_past else Q(positions__housing=self.machine))
        )
        return (
            LotRating.objects.with_state()
            .filter(lot__in=in_it.values("pk"), recorded_at__lt=self.span.end)
            .select_related(
                "lot",
                "recorded_by",
                "approval__recorded_by",
                "withdrawal__recorded_by",
                "rejection__recorded_by",
            )
            .prefetch_related("tests")
            .order_by("lot__mark", "pk")
        )

    def _lots_seen(self) -> QuerySet[Any, Any]:
        seen = PadLot.objects.filter(
            pads_seen__inspection__housing=self.machine,
            pads_seen__inspection__in=self.inspections().order_by().values("pk"),
        )
        return seen.order_by().values("pk").distinct()

    def _lots_counted(self) -> set[str]:
        if self.head is None:
            return set()
        return {pad["lot"] for pad in self.head.inputs["positions"] if pad["lot"]}

    # Meters

    def hour_readings(self) -> Iterator[list[HourReading]]:
        if self.sort.column not in ("hammer", "power_pack"):
            return iter(())
        return _in_chunks(
            HourReading.objects.filter(
                self.span.holds_either("read_at", "recorded_at"), **column_of(self.machine)
            )
            .select_related("recorded_by", "corrected_by")
            .order_by("read_at", "pk")
        )

    def meter_changes(self) -> QuerySet[MeterChange]:
        if self.sort.column not in ("hammer", "power_pack"):
            return MeterChange.objects.none()
        return (
            MeterChange.objects.filter(
                self.span.holds_either("changed_at", "recorded_at"), **column_of(self.machine)
            )
            .select_related("recorded_by")
            .order_by("changed_at", "pk")
        )

    def _while_part(self, moment: str, *, of_one: bool = True) -> Q:
        """Return which records are of the unit: of its housing, or of a machine while part of it.

        of_one: each record is of one machine alone. An inspection names all that hung together,
        and one of a hammer, a clamp or a power pack by itself counts while that hung there.
        """
        asked = Q(housing=self.machine)
        for column, key, spans in self._hung:
            of = Q(**{column: key})
            if not of_one:
                of &= Q(housing=None)
                if column != MachineSort.HAMMER.column:
                    of &= Q(hammer=None)
            for begun, ended in spans:
                of &= _within(moment, begun, ended)
            asked |= of
        return asked

    @cached_property
    def _hung(self) -> list[tuple[str, int, list[tuple[datetime, datetime | None]]]]:
        """Which machines hung under the housing, each by its column and key, and when."""
        found: list[tuple[str, int, list[tuple[datetime, datetime | None]]]] = []
        for each in self.all_mountings:
            span = (each.mounted_at, each.removed_at)
            found.append((MachineSort.HAMMER.column, each.hammer_id, [span]))
            for fittings, column in (
                (each.hammer.clampfittings, MachineSort.CLAMP.column),
                (each.hammer.powerpackconnections, MachineSort.POWER_PACK.column),
            ):
                for fitting in fittings.all():
                    on = (fitting.fitted_at, fitting.removed_at)
                    found.append((column, getattr(fitting, f"{column}_id"), [span, on]))
        return found


def _within(moment: str, begun: datetime, ended: datetime | None) -> Q:
    since = Q(**{f"{moment}__gte": begun})
    return since if ended is None else since & Q(**{f"{moment}__lt": ended})


def _in_chunks(records: QuerySet[Any]) -> Iterator[list[Any]]:
    """Yield records so many at once."""
    chunk: list[Any] = []
    for record in records.iterator(chunk_size=AT_ONCE):
        chunk.append(record)
        if len(chunk) == AT_ONCE:
            yield chunk
            chunk = []
    if chunk:
        yield chunk


class PadSeen(NamedTuple):
    """What an inspection saw at one position; lot: the mark of its lot."""

    side: str
    number: int
    condition: str
    lot: str | None


def pads_seen(inspections: Sequence[Inspection]) -> dict[int, list[PadSeen]]:
    """Return the pads that inspections counted, by the inspection’s key, side A first.

    Without records made of them: there are more of them than of all else that a history prints.
    """
    seen: dict[int, list[PadSeen]] = {}
    pads = PadCount.objects.filter(inspection__in=inspections).order_by("side", "number")
    for key, *pad in pads.values_list("inspection", "side", "number", "condition", "lot__mark"):
        seen.setdefault(key, []).append(PadSeen._make(pad))
    return seen


def corrections_of(entries: Sequence[LedgerEntry]) -> dict[int | None, list[int]]:
    """Return the numbers of the entries that correct some, by the key of what they correct."""
    found: dict[int | None, list[int]] = {}
    correcting = LedgerEntry.objects.filter(corrects__in=entries)
    for key, sequence in correcting.order_by("sequence").values_list("corrects", "sequence"):
        found.setdefault(key, []).append(sequence)
    return found


def usable_words(entry: LedgerEntry, system: str) -> str:
    limit = entry.results["limited_by"]
    if entry.usable_travel_in is None:
        return "–"
    words = length_words(entry.usable_travel_in, system)
    return f"{words}, limited by {limit}" if limit else words


def length_words(value: float | None, system: str) -> str:
    return "not taped" if value is None else Quantity.LENGTH.words(value, system)


@paper_kind(KIND)
def history_stated(subject: str, system: str) -> Stated:
    """Return what the history of a unit states of how it stands. subject: key of the housing."""
    return unit_stated("History", subject, system)


def days_stated(words: str, chapters: Sequence[Chapter]) -> Stated:
    """Return what a history states that tells of its day: of other days, or of more than a unit."""
    units = [(each, each.head) for each in chapters if each.head is not None]
    if len(chapters) == 1:
        figures = unit_figures(chapters[0].head, chapters[0].system) if units else ()
    else:
        figures = tuple(
            (
                f"Line pull, {chapter.machine.mark}",
                pull_words(head.pull_lbf, chapter.system, listed_lbf=head.listed_lbf),
            )
            for chapter, head in units
        )
    return Stated(f"History of {words}", figures, tuple(head for _, head in units))
