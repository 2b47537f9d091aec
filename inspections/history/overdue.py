"""Which days an inspection was overdue, and how long nobody looked at all.

By the schedule that was in force on each day, by days or by hours as meters were read, whichever
came first; of the days a machine hung in a unit: of a spare nothing is asked before it goes out.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any, TypeVar

from django.db.models import Exists, OuterRef
from django.utils import timezone

from fleet.dates import day_words
from fleet.hours import Running, running_hours
from fleet.models import MachineSort
from fleet.models.machine import OnHammer, column_of, sort_of
from fleet.outages import named
from inspections.history.facts import Chapter
from inspections.models import Inspection, OwnKind, PadCount, ServiceSchedule
from inspections.models.kind import SORTS_OF_COMMON_KINDS, InspectionKind
from inspections.schedule.intervals import DEFAULT_ROWS, Row, counting_kinds
from ratings.models import Commitment

_DAY = timedelta(days=1)
# First and last day, both included.
Days = tuple[date, date]


@dataclass(frozen=True)
class Overdue:
    """Days on which one kind of inspection was overdue at a machine, or at several alike.

    last: the day it was made before, None where it never was. made: the day that ended it, None
    where it was still overdue at the end.
    """

    machine: str
    kind: str
    interval: str
    last: date | None
    first_day: date
    last_day: date
    made: date | None

    @property
    def days(self) -> int:
        return (self.last_day - self.first_day).days + 1


@dataclass(frozen=True)
class Gap:
    """Days in use on which nobody inspected a machine in any way, longer than asked for."""

    machine: str
    first_day: date
    last_day: date
    is_open: bool

    @property
    def days(self) -> int:
        return (self.last_day - self.first_day).days + 1

    @property
    def words(self) -> str:
        until = "the end of these days" if self.is_open else day_words(self.last_day)
        return (
            f"No inspection of any kind from {day_words(self.first_day)} to {until}, "
            f"{self.days:,} days: {self.machine}."
        )


@dataclass(frozen=True)
class Looked:
    """What came out of it, in the order of time."""

    overdue: tuple[Overdue, ...]
    gaps: tuple[Gap, ...]
    longest: int | None


def look(chapter: Chapter) -> Looked:
    """Return which inspections were overdue in the span of a chapter, and where nobody looked."""
    own = {kind.name: kind for kind in OwnKind.objects.prefetch_related("sorts_changes")}
    editions = _editions()
    held = [_clipped(each, chapter) for each in _held(chapter)]
    overdue: list[Overdue] = []
    gaps: list[Gap] = []
    intervals = [
        row.days
        for _, rows in editions
        for row in rows.values()
        if row.days is not None and not row.in_use_only
    ]
    longest = min(intervals, default=None)
    for machine in chapter.machines if chapter.is_unit else [chapter.machine]:
        in_use = [each for each in map(_clip_by(chapter), _in_use(chapter, machine)) if each]
        if not in_use:
            continue
        made, meter = _made(machine, own), _meter_of(machine)
        for kind in sorted({kind for _, rows in editions for kind in rows}):
            if sort_of(machine) not in _sorts(kind, own):
                continue
            counting = sorted({day for each in counting_kinds(kind) for day in made.get(each, ())})
            is_held_only = any(rows[kind].in_use_only for _, rows in editions if kind in rows)
            asked = _both(in_use, [each for each in held if each]) if is_held_only else in_use
            overdue += _overdue(named(machine), kind, counting, asked, editions, meter)
        if longest is not None:
            days = sorted({day for each in made.values() for day in each})
            gaps += _gaps(named(machine), days, in_use, longest)
    return Looked(
        tuple(sorted(_joined(overdue), key=lambda each: (each.first_day, each.kind, each.machine))),
        tuple(sorted(_joined(gaps), key=lambda each: (each.first_day, each.machine))),
        longest,
    )


Found = TypeVar("Found", Overdue, Gap)


def _joined(found: list[Found]) -> list[Found]:
    """Return what was so of several machines once, with the names of all of them."""
    alike: dict[Found, list[str]] = {}
    for each in found:
        alike.setdefault(replace(each, machine=""), []).append(each.machine)
    return [replace(each, machine=", ".join(machines)) for each, machines in alike.items()]


Edition = tuple[date, dict[str, Row]]


def _editions() -> list[Edition]:
    """Return each schedule with the day from which it held, the oldest first."""
    found: list[Edition] = [(date.min, {str(row.kind): row for row in DEFAULT_ROWS})]
    for schedule in ServiceSchedule.objects.order_by("pk"):
        rows = {row["kind"]: Row(**row) for row in schedule.rows}
        found.append((_day(schedule.recorded_at), rows))
    retired = OwnKind.objects.retired().values_list("name", "retirement__retired_at")
    for name, at in retired:
        found = [
            (day, {kind: row for kind, row in rows.items() if kind != name or day < _day(at)})
            for day, rows in found
        ]
    return found


def _sorts(kind: str, own: dict[str, OwnKind]) -> tuple[MachineSort, ...]:
    if kind in own:
        return own[kind].sorts
    return SORTS_OF_COMMON_KINDS.get(InspectionKind(kind), ())


def _made(machine: Any, own: dict[str, OwnKind]) -> dict[str, set[date]]:
    """Return the days on which each kind was made at a machine; a corrected one counts not."""
    made: dict[str, set[date]] = {}
    sort = sort_of(machine)
    counted = Exists(PadCount.objects.filter(inspection=OuterRef("pk")))
    rows = (
        Inspection.objects.standing()
        .filter(**column_of(machine))
        .order_by()
        .values_list("kind", "own_kind__name", "seen_at", "lacks", counted)
    )
    for kind, own_name, seen_at, lacks, has_pads in rows.iterator():
        name, day = own_name or kind, _day(seen_at)
        looked_at = own[name].sorts_at(seen_at) if name in own else _sorts(name, own)
        if sort in looked_at and not lacks:
            made.setdefault(name, set()).add(day)
        if has_pads and sort is MachineSort.HOUSING:
            made.setdefault(str(InspectionKind.PAD_COUNT), set()).add(day)
        made.setdefault("", set()).add(day)
    return made


def _in_use(chapter: Chapter, machine: Any) -> Iterator[Days]:
    """Yield the days on which a machine hung in a unit; of a unit's chapter, in that one."""
    spans: list[tuple[datetime, datetime | None]]
    sort = sort_of(machine)
    if sort in (MachineSort.HOUSING, MachineSort.HAMMER):
        spans = [
            (each.mounted_at, each.removed_at)
            for each in machine.mountings.order_by("mounted_at")
            if not chapter.is_unit or each.housing_id == chapter.machine.pk
        ]
    else:
        spans = []
        fittings: Iterable[OnHammer] = machine.fittings.select_related("hammer")
        for fitting in fittings:
            for each in fitting.hammer.mountings.all():
                if chapter.is_unit and each.housing_id != chapter.machine.pk:
                    continue
                ends = [end for end in (fitting.removed_at, each.removed_at) if end]
                begun, ended = max(fitting.fitted_at, each.mounted_at), min(ends, default=None)
                if ended is None or ended > begun:
                    spans.append((begun, ended))
    for begun, ended in sorted(spans, key=lambda each: each[0]):
        yield _day(begun), _day(ended) if ended else date.max


