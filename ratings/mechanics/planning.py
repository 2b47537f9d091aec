"""Which unit goes to which job, several jobs at once: the best plan, and why it is so.

Binary variables say that a unit goes to a job; HiGHS, by `scipy.optimize.milp`, finds the best of
them, one aim after the other (`Aim`), each held at its best while the next is sought. All that is
weighed is a whole number, so that "no worse than the best" is exact.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from functools import cached_property
from typing import Any

# What miles and margins are weighed in: finer differences are no reason to choose by.
PARTS_OF_A_MILE = 10
PARTS_OF_A_MARGIN = 100
MOST_MARGIN = 1_000.0
TIME_LIMIT_S = 20.0


class Fit(StrEnum):
    """Whether a unit may go to a job."""

    OUTRIGHT = "suits"
    CARE = "suits with care"
    NO = "may not go"


class Aim(StrEnum):
    """What a plan is judged by, the first before all others."""

    SERVED = "most jobs with all the units they need"
    FILLED = "most places filled"
    OUTRIGHT = "fewest units that suit with care only"
    TO_DO = "fewest things to do before units go"
    HAUL_KNOWN = "fewest hauls of unknown length"
    HAUL = "fewest miles of haul in all"
    SPARE = "least capacity spent on jobs that don’t need it"
    ORDER = "the order of the marks"


@dataclass(frozen=True)
class Span:
    """Some days, both ends included."""

    first_day: date
    last_day: date

    def overlaps(self, other: Span) -> bool:
        """Whether any day is in both."""
        return self.first_day <= other.last_day and other.first_day <= self.last_day

    def later_by(self, days: int) -> Span:
        """Return the same number of days, later."""
        shift = timedelta(days=days)
        return Span(self.first_day + shift, self.last_day + shift)


@dataclass(frozen=True)
class JobToServe:
    """A job, its days, and how many units it still needs on all of them."""

    key: int
    name: str
    days: Span
    units_needed: int = 1


@dataclass(frozen=True)
class Offer:
    """One unit for one job.

    margin: supply over demand of its line pull, None where not known; it says how much of the
        unit the job takes up. haul_mi: None where not known.
    to_do: how many things must be done in the yard before it goes, such as a count.
    days_before, days_after: on the way there and back, when it can hold no other job.
    why_not: why it may not go, in words of the caller; remedy: what would change that, "" if
        nothing is known to.
    """

    unit: str
    job: int
    fit: Fit
    margin: float | None = None
    haul_mi: float | None = None
    to_do: int = 0
    days_before: int = 0
    days_after: int = 0
    why_not: str = ""
    remedy: str = ""


@dataclass(frozen=True)
class Busy:
    """Days on which a unit can't be planned, and what holds it, in words of the caller."""

    unit: str
    days: Span
    what: str


class NotUsed(StrEnum):
    """Why a unit is not used for a job."""

    MAY_NOT_GO = "may not go"
    HELD = "held on some of these days"
    ELSEWHERE = "goes to another of these jobs"
    BETTER = "another is better"


@dataclass(frozen=True)
class PassedOver:
    """A unit that doesn't go to a job, and why.

    busy: what holds it, where HELD. other_job: where it goes, where ELSEWHERE. better, aim: the
    unit chosen in its place and what told them apart, where BETTER.
    """

    offer: Offer
    reason: NotUsed
    busy: Busy | None = None
    other_job: int | None = None
    better: Offer | None = None
    aim: Aim | None = None


@dataclass(frozen=True)
class Choice:
    """A unit that goes to a job.

    rivals: how many more suit and are free on these days. aim: what told it from the closest of
    them, None without any. suited: how many of all units suit, free or not.
    """

    offer: Offer
    rivals: int
    suited: int
    aim: Aim | None


@dataclass(frozen=True)
class Way:
    """What would give a job a unit: to begin later, or to mend what keeps a unit from going.

    first_day: the first on which the unit is free for all of it, None where the remedy of its
    offer is meant.
    """

    offer: Offer
    first_day: date | None = None


@dataclass(frozen=True)
class JobPlan:
    """What a plan comes to for one job."""

    job: JobToServe
    choices: tuple[Choice, ...]
    passed_over: tuple[PassedOver, ...]
    ways: tuple[Way, ...]

    @property
    def missing(self) -> int:
        """How many units it still lacks."""
        return self.job.units_needed - len(self.choices)


