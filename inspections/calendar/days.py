"""What each unit does on each of some days: jobs, the way there and back, transfers, outages."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from itertools import groupby
from typing import Any

from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from fleet.dates import days_words
from fleet.models import Hammer, Hire, OutOfService, SuppressorHousing, Transfer, TransferEnd
from inspections.schedule.due import due_of_fleet
from ratings.jobs.validity import CommitmentNow, commitments_now
from ratings.models import Commitment
from ratings.plan.holds import holds_of
from ratings.transport import transport_in_force


class State(StrEnum):
    """What a unit does on a day; of several the first here is what it is shown as."""

    OUT = "out of service"
    VOID = "void: do not send"
    TRANSFER = "transfer"
    HIRE = "on hire"
    CONFIRMED = "on a job"
    PROMISED = "promised, conditions open"
    TRANSPORT = "transport"
    DUE = "inspection due"
    FREE = "free"


WAYS = {"there": "to", "back": "back from"}
ORDER = {state: place for place, state in enumerate(State)}


@dataclass(frozen=True)
class Event:
    """Something that holds a unit from one day to another, or is due on one.

    words: what it is. url: the page that tells more. brief: what a narrow day has room for.
    """

    state: State
    first_day: date
    last_day: date
    words: str
    url: str
    brief: str = ""

    @property
    def days(self) -> str:
        return days_words(self.first_day, self.last_day)

    @property
    def holds(self) -> bool:
        """Whether the unit can't be elsewhere meanwhile."""
        return self.state is not State.DUE

    @property
    def is_void(self) -> bool:
        """Whether it must not be sent out on it."""
        return self.state is State.VOID


@dataclass(frozen=True)
class Run:
    """Days on end that are alike to a unit. events: what there is on them, the gravest first."""

    first_day: date
    days: int
    events: tuple[Event, ...]

    @property
    def state(self) -> State:
        return self.events[0].state if self.events else State.FREE

    @property
    def clash(self) -> bool:
        """Whether the unit is to be in two places at once, or at work and on a road."""
        return sum(event.holds for event in self.events) > 1

    @property
    def span(self) -> str:
        return days_words(self.first_day, self.first_day + timedelta(days=self.days - 1))


@dataclass(frozen=True)
class UnitDays:
    """A row of the calendar."""

    housing: SuppressorHousing
    hammer: Hammer | None
    runs: tuple[Run, ...]

    @property
    def events(self) -> list[Event]:
        """All there is, by day, each once."""
        found = {event for run in self.runs for event in run.events}
        return sorted(found, key=lambda event: (event.first_day, ORDER[event.state], event.words))

    @property
    def clashes(self) -> list[Run]:
        return [run for run in self.runs if run.clash]


def days_of(
    housings: Sequence[SuppressorHousing], first_day: date, last_day: date
) -> list[UnitDays]:
    """Return what each of some units does, in a fixed number of queries. Both days included."""
    keys = [housing.pk for housing in housings]
    due = {unit.housing.pk: unit for unit in due_of_fleet(housings) if unit.housing}
    hammers = {key: unit.hammer for key, unit in due.items()}
    events: dict[int, list[Event]] = defaultdict(list)
    for key, event in _jobs(keys, hammers, first_day, last_day):
        events[key].append(event)
    for key, event in _transfers(keys, first_day, last_day):
        events[key].append(event)
    for key, event in _hires(keys, hammers, first_day, last_day):
        events[key].append(event)
    for key, event in _outages(keys, first_day, last_day):
        events[key].append(event)
    for key, unit in due.items():
        events[key] += _due(key, unit)
    return [
        UnitDays(
            housing,
            hammers.get(housing.pk),
            tuple(_runs(events[housing.pk], first_day, last_day)),
        )
        for housing in housings
    ]