def _held(chapter: Chapter) -> Iterator[Days]:
    """Yield the days a job held the unit."""
    if chapter.sort not in (MachineSort.HOUSING, MachineSort.HAMMER):
        return
    for each in Commitment.objects.filter(**column_of(chapter.machine)).order_by("first_day"):
        last = each.last_day
        if each.released_at is not None:
            last = min(last, _day(each.released_at))
        if last >= each.first_day:
            yield each.first_day, last


def _overdue(
    machine: str,
    kind: str,
    made: Sequence[date],
    asked: Sequence[Days],
    editions: Sequence[Edition],
    meter: _Meter,
) -> Iterator[Overdue]:
    """Yield the spans in which one kind was overdue, of the days on which it was asked for."""
    for begun, ended in asked:
        place = bisect_right(made, begun) - 1
        while True:
            last = made[place] if place >= 0 else None
            following = made[place + 1] if place + 1 < len(made) else None
            until = min(ended, following - _DAY) if following else ended
            for first_day, last_day, row in _late(last, kind, (begun, until), editions, meter):
                yield Overdue(
                    machine,
                    kind,
                    row.interval_words,
                    last,
                    first_day,
                    last_day,
                    following if following and last_day == following - _DAY else None,
                )
            if following is None or following > ended:
                break
            place += 1