@dataclass(frozen=True)
class Plan:
    """The best plan, job by job, by day.

    score: what it comes to, by aim; of ORDER left out. is_proven: whether no better one exists,
    False where time ran out before that was sure.
    """

    jobs: tuple[JobPlan, ...]
    score: dict[Aim, int]
    is_proven: bool

    @property
    def haul_mi(self) -> float:
        """Miles of haul in all, one way, as far as they are known."""
        return self.score[Aim.HAUL] / PARTS_OF_A_MILE


def days_for_haul(haul_mi: float | None, *, miles_a_day: float, least_days: int) -> int:
    """Return how many days a haul takes one way: at least least_days, also where not known.

    Raises ValueError for a haul or a day's miles that can't be.
    """
    if not (math.isfinite(miles_a_day) and miles_a_day > 0) or least_days < 0:
        raise ValueError("a day's haul must be more than 0 miles, and its least days 0 or more")
    if haul_mi is None:
        return least_days
    if not (math.isfinite(haul_mi) and haul_mi >= 0):
        raise ValueError("a haul must be 0 miles or more")
    return max(least_days, math.ceil(haul_mi / miles_a_day))


def best_plan(
    jobs: Iterable[JobToServe],
    offers: Iterable[Offer],
    busy: Iterable[Busy] = (),
    *,
    time_limit_s: float = TIME_LIMIT_S,
) -> Plan:
    """Return the plan that serves the jobs best, by the aims in their order.

    No unit holds two jobs on a day, its days on the way counted; the same facts give the same
    plan, in whatever order they come. A unit that may not go is never used.
    Raises ValueError where the facts contradict themselves.
    """
    facts = _Facts(jobs, offers, busy)
    chosen, is_proven = _solve(facts, time_limit_s)
    held: dict[str, list[Offer]] = defaultdict(list)
    by_job: dict[int, list[Offer]] = defaultdict(list)
    for offer in chosen:
        held[offer.unit].append(offer)
        by_job[offer.job].append(offer)
    return Plan(
        jobs=tuple(_explain(facts, job, by_job[job.key], held) for job in facts.jobs),
        score=_score(facts, chosen),
        is_proven=is_proven,
    )


class _Facts:
    """Jobs by day, offers by unit, checked."""

    def __init__(
        self, jobs: Iterable[JobToServe], offers: Iterable[Offer], busy: Iterable[Busy]
    ) -> None:
        self.jobs = sorted(jobs, key=lambda job: (job.days.first_day, job.name, job.key))
        self.job = {job.key: job for job in self.jobs}
        place = {job.key: number for number, job in enumerate(self.jobs)}
        listed = list(offers)
        if len(self.job) != len(self.jobs):
            raise ValueError("two jobs have one key")
        if unknown := sorted({each.job for each in listed} - set(self.job)):
            raise ValueError(f"an offer is for job {unknown[0]}, which is not asked about")
        if len({(each.unit, each.job) for each in listed}) != len(listed):
            raise ValueError("a unit is offered to one job twice")
        for job in self.jobs:
            if job.days.last_day < job.days.first_day or job.units_needed < 1:
                raise ValueError(f"{job.name}: its days are reversed, or it needs no unit")
        for each in listed:
            _check_offer(each)
        self.offers = sorted(listed, key=lambda each: (place[each.job], each.unit))
        self.rank = {unit: rank for rank, unit in enumerate(sorted({o.unit for o in listed}))}
        self.busy: dict[str, list[Busy]] = defaultdict(list)
        for held in sorted(busy, key=lambda one: (one.unit, one.days.first_day, one.what)):
            self.busy[held.unit].append(held)

    def hold(self, offer: Offer) -> Span:
        """Return the days a unit is away: those of the job, and on the way."""
        days = self.job[offer.job].days
        return Span(
            days.first_day - timedelta(days=offer.days_before),
            days.last_day + timedelta(days=offer.days_after),
        )

    def in_the_way(self, offer: Offer) -> Busy | None:
        """Return what holds a unit on some day it would be away, None where nothing does."""
        hold = self.hold(offer)
        return next((each for each in self.busy[offer.unit] if each.days.overlaps(hold)), None)

    @cached_property
    def open(self) -> list[Offer]:
        """Those that a plan may choose among."""
        return [
            each for each in self.offers if each.fit is not Fit.NO and self.in_the_way(each) is None
        ]

    def worth(self, offer: Offer) -> tuple[int, ...]:
        """Return what choosing it costs by the aims from OUTRIGHT on; less is better."""
        return (
            int(offer.fit is Fit.CARE),
            offer.to_do,
            int(offer.haul_mi is None),
            round((offer.haul_mi or 0.0) * PARTS_OF_A_MILE),
            round(min(offer.margin or 0.0, MOST_MARGIN) * PARTS_OF_A_MARGIN),
            self.rank[offer.unit],
        )


