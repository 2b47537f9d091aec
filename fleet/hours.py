"""Hours that hammers and power packs have run, over every meter each has had."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Any, NoReturn

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from fleet import clock
from fleet.dates import day_words
from fleet.models import Hammer, HourReading, MachineSort, MeterChange, PowerPack
from fleet.models.machine import column_of
from fleet.models.measured_fields import measured_field
from fleet.outages import lock_machine
from fleet.people.yards import in_yard_of
from fleet.quantities import plain_number


@dataclass(frozen=True)
class Running:
    """What a machine had run on each day its meter was read or changed, over all its meters."""

    readings: tuple[tuple[date, float], ...]

    @property
    def now(self) -> float:
        return self.readings[-1][1]

    def at(self, day: date) -> float:
        """Return what it had run by a day: the last reading up to then, else the first there is."""
        known = [hours for read_on, hours in self.readings if read_on <= day]
        return known[-1] if known else self.readings[0][1]

    def until(self, day: date) -> Running | None:
        """Return what was read up to a day, None where nothing was."""
        known = tuple(each for each in self.readings if each[0] <= day)
        return Running(known) if known else None


def running_hours(
    machines: Collection[int] | QuerySet[Any],
    of: MachineSort = MachineSort.HAMMER,
    known_by: datetime | None = None,
) -> dict[int, Running]:
    """Return what each hammer has run, or each power pack, where its meter was ever read.

    In two queries. machines: their keys, or a query of them. of: which sort they are. known_by: a
    moment after which nothing that was recorded counts; None for all there is.
    """
    return running_hours_by_sort({of: machines}, known_by)[of]


def running_hours_by_sort(
    machines: Mapping[MachineSort, Collection[int] | QuerySet[Any]],
    known_by: datetime | None = None,
) -> dict[MachineSort, dict[int, Running]]:
    """Return what machines of several sorts have run, in the same two queries."""
    whose = Q(pk__in=[])
    for sort, keys in machines.items():
        whose |= Q(**{f"{sort.column}__in": keys})
    columns = {f"{sort.column}_id": sort for sort in machines}
    changes: dict[tuple[MachineSort, int], list[MeterChange]] = {}
    recorded = Q() if known_by is None else Q(recorded_at__lte=known_by)
    for change in MeterChange.objects.filter(whose, recorded).order_by("changed_at", "pk"):
        for column, sort in columns.items():
            if (key := getattr(change, column)) is not None:
                changes.setdefault((sort, key), []).append(change)
    shown: dict[tuple[MachineSort, int], list[tuple[datetime, float]]] = {}
    readings = HourReading.objects.known_by(known_by).filter(whose).order_by()
    for hours, read_at, *keys in readings.values_list("hours", "read_at", *columns):
        for sort, key in zip(columns.values(), keys, strict=True):
            if key is not None:
                run = hours + _before(changes.get((sort, key), []), read_at)
                shown.setdefault((sort, key), []).append((read_at, run))
    for which, made in changes.items():
        for place, change in enumerate(made):
            run = change.old_hours + _run(made[:place])
            shown.setdefault(which, []).append((change.changed_at, run))
    found: dict[MachineSort, dict[int, Running]] = {sort: {} for sort in machines}
    for (sort, key), each in shown.items():
        found[sort][key] = Running(tuple(_days(each)))
    return found


def _days(shown: list[tuple[datetime, float]]) -> Iterator[tuple[date, float]]:
    for at, run in sorted(shown):
        yield timezone.localtime(at).date(), run


def check_reading(
    machine: Hammer | PowerPack,
    hours: float,
    read_at: datetime,
    replaces: HourReading | None = None,
) -> None:
    """Refuse a reading that no reading before or after it on the same meter allows.

    A meter never falls, and never runs faster than the clock. replaces: a reading found wrong,
    which counts no more. Raises ValidationError at "hours".
    """
    before, after = _neighbours(machine, read_at, replaces)
    again = "read the meter again"
    _hold_to_one_before(
        "hours", before, (read_at, hours), f"{again}, or record that it was changed."
    )
    _hold_to_one_after("hours", after, (read_at, hours), f"{again}.")


@in_yard_of("machine")
@transaction.atomic
def record_hours(
    *,
    submission_id: uuid.UUID,
    machine: Hammer | PowerPack,
    hours: float,
    read_at: datetime,
    by: User,
) -> HourReading:
    """Record what an hour meter showed, read by itself. A second copy changes nothing.

    Raises ValidationError at "hours" where no meter shows such, and as check_reading does.
    """
    return put_reading(submission_id, machine, hours, read_at, by)


def put_reading(
    submission_id: uuid.UUID,
    machine: Hammer | PowerPack,
    hours: float,
    read_at: datetime,
    by: User,
    corrects: HourReading | None = None,
) -> HourReading:
    """Record a reading in a transaction that is under way, as record_hours says.

    corrects: an earlier reading, entered by itself too, that was wrong and counts no more: only
    `ratings.hours.correct_hours` gives one, which asks for a second person where the policy does.
    """
    lock_machine(machine)
    known = HourReading.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    measured_field(HourReading, "hours").refuse_out_of_bounds(hours)
    if corrects is not None and HourReading.objects.filter(corrects=corrects).exists():
        raise ValidationError("That reading was put right before: correct the later one.")
    check_reading(machine, hours, read_at, replaces=corrects)
    return HourReading.objects.create(
        submission_id=submission_id,
        **column_of(machine),
        hours=hours,
        read_at=read_at,
        recorded_by=by,
        corrects=corrects,
    )


@in_yard_of("hammer", "power_pack")
@transaction.atomic
def record_meter_change(
    *,
    submission_id: uuid.UUID,
    hammer: Hammer | None = None,
    power_pack: PowerPack | None = None,
    changed_at: datetime,
    old_hours: float,
    new_hours: float,
    reason: str,
    by: User,
) -> MeterChange:
    """Record that the meter of a hammer or a power pack was changed or set back.

    A second copy changes nothing. Raises ValidationError where no meter shows such hours, the old
    meter's last hours are below what it showed before, a reading after the change is below what
    the new one began at, or either would have run faster than the clock.
    """
    machine = hammer or power_pack
    assert machine is not None
    lock_machine(machine)
    known = MeterChange.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    for name, hours in (("old_hours", old_hours), ("new_hours", new_hours)):
        measured_field(MeterChange, name).refuse_out_of_bounds(hours)
    before, after = _neighbours(machine, changed_at)
    old, new = (changed_at, old_hours), (changed_at, new_hours)
    _hold_to_one_before("old_hours", before, old, "give the last the old meter showed.")
    _hold_to_one_after("new_hours", after, new, "give the first the new meter showed.")
    return MeterChange.objects.create(
        submission_id=submission_id,
        **column_of(machine),
        changed_at=changed_at,
        old_hours=old_hours,
        new_hours=new_hours,
        reason=reason,
        recorded_by=by,
    )


def _before(changes: list[MeterChange], read_at: datetime) -> float:
    """Return what the meters taken off by then had run; at that very moment the old one reads."""
    return _run([change for change in changes if change.changed_at < read_at])


def _run(changes: list[MeterChange]) -> float:
    """Return what meters taken off had run, less what those put on in their place began at."""
    run: float = sum(change.old_hours - change.new_hours for change in changes)
    return run


Shown = tuple[datetime, float]


def _neighbours(
    machine: Hammer | PowerPack, at: datetime, leave_out: HourReading | None = None
) -> tuple[Shown | None, Shown | None]:
    """Return what the meter in place at a moment showed last before it, and first after it."""
    whose = column_of(machine)
    readings = HourReading.objects.standing().filter(**whose)
    if leave_out is not None:
        readings = readings.exclude(pk=leave_out.pk)
    changes = list(MeterChange.objects.filter(**whose).order_by("changed_at", "pk"))
    earlier = [change for change in changes if change.changed_at < at]
    later = [change for change in changes if change.changed_at >= at]
    begun = earlier[-1].changed_at if earlier else None
    ended = later[0].changed_at if later else None
    of_before, of_after = readings.filter(read_at__lte=at), readings.filter(read_at__gt=at)
    if begun is not None:
        of_before = of_before.filter(read_at__gt=begun)
    if ended is not None:
        of_after = of_after.filter(read_at__lte=ended)
    pairs = "read_at", "hours"
    before: list[Shown] = list(of_before.order_by("-read_at", "-hours").values_list(*pairs)[:1])
    after: list[Shown] = list(of_after.order_by("read_at", "hours").values_list(*pairs)[:1])
    before += [(earlier[-1].changed_at, earlier[-1].new_hours)] if earlier else []
    after += [(later[0].changed_at, later[0].old_hours)] if later else []
    return max(before, default=None), min(after, default=None)


def last_shown(machine: Hammer | PowerPack | None) -> list[float]:
    """Return what the meter on a machine showed last: one figure, or none where never read."""
    if machine is None:
        return []
    before, _ = _neighbours(machine, clock.now())
    return [] if before is None else [before[1]]


def stand_near(field: Any, machine: Hammer | PowerPack | None) -> None:
    """Have a form's field of hours take, of two readings, the one near what the meter showed."""
    field.near = partial(last_shown, machine)