def _late(
    last: date | None,
    kind: str,
    asked: Days,
    editions: Sequence[Edition],
    meter: _Meter,
) -> Iterator[tuple[date, date, Row]]:
    """Yield the days from one to another on which what was last made on a day was overdue."""
    found: list[tuple[date, date, Row]] = []
    for place, (since, rows) in enumerate(editions):
        row = rows.get(kind)
        if row is None:
            continue
        ends = editions[place + 1][0] - _DAY if place + 1 < len(editions) else date.max
        first, final = max(since, asked[0]), min(ends, asked[1])
        if last is not None:
            over = [] if row.days is None else [last + timedelta(days=row.days) + _DAY]
            by_hours = None if row.hours is None else meter.over_on(last, row.hours)
            over += [] if by_hours is None else [by_hours]
            if not over:
                continue
            first = max(first, min(over))
        if first > final:
            continue
        if found and found[-1][1] + _DAY == first:
            found[-1] = (found[-1][0], final, row)
        else:
            found.append((first, final, row))
    yield from found


class _Meter:
    """What a machine ran: by its own meter, or by those of the hammers it hung on, and when."""

    def __init__(self, spans: Iterable[tuple[Running, Days]]) -> None:
        read = [(dict(running.readings), days) for running, days in spans]
        self._read = [(sorted(hours), hours, days) for hours, days in read]
        self._days = sorted({day for hours, _ in read for day in hours})

    def over_on(self, last: date, hours: float) -> date | None:
        """Return the day on which so many hours had been run since a day, None if they were not."""
        place = bisect_left(self._days, hours, key=lambda day: self._run(last, day))
        return self._days[place] if place < len(self._days) else None

    def _run(self, since: date, until: date) -> float:
        total = 0.0
        for days, hours, (begun, ended) in self._read:
            first, last = max(since, begun), min(until, ended)
            if first < last:
                total += hours[_known(days, last)] - hours[_known(days, first)]
        return total


def _known(days: Sequence[date], day: date) -> date:
    """Return the day of the last reading up to a day, of the first where there is none."""
    return days[max(bisect_right(days, day) - 1, 0)]


def _meter_of(machine: Any) -> _Meter:
    sort = sort_of(machine)
    if sort in (MachineSort.HAMMER, MachineSort.POWER_PACK):
        own = running_hours([machine.pk], sort).get(machine.pk)
        return _Meter([(own, (date.min, date.max))] if own else [])
    hung = [
        (each.hammer_id, (_day(begun), _day(each.removed_at) if each.removed_at else date.max))
        for each, begun in (
            [(each, each.mounted_at) for each in machine.mountings.all()]
            if sort is MachineSort.HOUSING
            else [(each, each.fitted_at) for each in machine.fittings.all()]
        )
    ]
    run = running_hours([hammer for hammer, _ in hung])
    return _Meter((run[hammer], days) for hammer, days in hung if hammer in run)


def _gaps(
    machine: str, made: Sequence[date], in_use: Sequence[Days], longest: int
) -> Iterator[Gap]:
    for begun, ended in in_use:
        first = bisect_right(made, begun - _DAY)
        days = [each for each in made[first:] if each <= ended]
        starts = [begun, *(each + _DAY for each in days)]
        ends = [*(each - _DAY for each in days), ended]
        for start, end in zip(starts, ends, strict=True):
            if (end - start).days + 1 > longest:
                yield Gap(machine, start, end, is_open=end == ended)


def _clip_by(chapter: Chapter) -> Any:
    return lambda days: _clipped(days, chapter)


def _clipped(days: Days, chapter: Chapter) -> Days | None:
    """Return the days that fall in the span of a chapter."""
    first = max(days[0], chapter.span.first or date.min)
    last = min(days[1], chapter.span.last_day)
    return (first, last) if first <= last else None


def _both(some: Sequence[Days], others: Sequence[Days]) -> list[Days]:
    """Return the days that are in both."""
    met = [(max(a[0], b[0]), min(a[1], b[1])) for a in some for b in others]
    return sorted({each for each in met if each[0] <= each[1]})


def _day(moment: datetime) -> date:
    return timezone.localtime(moment).date()