BY_OFFER = (Aim.OUTRIGHT, Aim.TO_DO, Aim.HAUL_KNOWN, Aim.HAUL, Aim.SPARE, Aim.ORDER)


def _check_offer(offer: Offer) -> None:
    for number in (offer.margin, offer.haul_mi):
        if number is not None and not (math.isfinite(number) and number >= 0):
            raise ValueError(f"{offer.unit}: a margin or a haul must be 0 or more")
    if min(offer.days_before, offer.days_after, offer.to_do) < 0:
        raise ValueError(f"{offer.unit}: days on the way and things to do must be 0 or more")


def _solve(facts: _Facts, time_limit_s: float) -> tuple[list[Offer], bool]:
    """Return the offers chosen, and whether no better choice exists."""
    if not facts.open:
        return [], True
    program = _Program(facts, time_limit_s)
    is_proven = all(program.improve(aim) for aim in program.aims())
    return program.chosen, is_proven


class _Program:
    """The program of whole numbers: a variable for each open offer, then one for each job."""

    def __init__(self, facts: _Facts, time_limit_s: float) -> None:
        self.facts, self.left_s = facts, time_limit_s
        self.size = len(facts.open) + len(facts.jobs)
        self.rows: list[dict[int, int]] = []
        self.most: list[int] = []
        self.chosen: list[Offer] = []
        for number, job in enumerate(facts.jobs, start=len(facts.open)):
            places = [at for at, each in enumerate(facts.open) if each.job == job.key]
            self._add(dict.fromkeys(places, 1), job.units_needed)
            # Served only with every unit it needs.
            self._add({number: job.units_needed} | dict.fromkeys(places, -1), 0)
        self._keep_to_one_job_a_day()

    def _keep_to_one_job_a_day(self) -> None:
        by_unit: dict[str, list[tuple[int, Span]]] = defaultdict(list)
        for at, offer in enumerate(self.facts.open):
            by_unit[offer.unit].append((at, self.facts.hold(offer)))
        for holds in by_unit.values():
            # Where any overlap, they do so on the day the later of them begins.
            for day in sorted({hold.first_day for _, hold in holds}):
                there = [at for at, hold in holds if hold.first_day <= day <= hold.last_day]
                if len(there) > 1:
                    self._add(dict.fromkeys(there, 1), 1)

    def _add(self, row: dict[int, int], most: int) -> None:
        self.rows.append(row)
        self.most.append(most)

    def aims(self) -> list[dict[int, int]]:
        """Return what is made least, one after the other, as a cost of each variable."""
        facts, offers = self.facts, len(self.facts.open)
        costs = [facts.worth(each) for each in facts.open]
        served = {offers + place: -1 for place in range(len(facts.jobs))}
        filled = dict.fromkeys(range(offers), -1)
        by_offer = [
            {at: cost[level] for at, cost in enumerate(costs) if cost[level]}
            for level in range(BY_OFFER.index(Aim.ORDER))
        ]
        by_order = [
            {at: costs[at][-1] ** power for at, each in enumerate(facts.open) if each.job == job}
            for job in facts.job
            for power in (1, 2)
            if power == 1 or facts.job[job].units_needed > 1
        ]
        return [aim for aim in (served, filled, *by_offer, *by_order) if any(aim.values())]

    def improve(self, cost: dict[int, int]) -> bool:
        """Make one cost least and hold it there; False where time ran out before that was sure."""
        # Optimisation takes a while to load, and few pages plan.
        from time import monotonic

        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp

        costs = np.zeros(self.size)
        costs[list(cost)] = list(cost.values())
        began = monotonic()
        found = milp(
            costs,
            integrality=np.ones(self.size),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(self._matrix(), -np.inf, np.array(self.most) + 0.5),
            options={"mip_rel_gap": 0.0, "time_limit": max(self.left_s, 0.01)},
        )
        self.left_s -= monotonic() - began
        if found.status not in (0, 1):
            raise RuntimeError(f"the solver of plans gave up: {found.message}")
        if found.x is not None:
            taken = {at for at in range(self.size) if found.x[at] > 0.5}
            self.chosen = [each for at, each in enumerate(self.facts.open) if at in taken]
            self._add(cost, sum(cost.get(at, 0) for at in taken))
        return bool(found.status == 0)

    def _matrix(self) -> Any:
        from scipy.sparse import csr_array

        filled = [
            (at, column, factor)
            for at, row in enumerate(self.rows)
            for column, factor in row.items()
        ]
        places, columns, factors = zip(*filled, strict=True)
        return csr_array((factors, (places, columns)), shape=(len(self.rows), self.size))


