"""Hours that a pad has worked: what its hammer ran while the housing hung on it.

Meters are read now and then, so that the hours up to a look that read none lie between what the
readings before and after it allow, and no meter runs faster than the clock.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from fleet.hours import Running, running_hours
from fleet.models import Mounting
from fleet.quantities import plain_number

HOUR = timedelta(hours=1)
HOURS_A_DAY = 24.0


@dataclass(frozen=True)
class Worked:
    """Hours known to lie from low to high."""

    low_hours: float
    high_hours: float

    @property
    def words(self) -> str:
        low, high = plain_number(self.low_hours, 0), plain_number(self.high_hours, 0)
        return f"{low} h" if low == high else f"{low} to {high} h"


class HoursWorked:
    """What housings have worked between any two moments. Three queries for all of them.

    known_by: a moment after which no reading that was recorded counts; None for all there is.
    """

    def __init__(self, housing_ids: Collection[int], known_by: datetime | None = None) -> None:
        self._mountings: defaultdict[int, list[Mounting]] = defaultdict(list)
        for mounting in Mounting.objects.filter(housing__in=housing_ids):
            self._mountings[mounting.housing_id].append(mounting)
        hammers = {each.hammer_id for many in self._mountings.values() for each in many}
        self._running = running_hours(hammers, known_by=known_by)

    def between(self, housing_id: int, start: datetime, end: datetime) -> Worked | None:
        """Return the hours from one moment to a later; None where its hammer was never read."""
        low = high = 0.0
        for mounting in self._mountings[housing_id]:
            first = max(start, mounting.mounted_at)
            last = end if mounting.removed_at is None else min(end, mounting.removed_at)
            if first >= last:
                continue
            running = self._running.get(mounting.hammer_id)
            if running is None:
                return None
            begun, ended = _run_by(running, first), _run_by(running, last)
            low += max(0.0, ended.low_hours - begun.high_hours)
            by_the_clock = (last - first) / HOUR
            high += max(0.0, min(ended.high_hours - begun.low_hours, by_the_clock))
        return Worked(min(low, high), high)


def _run_by(running: Running, moment: datetime) -> Worked:
    """Return what a hammer had run by a moment: as read that day, else what readings allow."""
    day = timezone.localtime(moment).date()
    days = [each for each, _ in running.readings]
    first, last = bisect_left(days, day), bisect_right(days, day)
    if first < last:
        hours = [each for _, each in running.readings[first:last]]
        return Worked(min(hours), max(hours))
    before = running.readings[first - 1] if first else None
    after = running.readings[first] if first < len(days) else None
    if before is None:
        assert after is not None
        passed = (after[0] - day).days * HOURS_A_DAY
        return Worked(max(0.0, after[1] - passed), after[1])
    high = before[1] + (day - before[0]).days * HOURS_A_DAY
    return Worked(before[1], high if after is None else min(high, after[1]))
