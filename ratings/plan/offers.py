"""What a plan of several jobs is made from, and the plan: every unit for every job."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from django.utils import timezone

from fleet.models import Hammer, Hire, PadLot, SuppressorHousing, Transfer
from ratings.jobs.ahead import Plan as ToDo
from ratings.jobs.ahead import as_planned, counts_needed
from ratings.jobs.answer import question_of
from ratings.jobs.candidates import Candidate, candidates, watch_of, yard_on
from ratings.jobs.rules import rules_in_force
from ratings.mechanics.extraction.check import check_fleet_piles
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.planning import Busy, Fit, JobPlan, JobToServe, Offer, Plan, Span, best_plan
from ratings.mechanics.soil import LayerFault
from ratings.models import Commitment, ConditionKind, ExtractionJob
from ratings.plan.fit import UnitFit, fit_of
from ratings.plan.holds import holds_of
from ratings.transport import Transport, transport_in_force

MOST_JOBS = 20


@dataclass(frozen=True)
class PlannedUnit:
    """A unit as a plan names it."""

    housing: SuppressorHousing
    hammer: Hammer


@dataclass(frozen=True)
class PlannedJob:
    """A job with what the plan comes to for it.

    committed: units it holds already. part: None where these are all it needs, or where its
    ground can't be calculated (trouble says why).
    """

    job: ExtractionJob
    committed: tuple[Commitment, ...]
    part: JobPlan | None = None
    trouble: str = ""

    @property
    def missing(self) -> int:
        """How many units it lacks, planned ones counted as there."""
        if self.trouble:
            needed: int = self.job.units_needed
            return max(0, needed - len(self.committed))
        return self.part.missing if self.part else 0


@dataclass(frozen=True)
class FleetPlan:
    """The plan of some jobs. units: by mark; fits: by mark and the job's key."""

    jobs: tuple[PlannedJob, ...]
    plan: Plan
    units: dict[str, PlannedUnit]
    fits: dict[tuple[str, int], UnitFit]

    def job(self, key: int) -> ExtractionJob:
        """Return one of its jobs by its key."""
        return next(each.job for each in self.jobs if each.job.pk == key)


def plan_of_jobs(jobs: Sequence[ExtractionJob]) -> FleetPlan:
    """Return the best plan of the units the yard has for some jobs, as all stands now.

    Commitments in force stay as they are: a job asks for the units it still lacks.
    """
    transport = transport_in_force()
    held = _committed(jobs)
    units: dict[str, PlannedUnit] = {}
    fits: dict[tuple[str, int], UnitFit] = {}
    offers: list[Offer] = []
    asked: list[JobToServe] = []
    troubles: dict[int, str] = {}
    for job in jobs:
        lacks = job.units_needed - len(held[job.pk])
        if lacks < 1:
            continue
        try:
            listed = list(_offers(job, transport, {each.housing_id for each in held[job.pk]}))
        except (LayerFault, ValueError) as fault:
            troubles[job.pk] = str(fault)
            continue
        asked.append(
            JobToServe(job.pk, job.site, Span(job.first_day, job.last_day), units_needed=lacks)
        )
        for unit, offer, fit in listed:
            units[offer.unit] = unit
            offers.append(offer)
            fits[offer.unit, job.pk] = fit
    plan = best_plan(asked, offers, _busy(units, jobs, transport))
    parts = {part.job.key: part for part in plan.jobs}
    return FleetPlan(
        tuple(
            PlannedJob(job, tuple(held[job.pk]), parts.get(job.pk), troubles.get(job.pk, ""))
            for job in jobs
        ),
        plan,
        units,
        fits,
    )


def _committed(jobs: Sequence[ExtractionJob]) -> dict[int, list[Commitment]]:
    found: dict[int, list[Commitment]] = defaultdict(list)
    in_force = Commitment.objects.in_force().filter(job__in=jobs)
    for each in in_force.select_related("housing", "hammer"):
        found[each.job_id].append(each)
    return found


def _offers(
    job: ExtractionJob, transport: Transport, committed: set[int]
) -> Iterator[tuple[PlannedUnit, Offer, UnitFit]]:
    """Yield every unit for a job, but for those it holds. Raises LayerFault, ValueError."""
    found = [
        # Whether it is free on these days the plan finds out itself, with the days on the way.
        replace(each, unit=replace(each.unit, committed=""))
        for each in candidates(
            job.first_day,
            job.last_day,
            job.distances_mi,
            watch=watch_of(job.indicator, job.last_day),
        )
        if each.housing.pk not in committed
    ]
    transfers = Transfer.objects.open_by_housing()
    for each, fit in zip(found, _fits(job, found), strict=True):
        yard = yard_on(each.housing.yard_id, transfers.get(each.housing.pk), job.first_day)
        haul_mi = transport.haul_mi(yard, job.distances_mi)
        days = transport.days(haul_mi)
        offer = Offer(
            unit=each.housing.mark,
            job=job.pk,
            fit=fit.fit,
            margin=fit.pull_margin,
            haul_mi=haul_mi,
            to_do=len(fit.to_do),
            days_before=days,
            days_after=days,
            why_not=fit.why_not,
            remedy=fit.remedy,
        )
        yield PlannedUnit(each.housing, each.hammer), offer, fit


