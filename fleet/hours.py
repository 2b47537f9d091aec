"""Hours a hammer has run, over every meter it has had."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet.models import Hammer, HourReading, MeterChange


@dataclass(frozen=True)
class Running:
    """What a hammer had run on each day its meter was read, over all its meters."""

    readings: tuple[tuple[date, float], ...]

    @property
    def now(self) -> float:
        return self.readings[-1][1]

    def at(self, day: date) -> float:
        """Return what it had run by a day: the last reading up to then, else the first there is."""
        known = [hours for read_on, hours in self.readings if read_on <= day]
        return known[-1] if known else self.readings[0][1]


def running_hours(hammer_ids: Iterable[int]) -> dict[int, Running]:
    """Return what each hammer has run, where its meter was ever read. Two queries."""
    ids = list(hammer_ids)
    changes: dict[int, list[MeterChange]] = {}
    for change in MeterChange.objects.filter(hammer__in=ids).order_by("changed_at", "pk"):
        changes.setdefault(change.hammer_id, []).append(change)
    readings: dict[int, list[tuple[date, float]]] = {}
    for reading in HourReading.objects.filter(hammer__in=ids).order_by("read_at", "pk"):
        run = reading.hours + _before(changes.get(reading.hammer_id, []), reading.read_at)
        day = timezone.localtime(reading.read_at).date()
        readings.setdefault(reading.hammer_id, []).append((day, run))
    return {pk: Running(tuple(read)) for pk, read in readings.items()}


def check_reading(hammer_id: int, hours: float, read_at: datetime) -> None:
    """Refuse a reading below one before it, or above one after it, on the same meter.

    Raises ValidationError at "hours".
    """
    before, after = _neighbours(hammer_id, read_at)
    if before is not None and hours < before[1]:
        raise ValidationError(
            {
                "hours": f"{hours:g} h is below the {before[1]:g} h read on "
                f"{before[0]:%d %b %Y}: read the meter again, or record that it was changed."
            }
        )
    if after is not None and hours > after[1]:
        raise ValidationError(
            {
                "hours": f"{hours:g} h is above the {after[1]:g} h read later, on "
                f"{after[0]:%d %b %Y}: read the meter again."
            }
        )


@transaction.atomic
def record_meter_change(
    *,
    submission_id: uuid.UUID,
    hammer: Hammer,
    changed_at: datetime,
    old_hours: float,
    new_hours: float,
    reason: str,
    by: User,
) -> MeterChange:
    """Record that a hammer's meter was changed or set back. A second copy changes nothing.

    Raises ValidationError where the old meter's last hours are below what it showed before, or
    a reading after the change is below what the new one began at.
    """
    Hammer.objects.select_for_update().get(pk=hammer.pk)
    known = MeterChange.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    before, after = _neighbours(hammer.pk, changed_at)
    if before is not None and old_hours < before[1]:
        raise ValidationError(
            {
                "old_hours": f"{old_hours:g} h is below the {before[1]:g} h read on "
                f"{before[0]:%d %b %Y}: give the last the old meter showed."
            }
        )
    if after is not None and new_hours > after[1]:
        raise ValidationError(
            {
                "new_hours": f"{new_hours:g} h is above the {after[1]:g} h read on "
                f"{after[0]:%d %b %Y}: give the first the new meter showed."
            }
        )
    return MeterChange.objects.create(
        submission_id=submission_id,
        hammer=hammer,
        changed_at=changed_at,
        old_hours=old_hours,
        new_hours=new_hours,
        reason=reason,
        recorded_by=by,
    )


def _before(changes: list[MeterChange], read_at: datetime) -> float:
    """Return what meters since taken off had run, less what the new ones began at."""
    return sum(
        change.old_hours - change.new_hours for change in changes if change.changed_at <= read_at
    )


Shown = tuple[datetime, float]


def _neighbours(hammer_id: int, at: datetime) -> tuple[Shown | None, Shown | None]:
    """Return what the meter in place at a moment showed last before it, and first after it."""
    shown: list[Shown] = list(
        HourReading.objects.filter(hammer=hammer_id).values_list("read_at", "hours")
    )
    changes = list(MeterChange.objects.filter(hammer=hammer_id).order_by("changed_at", "pk"))
    earlier = [change for change in changes if change.changed_at <= at]
    later = [change for change in changes if change.changed_at > at]
    begun = earlier[-1].changed_at if earlier else None
    ended = later[0].changed_at if later else None
    before = [each for each in shown if each[0] <= at and (begun is None or each[0] > begun)]
    after = [each for each in shown if each[0] > at and (ended is None or each[0] <= ended)]
    before += [(earlier[-1].changed_at, earlier[-1].new_hours)] if earlier else []
    after += [(later[0].changed_at, later[0].old_hours)] if later else []
    return max(before, default=None), min(after, default=None)