def _jobs(
    keys: Collection[int], hammers: dict[int, Hammer | None], first_day: date, last_day: date
) -> Iterator[tuple[int, Event]]:
    transport = transport_in_force()
    # What of it lies outside the days shown makes no run.
    ahead = timedelta(days=transport.longest_days)
    by_hammer = {hammer.pk: key for key, hammer in hammers.items() if hammer}
    chosen = Commitment.objects.overlapping(first_day - ahead, last_day + ahead).filter(
        Q(housing__in=keys) | Q(hammer__in=list(by_hammer))
    )
    stands = {each.commitment.pk: each for each in commitments_now(chosen)}
    for hold in holds_of(chosen, transport):
        each = hold.commitment
        url = reverse("commitment", args=[each.pk])
        state = _state(stands[each.pk], hold.is_confirmed)
        # A housing that changed hammers since leaves the hammer committed all the same.
        for key in {each.housing_id, by_hammer.get(each.hammer_id, 0)} & set(keys):
            words = each.job.site
            if key != each.housing_id:
                words = f"its hammer {each.hammer} is committed with {each.housing}: {words}"
            yield key, Event(state, each.first_day, each.last_day, words, url)
        if each.housing_id not in keys:
            continue
        for first, last, way in hold.ways:
            words = f"{WAYS[way]} {each.job.site}"
            yield each.housing_id, Event(State.TRANSPORT, first, last, words, url, brief=way)


def _state(now: CommitmentNow, is_confirmed: bool) -> State:
    # What no crew may pull on is never drawn like a good job.
    if now.is_live and now.is_void:
        return State.VOID
    return State.CONFIRMED if is_confirmed else State.PROMISED


def _transfers(
    keys: Collection[int], first_day: date, last_day: date
) -> Iterator[tuple[int, Event]]:
    chosen = Transfer.objects.filter(housing__in=keys)
    for each in chosen.during(first_day, last_day):
        late = ", late" if each.is_late else ""
        done = ", arrived" if each.ended and each.ended.kind == TransferEnd.ARRIVED else ""
        words = f"{each.origin} to {each.goal}{late}{done}"
        url = reverse("transfer", args=[each.pk])
        assert each.housing_id is not None
        yield (
            each.housing_id,
            Event(State.TRANSFER, each.leaves_on, each.last_day_away, words, url),
        )


def _hires(
    keys: Collection[int], hammers: dict[int, Hammer | None], first_day: date, last_day: date
) -> Iterator[tuple[int, Event]]:
    by_hammer = {hammer.pk: key for key, hammer in hammers.items() if hammer}
    chosen = Hire.objects.filter(Q(housing__in=keys) | Q(hammer__in=list(by_hammer)))
    # Which days it is away, the hire says itself: one that is late goes on until it is back.
    begun = chosen.filter(from_day__lte=last_day) | chosen.filter(left_on__lte=last_day)
    since = begun.filter(Q(ended_on__isnull=True) | Q(ended_on__gte=first_day))
    for each in since.select_related("housing"):
        if not each.is_away_during(first_day, last_day):
            continue
        url = reverse("hire", args=[each.pk])
        # Of one that is back, the housing alone tells: its hammer may be elsewhere since.
        of_hammer = {by_hammer.get(each.hammer_id, 0)} if each.is_open else set()
        for key in ({each.housing_id} | of_hammer) & set(keys):
            words = f"{each.hirer}, {each.place} ({each.state})"
            yield key, Event(State.HIRE, each.first_day_away, each.last_day_away, words, url)


def _outages(keys: Collection[int], first_day: date, last_day: date) -> Iterator[tuple[int, Event]]:
    outages = OutOfService.objects.of_units(keys)
    for each in outages.filter(
        Q(released_at__isnull=True) | Q(released_at__date__gte=first_day), since__date__lte=last_day
    ):
        since = timezone.localdate(each.since)
        # Nobody knows when it comes back: it is out on every day shown.
        until = timezone.localdate(each.released_at) if each.released_at else last_day
        key: int = each.unit_today
        url = reverse("unit", args=[key])
        yield key, Event(State.OUT, since, max(since, until), each.reason, url)


def _due(key: int, unit: Any) -> Iterator[Event]:
    today = timezone.localdate()
    for kind in unit.kinds:
        if kind.due_on is None or kind.is_idle:
            continue
        # What is overdue stands on the day it is looked at, where somebody sees it.
        on, over = max(kind.due_on, today), " overdue" if kind.is_overdue else ""
        url = reverse("unit", args=[key])
        yield Event(State.DUE, on, on, f"{kind.row.kind}{over}", url)


def _runs(events: Sequence[Event], first_day: date, last_day: date) -> Iterator[Run]:
    days = [first_day + timedelta(days=n) for n in range((last_day - first_day).days + 1)]

    def there(day: date) -> tuple[Event, ...]:
        found = {each for each in events if each.first_day <= day <= each.last_day}
        return tuple(sorted(found, key=lambda event: (ORDER[event.state], event.words)))

    for alike, run in groupby(days, key=there):
        listed = list(run)
        yield Run(listed[0], len(listed), alike)