def _fits(job: ExtractionJob, found: Sequence[Candidate]) -> list[UnitFit]:
    """Return how units fit a job: as they stand, or once what can be done beforehand is done.

    That is a full count on days that let it hold, the load indicator of the job calibrated, and a
    rate approved anew. A unit out of service
    is none to count on: to release it is told as what would let it go.
    """
    fits = _judged(job, [each.unit for each in found])
    lots = {lot for each in found for lot in _lots_out_of_date(each.unit)}
    by_mark = {lot.mark: lot for lot in PadLot.objects.filter(mark__in=lots)} if lots else {}
    policy, today = rules_in_force(), timezone.localdate()
    days = (job.first_day, job.last_day)
    # Each adds to what is done: as little as lets a unit go.
    for with_rates in (False, True):
        chosen: list[int] = []
        things: list[tuple[ToDo, ...]] = []
        for place, fit in enumerate(fits):
            unit = found[place].unit
            by = max(job.first_day, today)
            to_do = list(counts_needed(found[place].counted_on, policy, *days, today))
            if unit.calibration_lapsing:
                to_do.append(ToDo(ConditionKind.CALIBRATION, today, by, indicator=job.indicator))
            if with_rates:
                to_do += [
                    ToDo(ConditionKind.RATE, today, by, lot=by_mark[mark])
                    for mark in _lots_out_of_date(unit)
                    if mark in by_mark
                ]
            if fit.fit is Fit.NO and to_do:
                chosen.append(place)
                things.append(tuple(to_do))
        then = [
            as_planned(found[place], done, found[place].counted_on, *days)
            for place, done in zip(chosen, things, strict=True)
        ]
        for place, done, fit in zip(chosen, things, _judged(job, then), strict=True):
            # Of one that may not go even so, what stands in the way then.
            fits[place] = fit if fit.fit is Fit.NO else replace(fit, to_do=done)
    return fits


def _lots_out_of_date(unit: Unit) -> tuple[str, ...]:
    """Return the lots whose rate is stale, or comes to be while the unit is held, by mark."""
    return tuple(dict.fromkeys((*unit.stale_lots, *unit.lapsing_lots)))


def _judged(job: ExtractionJob, units: Sequence[Unit]) -> list[UnitFit]:
    """Return how units fit a job as they are given, by the hardest of its groups of piles."""
    if not units:
        return []
    policy = rules_in_force()
    verdicts = check_fleet_piles(units, question_of(job).piles, policy)
    return [fit_of(verdict, unit) for unit, verdict in zip(units, verdicts, strict=True)]


def _busy(
    units: dict[str, PlannedUnit], jobs: Sequence[ExtractionJob], transport: Transport
) -> Iterator[Busy]:
    """Yield what holds the units about the days of the jobs: commitments, transfers."""
    if not jobs:
        return
    ahead = timedelta(days=2 * transport.longest_days)
    first_day = min(job.first_day for job in jobs) - ahead
    last_day = max(job.last_day for job in jobs) + ahead
    by_housing = {unit.housing.pk: mark for mark, unit in units.items()}
    by_hammer = {unit.hammer.pk: mark for mark, unit in units.items()}
    held = Commitment.objects.overlapping(first_day, last_day)
    for hold in holds_of(held, transport):
        each, days = hold.commitment, timedelta(days=hold.days_on_the_way)
        span = Span(each.first_day - days, each.last_day + days)
        for mark in {by_housing.get(each.housing_id, ""), by_hammer.get(each.hammer_id, "")}:
            if mark:
                yield Busy(mark, span, f"{each.job.site}, with its days on the way")
    for transfer in Transfer.objects.open_by_housing().values():
        if transfer.housing_id in by_housing:
            span = Span(transfer.leaves_on, transfer.last_day_away)
            what = f"its transfer from {transfer.origin} to {transfer.goal}"
            yield Busy(by_housing[transfer.housing_id], span, what)
    for hire in Hire.objects.open():
        for mark in {by_housing.get(hire.housing_id, ""), by_hammer.get(hire.hammer_id, "")}:
            if mark:
                span = Span(hire.first_day_away, hire.last_day_away)
                yield Busy(mark, span, f"its hire to {hire.hirer}")