def _hold_to_one_before(name: str, before: Shown | None, given: Shown, again: str) -> None:
    if before is None:
        return
    if given[1] < before[1]:
        _refuse(name, f"{_plain(given[1])} h is below the {_words(before)}: {again}")
    _refuse_faster_than_the_clock(name, before, given, again)


def _hold_to_one_after(name: str, after: Shown | None, given: Shown, again: str) -> None:
    if after is None:
        return
    if given[1] > after[1]:
        _refuse(name, f"{_plain(given[1])} h is above the {_words(after)}, later: {again}")
    _refuse_faster_than_the_clock(name, given, after, again)


def _refuse_faster_than_the_clock(name: str, first: Shown, last: Shown, again: str) -> None:
    run, passed = last[1] - first[1], (last[0] - first[0]).total_seconds() / 3600
    # A day over, since a reading may bear the day it was written down.
    if run > passed + 24:
        span = f"From {_words(first)} to {_words(last)} are {_plain(run)} h"
        _refuse(name, f"{span}, more than there were by the clock: {again}")


def _refuse(name: str, words: str) -> NoReturn:
    raise ValidationError({name: words})


def _words(reading: Shown) -> str:
    return f"{_plain(reading[1])} h read on {day_words(reading[0])}"


def _plain(hours: float) -> str:
    return plain_number(hours, 2)


def hours_run_between(first: HourReading, last: HourReading) -> float | None:
    """Return what a machine ran from one reading to a later one, its changes of meter counted.

    None where the two are not of one hammer.
    """
    if first.hammer_id is None or first.hammer_id != last.hammer_id:
        return None
    made = list(MeterChange.objects.filter(hammer=first.hammer_id).order_by("changed_at", "pk"))
    begun = first.hours + _before(made, first.read_at)
    run: float = last.hours + _before(made, last.read_at) - begun
    return run
