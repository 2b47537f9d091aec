"""What else was so, or known, of a unit, a machine, a lot and a job on a past day."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet, Sum

from fleet import clock
from fleet.as_of import AsOf
from fleet.hours import running_hours
from fleet.models import MachineSort, OutOfService, PadLot, StockMove
from fleet.models.machine import column_of, sort_of
from fleet.stock import NO_YARD
from fleet.units import Hung, hung_as_of, hung_on_hammer_as_of
from inspections.as_of.units import outages_as_of
from inspections.machines.forms import METERED
from inspections.models import Finding
from inspections.schedule.due import MachineDue, findings_with_gravity, machine_due_as_of
from ratings.models import BenchTest, Commitment, ExtractionJob, JobAnswer, LotRating


def findings_as_of(as_of: AsOf) -> QuerySet[Finding]:
    """Return the findings open at a moment, the gravest first."""
    closed = Q(closing__closed_at__lte=as_of.at, closing__recorded_at__lte=as_of.known_by)
    return findings_with_gravity(
        Finding.objects.filter(
            inspection__seen_at__lte=as_of.at, inspection__recorded_at__lte=as_of.known_by
        ).exclude(closed)
    )


def findings_of(machines: Collection[Any], as_of: AsOf) -> list[Finding]:
    """Return the findings open at some machines at a moment."""
    return list(findings_as_of(as_of).filter(pk__in=Finding.objects.of_any(machines).values("pk")))


def commitments_as_of(as_of: AsOf) -> QuerySet[Commitment]:
    """Return the commitments made by a moment and not released by then.

    A promise is somebody's word: it holds from when it was given, whatever is known since.
    """
    made = Commitment.objects.filter(answer__recorded_at__lte=as_of.at)
    return made.exclude(released_at__lte=as_of.at).select_related(
        "job", "housing", "hammer", "answer"
    )


def holding_as_of(as_of: AsOf, housings: Collection[int]) -> dict[int, list[Commitment]]:
    """Return the commitments of units that were not over at a moment, by housing."""
    found: dict[int, list[Commitment]] = {}
    held = commitments_as_of(as_of).filter(housing__in=housings, last_day__gte=as_of.day)
    for each in held.order_by("first_day", "pk"):
        found.setdefault(each.housing_id, []).append(each)
    return found


@dataclass(frozen=True)
class MachineThen:
    """A machine as of a moment. hours_run: None where its meter was not read, or it has none."""

    machine: Any
    sort: MachineSort
    hung: Hung
    hours_run: float | None
    due: MachineDue
    outages: list[OutOfService]
    findings: list[Finding]


def machine_as_of(machine: Any, as_of: AsOf) -> MachineThen:
    """Return how a machine stood at a moment."""
    sort = sort_of(machine)
    hung = hung_with(machine, as_of)
    running = running_hours([machine.pk], sort, as_of.known_by) if sort in METERED else {}
    run = running[machine.pk].until(as_of.day) if machine.pk in running else None
    whose = f"{sort.column}_id"
    return MachineThen(
        machine,
        sort,
        hung,
        run.now if run else None,
        machine_due_as_of(machine, hung, as_of),
        [each for each in outages_as_of(as_of) if getattr(each, whose) == machine.pk],
        list(findings_as_of(as_of).filter(**column_of(machine))),
    )


def hung_with(machine: Any, as_of: AsOf) -> Hung:
    """Return what a machine hung together with at a moment."""
    sort = sort_of(machine)
    for hung in (*hung_as_of(as_of).values(), *hung_on_hammer_as_of(as_of)):
        if hung.by_sort.get(sort) == machine:
            return hung
    return Hung(**{sort.column: machine})


@dataclass(frozen=True)
class LotThen:
    """A lot as of a moment. shelves: how many pads lay in each yard by the books."""

    lot: PadLot
    rating: LotRating | None
    shelves: list[tuple[str, int]]
    tests: list[BenchTest]

    @property
    def in_stock(self) -> int:
        return sum(pads for _, pads in self.shelves)


def lots_as_of(lots: Iterable[PadLot], as_of: AsOf) -> dict[int, LotThen]:
    """Return how lots stood at a moment, by their keys, in a fixed number of queries."""
    listed = {lot.pk: lot for lot in lots}
    moves = StockMove.objects.filter(
        lot__in=listed, occurred_at__lte=as_of.at, recorded_at__lte=as_of.known_by
    )
    shelves: dict[int, list[tuple[str, int]]] = {}
    summed = moves.order_by("yard__name").values_list("lot", "yard__name")
    for key, yard, pads in summed.annotate(pads=Sum("change")):
        if pads:
            shelves.setdefault(key, []).append((yard or NO_YARD, pads))
    tests: dict[int, list[BenchTest]] = {}
    made = BenchTest.objects.as_of(as_of, "tested_at").filter(lot__in=listed)
    for test in made.select_related("stand").order_by("-tested_at", "-pk"):
        tests.setdefault(test.lot_id, []).append(test)
    with clock.set_to(as_of.at):
        ratings = LotRating.objects.in_force_by_lot(listed, as_of.at)
    return {
        key: LotThen(lot, ratings.get(key), shelves.get(key, []), tests.get(key, []))
        for key, lot in listed.items()
    }


@dataclass(frozen=True)
class PromiseThen:
    """A commitment as of a moment. answer: the last it had been made or confirmed on."""

    commitment: Commitment
    answer: JobAnswer

    @property
    def verdict(self) -> str:
        return str(self.answer.verdict)


@dataclass(frozen=True)
class JobThen:
    """A job as of a moment. version: the number it had been saved under, None before it was."""

    job: ExtractionJob
    version: int | None
    promises: list[PromiseThen]
    answers: list[JobAnswer]


def job_as_of(job: ExtractionJob, as_of: AsOf) -> JobThen:
    """Return how a job stood at a moment."""
    versions = job.versions.filter(recorded_at__lte=as_of.at).order_by("-number")
    answers = list(
        job.answers.filter(recorded_at__lte=as_of.at).select_related(
            "housing", "hammer", "entry", "recorded_by"
        )
    )
    promises = []
    made = commitments_as_of(as_of).filter(job=job).prefetch_related("confirmations__answer")
    for each in made.order_by("first_day", "pk"):
        confirmed = [one.answer for one in each.confirmations.all() if one.recorded_at <= as_of.at]
        promises.append(PromiseThen(each, confirmed[-1] if confirmed else each.answer))
    version = versions.values_list("number", flat=True).first()
    return JobThen(job, version, promises, answers)
