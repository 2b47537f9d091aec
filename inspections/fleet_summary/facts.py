"""What the fleet can pull, yard by yard and over a span of days, and what that leaves out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby
from operator import attrgetter
from typing import Any

from django.db.models import Q
from django.utils import timezone

from fleet.dates import day_words, start_of_day
from fleet.models import (
    ClampFitting,
    MachineSort,
    Mounting,
    OutOfService,
    PowerPackConnection,
    SuppressorHousing,
    Yard,
)
from fleet.quantities import capacity_words, listed_words, share_words
from fleet.units import hammers_on_no_housing
from inspections.forecast.held import season_words
from inspections.restoring.held import record_words
from ratings.mechanics.standing import Standing
from ratings.models import LedgerEntry
from ratings.record.papers import Stated

DAY_SECONDS = 86_400.0
# A trend has so many days at the most, the first and the last of the span among them.
MOST_DAYS = 13
Stretch = tuple[datetime, datetime]
_MACHINES = [sort.column for sort in MachineSort]


@dataclass(frozen=True)
class Unit:
    """A housing, and what it can pull by the last ledger entry of a moment.

    Figures in lbf, None where there is none. is_out: of service then. is_told: whether the ledger
    had an entry of it by then.
    """

    housing: SuppressorHousing
    standing: Standing
    capacity_lbf: float | None
    listed_lbf: float | None
    is_out: bool
    is_told: bool

    @property
    def is_ready(self) -> bool:
        """Whether it is in service and meets its listing: no other goes out on it."""
        return not self.is_out and self.standing is Standing.MEETS_LISTING


@dataclass(frozen=True)
class Tally:
    """Some units taken together. ready: working capacity of those ready. In lbf."""

    units: int
    ready_units: int
    out_units: int
    ready_lbf: float
    listed_lbf: float

    @property
    def share(self) -> float | None:
        """Ready against listed; None where nothing is listed."""
        return self.ready_lbf / self.listed_lbf if self.listed_lbf else None


def tally(units: Iterable[Unit]) -> Tally:
    """Take units together."""
    listed = list(units)
    ready = [each for each in listed if each.is_ready]
    return Tally(
        units=len(listed),
        ready_units=len(ready),
        out_units=sum(each.is_out for each in listed),
        ready_lbf=sum(each.capacity_lbf or 0.0 for each in ready),
        listed_lbf=sum(each.listed_lbf or 0.0 for each in listed),
    )


@dataclass(frozen=True)
class Outage:
    """How long one machine was out of service within a span, days, and how often."""

    machine: str
    sort: str
    days: float
    times: int
    is_out_now: bool


@dataclass(frozen=True)
class FleetSummary:
    """The fleet at the end of a span of days, how it came there, and what is left out.

    trend_by_yard: what was ready in each yard, lbf. outages: of each machine. units_out: of each
    unit, out while any of its machines was, days on which several were counted once. plans: how
    those kept within the span came out, in sentences. forecasts: how good those were whose days
    fell within the span, in words.
    """

    first_day: date
    last_day: date
    by_yard: tuple[tuple[Yard, Tally], ...]
    total: Tally
    trend: tuple[tuple[date, Tally], ...]
    trend_by_yard: tuple[tuple[Yard, tuple[tuple[date, float], ...]], ...]
    outages: tuple[Outage, ...]
    units_out: tuple[Outage, ...]
    never_counted: tuple[str, ...]
    without_listing: tuple[str, ...]
    bare_hammers: tuple[str, ...]
    plans: tuple[str, ...]
    forecasts: str


def fleet_summary(first_day: date, last_day: date, yard: Yard | None = None) -> FleetSummary:
    """Return what the fleet, or one yard of it, could pull on the last of some days.

    By the ledger as it was posted by the end of each day. A unit is counted to the yard it is in
    now: where it was before, a transfer tells. In a fixed number of queries.
    """
    housings = list(
        SuppressorHousing.objects.filter(
            Q() if yard is None else Q(yard=yard),
            Q(retired_on__isnull=True) | Q(retired_on__gt=first_day),
        )
        .select_related("yard")
        .order_by("yard__name", "mark")
    )
    ends = [_end_of(day) for day in days_told(first_day, last_day)]
    entries = _entries(housings, ends[-1])
    out = _outages(ends[0] - timedelta(days=1), ends[-1])
    times_out = _times_out(housings, out, max(ends[-1], timezone.now()))
    units_at = [_units_at(housings, entries, times_out, end) for end in ends]
    now = units_at[-1]
    span = start_of_day(first_day), min(ends[-1], timezone.now())
    by_yard = groupby(now, key=lambda unit: unit.housing.yard)
    return FleetSummary(
        first_day,
        last_day,
        by_yard=tuple((place, tally(units)) for place, units in by_yard),
        total=tally(now),
        trend=tuple(
            (day, tally(unit for unit in units if unit.is_told))
            for day, units in zip(days_told(first_day, last_day), units_at, strict=True)
        ),
        trend_by_yard=_ready_by_yard(days_told(first_day, last_day), units_at),
        outages=_days_out(out, yard, *span),
        units_out=_units_out(housings, times_out, *span),
        never_counted=tuple(each.housing.mark for each in now if each.housing.pk not in entries),
        without_listing=tuple(
            each.housing.mark
            for each in now
            if each.listed_lbf is None and each.housing.pk in entries
        ),
        bare_hammers=_bare_hammers(yard),
        plans=tuple(record_words(first_day, last_day, yard.pk if yard else None)),
        forecasts=season_words(first_day, last_day, [each.pk for each in housings]),
    )


def days_told(first_day: date, last_day: date) -> list[date]:
    """Return the days of a trend, evenly apart, the first and the last of the span among them."""
    days = (last_day - first_day).days
    steps = min(days, MOST_DAYS - 1)
    if steps == 0:
        return [last_day]
    return [first_day + timedelta(days=round(days * step / steps)) for step in range(steps + 1)]


def _end_of(day: date) -> datetime:
    return start_of_day(day + timedelta(days=1))


def _entries(
    housings: Collection[SuppressorHousing], until: datetime
) -> dict[int, list[LedgerEntry]]:
    """Return the entries of each housing posted by a moment, in their order, by its key."""
    posted = (
        LedgerEntry.objects.filter(housing__in=[each.pk for each in housings])
        .filter(recorded_at__lt=until)
        .only("housing_id", "recorded_at", "standing", "working_capacity_lbf", "listed_lbf")
        .order_by("housing", "sequence")
    )
    return {key: list(group) for key, group in groupby(posted, key=attrgetter("housing_id"))}


def _outages(since: datetime, until: datetime) -> list[OutOfService]:
    """Return the times out of service that a span touches."""
    touching = OutOfService.objects.filter(
        Q(released_at__isnull=True) | Q(released_at__gt=since), since__lt=until
    )
    return list(touching.select_related(*(f"{each}__yard" for each in _MACHINES)))


def _times_out(
    housings: Collection[SuppressorHousing], outages: Sequence[OutOfService], until: datetime
) -> dict[int, list[Stretch]]:
    """Return when each unit was out, by the key of its housing, stretches joined.

    A unit is out while any machine of it is: its housing, and while that hung on a hammer, the
    hammer, and the clamp and power pack that were on the hammer then. An end still to come is
    `until`. In three queries.
    """
    of_machine: dict[tuple[str, int], list[Stretch]] = {}
    for each in outages:
        column = each.sort.column
        stretch = each.since, each.released_at or until
        of_machine.setdefault((column, getattr(each, f"{column}_id")), []).append(stretch)
    # Of each hammer: what was on it, and when.
    on_hammer: dict[int, list[tuple[str, int, Stretch]]] = {}
    spans: tuple[tuple[str, Any], ...] = (
        ("clamp", ClampFitting),
        ("power_pack", PowerPackConnection),
    )
    for column, model in spans:
        for hammer, machine, begun, ended in model._default_manager.values_list(
            "hammer", column, "fitted_at", "removed_at"
        ):
            on_hammer.setdefault(hammer, []).append((column, machine, (begun, ended or until)))
    keys = [housing.pk for housing in housings]
    found = {key: list(of_machine.get(("housing", key), ())) for key in keys}
    for hung in Mounting.objects.filter(housing__in=keys):
        there = hung.mounted_at, hung.removed_at or until
        out = found[hung.housing_id]
        out += _both([there], of_machine.get(("hammer", hung.hammer_id), ()))
        for column, machine, span in on_hammer.get(hung.hammer_id, ()):
            out += _both(_both([there], [span]), of_machine.get((column, machine), ()))
    return {key: _joined(stretches) for key, stretches in found.items()}


def _both(some: Iterable[Stretch], others: Iterable[Stretch]) -> list[Stretch]:
    """Return the stretches within one of some and one of others."""
    others = list(others)
    shared = [
        (max(begun, start), min(ended, end)) for begun, ended in some for start, end in others
    ]
    return [(begun, ended) for begun, ended in shared if begun < ended]


def _units_at(
    housings: Sequence[SuppressorHousing],
    entries: dict[int, list[LedgerEntry]],
    times_out: dict[int, list[Stretch]],
    moment: datetime,
) -> list[Unit]:
    """Return how each unit stood at a moment, but of those retired by then."""
    units = []
    last_day = timezone.localdate(moment - timedelta(microseconds=1))
    for housing in housings:
        if housing.retired_on is not None and housing.retired_on <= last_day:
            continue
        posted = [each for each in entries.get(housing.pk, ()) if each.recorded_at < moment]
        head = posted[-1] if posted else None
        units.append(
            Unit(
                housing,
                head.judged if head else Standing.UNRATED,
                head.working_capacity_lbf if head else None,
                head.listed_lbf if head else None,
                any(begun < moment <= ended for begun, ended in times_out[housing.pk]),
                head is not None,
            )
        )
    return units


def _days_out(
    outages: Iterable[OutOfService], yard: Yard | None, first: datetime, last: datetime
) -> tuple[Outage, ...]:
    """Return the days each machine was out within a span, the longest first."""
    found: dict[tuple[str, str], list[tuple[float, bool]]] = {}
    for each in outages:
        machine: Any = each.machine
        begun, ended = max(each.since, first), min(each.released_at or last, last)
        if ended <= begun or (yard is not None and machine.yard != yard):
            continue
        days = (ended - begun).total_seconds() / DAY_SECONDS
        is_open = each.released_at is None or each.released_at > last
        found.setdefault((machine.mark, each.sort.label), []).append((days, is_open))
    told = [
        Outage(mark, sort, sum(days for days, _ in times), len(times), any(now for _, now in times))
        for (mark, sort), times in found.items()
    ]
    return tuple(sorted(told, key=lambda each: (-each.days, each.machine)))


def _ready_by_yard(
    days: Sequence[date], units_at: Sequence[Sequence[Unit]]
) -> tuple[tuple[Yard, tuple[tuple[date, float], ...]], ...]:
    yards = list(dict.fromkeys(unit.housing.yard for unit in units_at[-1]))
    return tuple(
        (
            yard,
            tuple(
                (day, tally(unit for unit in units if unit.housing.yard == yard).ready_lbf)
                for day, units in zip(days, units_at, strict=True)
            ),
        )
        for yard in yards
    )


def _units_out(
    housings: Sequence[SuppressorHousing],
    times_out: dict[int, list[Stretch]],
    first: datetime,
    last: datetime,
) -> tuple[Outage, ...]:
    """Return the days each unit was out within a span, the longest first."""
    told = []
    for housing in housings:
        stretches = _both(times_out[housing.pk], [(first, last)])
        if stretches:
            days = sum((ended - begun).total_seconds() for begun, ended in stretches) / DAY_SECONDS
            is_out = stretches[-1][1] == last
            told.append(Outage(housing.mark, "unit", days, len(stretches), is_out))
    return tuple(sorted(told, key=lambda each: (-each.days, each.machine)))


def _joined(stretches: Iterable[Stretch]) -> list[Stretch]:
    """Return stretches of time with those that touch made one, the first first."""
    joined: list[Stretch] = []
    for begun, ended in sorted(stretches):
        if joined and begun <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], ended))
        else:
            joined.append((begun, ended))
    return joined


def _bare_hammers(yard: Yard | None) -> tuple[str, ...]:
    bare = hammers_on_no_housing()
    if yard is not None:
        bare = bare.filter(yard=yard)
    return tuple(bare.order_by("mark").values_list("mark", flat=True))


def fleet_summary_stated(summary: FleetSummary, where: str, system: str) -> Stated:
    """Return what a fleet summary states."""
    total = summary.total
    return Stated(
        f"Fleet summary of {where} at the end of {day_words(summary.last_day)}",
        (
            ("Units", str(total.units)),
            ("Ready", str(total.ready_units)),
            ("Tons ready", capacity_words(total.ready_lbf, system)),
            ("Tons listed", listed_words(total.listed_lbf, system)),
            (
                "Ready of listed",
                "nothing listed" if total.share is None else share_words(total.share),
            ),
        ),
    )