def _score(facts: _Facts, chosen: Sequence[Offer]) -> dict[Aim, int]:
    many: dict[int, int] = defaultdict(int)
    for offer in chosen:
        many[offer.job] += 1
    worths = [facts.worth(each) for each in chosen]
    return {
        Aim.SERVED: sum(many[job.key] == job.units_needed for job in facts.jobs),
        Aim.FILLED: len(chosen),
        **{
            aim: sum(worth[level] for worth in worths)
            for level, aim in enumerate(BY_OFFER)
            if aim is not Aim.ORDER
        },
    }


def _explain(
    facts: _Facts, job: JobToServe, chosen: list[Offer], held: dict[str, list[Offer]]
) -> JobPlan:
    offers = [each for each in facts.offers if each.job == job.key]
    passed = [_why_not(facts, each, chosen, held) for each in offers if each not in chosen]
    rivals = [each.offer for each in passed if each.reason is NotUsed.BETTER]
    suited = sum(each.fit is not Fit.NO for each in offers)
    return JobPlan(
        job=job,
        choices=tuple(
            Choice(each, len(rivals), suited, _closest(facts, each, rivals)) for each in chosen
        ),
        passed_over=tuple(passed),
        ways=tuple(_ways(facts, passed, held)) if len(chosen) < job.units_needed else (),
    )


def _why_not(
    facts: _Facts, offer: Offer, chosen: list[Offer], held: dict[str, list[Offer]]
) -> PassedOver:
    if offer.fit is Fit.NO:
        return PassedOver(offer, NotUsed.MAY_NOT_GO)
    if busy := facts.in_the_way(offer):
        return PassedOver(offer, NotUsed.HELD, busy=busy)
    away = facts.hold(offer)
    for other in held.get(offer.unit, []):
        if facts.hold(other).overlaps(away):
            return PassedOver(offer, NotUsed.ELSEWHERE, other_job=other.job)
    # It is free: sent in place of any of those chosen, the plan would come out worse, or it would
    # have been chosen. The closest of them tells by what.
    closest = max(chosen, key=facts.worth, default=None)
    return PassedOver(
        offer,
        NotUsed.BETTER,
        better=closest,
        aim=_told_apart(facts, closest, offer) if closest else None,
    )


def _closest(facts: _Facts, chosen: Offer, rivals: list[Offer]) -> Aim | None:
    """Return what told a unit chosen from the rival that comes closest to it."""
    if not rivals:
        return None
    return _told_apart(facts, chosen, min(rivals, key=facts.worth))


def _told_apart(facts: _Facts, one: Offer, other: Offer) -> Aim:
    pairs = zip(BY_OFFER, facts.worth(one), facts.worth(other), strict=True)
    return next((aim for aim, mine, theirs in pairs if mine != theirs), Aim.ORDER)


def _ways(facts: _Facts, passed: list[PassedOver], held: dict[str, list[Offer]]) -> Iterable[Way]:
    """Yield what would give the job a unit: what is free soonest first, then what can be mended."""
    later = [
        Way(each.offer, _free_from(facts, each.offer, held))
        for each in passed
        if each.reason in (NotUsed.HELD, NotUsed.ELSEWHERE)
    ]
    yield from sorted(later, key=lambda way: (way.first_day or date.max, facts.worth(way.offer)))
    for each in passed:
        if each.reason is NotUsed.MAY_NOT_GO and each.offer.remedy:
            yield Way(each.offer)


def _free_from(facts: _Facts, offer: Offer, held: dict[str, list[Offer]]) -> date:
    """Return the first day, the job's or later, from which a unit is free for all of the job."""
    away = facts.hold(offer)
    taken = [each.days for each in facts.busy[offer.unit]]
    taken += [facts.hold(each) for each in held.get(offer.unit, []) if each != offer]
    shifts = [0] + [(each.last_day - away.first_day).days + 1 for each in taken]
    shift = min(
        days
        for days in shifts
        if days >= 0 and not any(each.overlaps(away.later_by(days)) for each in taken)
    )
    return facts.job[offer.job].days.first_day + timedelta(days=shift)
