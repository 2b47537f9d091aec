"""How many hours a unit is to work by a day ahead: as planned, else by its jobs and last year."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet import clock
from fleet.dates import day_words
from fleet.hours import Running, running_hours
from fleet.models import Mounting, SuppressorHousing
from fleet.models.measured_fields import measured_field
from fleet.people.yards import in_yard_of, lock_and_look_again
from fleet.quantities import plain_number
from inspections.models import PlannedHours
from inspections.models.forecast import HOURS_OF_DAY
from ratings.models import Commitment

YEAR_DAYS = 365
# Fewer days of readings say little of a year.
LEAST_DAYS = 28
# Nothing is planned further ahead, nor put on record further back.
FURTHEST_AHEAD, FURTHEST_BACK = timedelta(days=3 * 365), timedelta(days=92)
# Hours; common practice, no published source.
LONGEST_SHIFT = 12.0
# Beyond plan by this share, and by so many hours, it is said.
OVER_SHARE, OVER_HOURS = 1.25, 10.0


@dataclass(frozen=True)
class HoursAhead:
    """What a unit is to work from a day on.

    planned: hours by day, where a record says. a_day: hours a day over its last year; None where
    not known. job_days: days ahead that a job holds it; a_job_day: hours for each such day last
    year, None where not known. read_on: when its meter was last read. mounted_on: when it went
    onto its hammer, None for a spare. over: how much more it ran than was planned, in words, ""
    where it did not. readings: what its hammer had run by day, over all its meters. planned_keys,
    job_keys: the records behind it that are not over.
    """

    start: date
    planned: dict[date, float]
    a_day: float | None
    job_days: frozenset[date]
    a_job_day: float | None
    read_on: date | None
    mounted_on: date | None = None
    over: str = ""
    readings: tuple[tuple[date, float], ...] = ()
    planned_keys: list[int] = field(default_factory=list)
    job_keys: list[int] = field(default_factory=list)

    @property
    def is_spare(self) -> bool:
        return self.mounted_on is None

    def by(self, day: date) -> float | None:
        """Return the hours from the start to the end of a day; None where not known.

        Days with a record count by it. Of the others the larger counts of what the days at the
        pace of the last year come to, and what the days that jobs hold it come to.
        """
        days = [self.start + timedelta(days=n) for n in range(1, (day - self.start).days + 1)]
        planned = sum(self.planned.get(each, 0.0) for each in days)
        open_days = [each for each in days if each not in self.planned]
        if not open_days:
            return planned
        if self.is_spare:
            return planned
        if self.a_day is None:
            return None
        by_pace = self.a_day * len(open_days)
        held = sum(1 for each in open_days if each in self.job_days)
        by_jobs = 0.0 if self.a_job_day is None else self.a_job_day * held
        return planned + max(by_pace, by_jobs)

    def days_until(self, hours: float, most_days: int) -> int | None:
        """Return after how many days so many hours are worked; None where not within the most."""
        for days in range(1, most_days + 1):
            by = self.by(self.start + timedelta(days=days))
            if by is None:
                return None
            if by >= hours:
                return days
        return None

    def words(self, days: int) -> str:
        """Say what the hours of so many days go by."""
        last = self.start + timedelta(days=days)
        covered = [day for day in self.planned if self.start < day <= last]
        parts = []
        if covered:
            parts.append(self._planned_words(covered, days))
        if len(covered) < days:
            parts.append(self._default_words)
        is_first = bool(covered) and (max(covered) - self.start).days == len(covered)
        return (", then " if is_first else ", else ").join(parts)

    def _planned_words(self, covered: list[date], days: int) -> str:
        """Say of which days a record tells: of all, of the first ones, or of some between."""
        if len(covered) == days:
            return "as planned"
        end = max(covered)
        if (end - self.start).days == len(covered):
            return f"as planned until {day_words(end)}"
        return f"as planned on {len(covered)} of {days} days"

    @property
    def _default_words(self) -> str:
        if self.is_spare:
            return "none: it hangs on no hammer"
        if self.a_day is None:
            return "not known: enter the hours planned"
        pace = f"as over the last year, {plain_number(self.a_day * 7, 1)} h a week"
        if self.a_job_day is not None and self.job_days:
            return (
                f"{pace}, or {plain_number(self.a_job_day, 1)} h for each of "
                f"{len(self.job_days)} days its jobs hold it, whichever is more"
            )
        return pace


def hours_ahead(
    housing_ids: Collection[int], at: datetime, known_by: datetime | None = None
) -> dict[int, HoursAhead]:
    """Return what each of some housings is to work from the day of a moment on. Six queries.

    known_by: a moment after which nothing that was recorded counts; None for all there is.
    """
    day = timezone.localtime(at).date()
    planned: dict[int, list[PlannedHours]] = {}
    rows = PlannedHours.objects.filter(housing__in=housing_ids).order_by("pk")
    if known_by is not None:
        rows = rows.filter(recorded_at__lte=known_by)
    for row in rows:
        planned.setdefault(row.housing_id, []).append(row)
    mountings = Mounting.objects.at(at).filter(housing__in=housing_ids)
    hammers, mounted_on = {}, {}
    for each in mountings:
        hammers[each.housing_id] = each.hammer_id
        mounted_on[each.housing_id] = timezone.localtime(each.mounted_at).date()
    running = running_hours(set(hammers.values()), known_by=known_by)
    held, job_keys = _held(hammers.values(), day, known_by)
    found = {}
    for key in housing_ids:
        hammer = hammers.get(key)
        of_hammer = running.get(hammer) if hammer is not None else None
        of_hammer = _until(of_hammer, day)
        pace = _pace(of_hammer, day)
        first_day = None if of_hammer is None else of_hammer.readings[0][0]
        job_days = held.get(hammer or 0, set())
        found[key] = HoursAhead(
            day,
            _by_day(planned.get(key, ())),
            pace,
            frozenset(each for each in job_days if each > day),
            _a_job_day(pace, job_days, day, first_day),
            of_hammer.readings[-1][0] if of_hammer else None,
            mounted_on=mounted_on.get(key),
            over=_over(planned.get(key, ()), of_hammer, day),
            readings=of_hammer.readings if of_hammer else (),
            planned_keys=[each.pk for each in planned.get(key, ()) if each.last_day > day],
            job_keys=sorted(job_keys.get(hammer or 0, ())),
        )
    return found


def _held(
    hammer_ids: Iterable[int], day: date, known_by: datetime | None
) -> tuple[dict[int, set[date]], dict[int, set[int]]]:
    """Return the days jobs hold each hammer, over the year before a day and those after.

    With the keys of the commitments that are not over.
    """
    first = day - timedelta(days=YEAR_DAYS)
    rows = Commitment.objects.filter(hammer__in=set(hammer_ids), last_day__gte=first)
    if known_by is not None:
        rows = rows.filter(answer__recorded_at__lte=known_by).exclude(released_at__lte=known_by)
    else:
        rows = rows.in_force()
    held: dict[int, set[date]] = {}
    keys: dict[int, set[int]] = {}
    furthest = day + FURTHEST_AHEAD
    for pk, hammer, begun, ended in rows.values_list("pk", "hammer", "first_day", "last_day"):
        if ended > day:
            keys.setdefault(hammer, set()).add(pk)
        each = max(begun, first)
        while each <= min(ended, furthest):
            held.setdefault(hammer, set()).add(each)
            each += timedelta(days=1)
    return held, keys


def _until(running: Running | None, day: date) -> Running | None:
    if running is None:
        return None
    known = tuple(each for each in running.readings if each[0] <= day)
    return Running(known) if known else None


def _pace(running: Running | None, day: date) -> float | None:
    """Return the hours a day over the last year, or as long as its meter was read."""
    if running is None:
        return None
    readings = running.readings
    since = day - timedelta(days=YEAR_DAYS)
    first = max((each for each in readings if each[0] <= since), default=readings[0])
    days = (readings[-1][0] - first[0]).days
    if days < LEAST_DAYS:
        return None
    return max(0.0, min(HOURS_OF_DAY, (readings[-1][1] - first[1]) / days))


def _a_job_day(
    pace: float | None, job_days: Collection[date], day: date, first_day: date | None
) -> float | None:
    """Return the hours for each day a job held it over the last year, had all run on jobs.

    None where that is more than a shift: then it worked without being held by a job on record.
    """
    if pace is None or first_day is None:
        return None
    since = max(first_day, day - timedelta(days=YEAR_DAYS))
    past = sum(1 for each in job_days if since <= each <= day)
    if not past:
        return None
    each = pace * (day - since).days / past
    return each if each <= LONGEST_SHIFT else None


def _by_day(rows: Iterable[PlannedHours]) -> dict[date, float]:
    """Return hours by day; where two records tell of a day the later one counts."""
    found = {}
    for row in rows:
        for number in range((row.last_day - row.first_day).days + 1):
            found[row.first_day + timedelta(days=number)] = row.hours_a_day
    return found


def _over(rows: Collection[PlannedHours], running: Running | None, day: date) -> str:
    """Say how much more it ran than planned, between readings that a plan wholly covers."""
    if not rows or running is None or len(running.readings) < 2:
        return ""
    by_day = _by_day(rows)
    last_day, last = running.readings[-1]
    inside = [
        (at, hours)
        for at, hours in running.readings[:-1]
        if all(at + timedelta(days=n) in by_day for n in range(1, (last_day - at).days + 1))
        and at < last_day
    ]
    if not inside:
        return ""
    first_day, first = inside[0]
    planned = sum(
        by_day[first_day + timedelta(days=n)] for n in range(1, (last_day - first_day).days + 1)
    )
    run = last - first
    if run <= planned * OVER_SHARE or run - planned <= OVER_HOURS:
        return ""
    return (
        f"From {day_words(first_day)} to {day_words(last_day)} it ran {plain_number(run, 0)} h, "
        f"planned were {plain_number(planned, 0)} h: plan the days to come anew."
    )


@in_yard_of("housing")
@transaction.atomic
def plan_hours(
    *,
    submission_id: uuid.UUID,
    housing: SuppressorHousing,
    first_day: date,
    last_day: date,
    hours: float,
    per: str,
    reason: str,
    stands_still: bool = False,
    by: User,
) -> PlannedHours:
    """Record what a unit is to work from one day to another. A second copy changes nothing.

    It takes the place of what was planned for those days before. stands_still: said of 0 hours,
    which are refused without it. Raises ValidationError, naming the field, for hours no day or
    week has, days the wrong way round, long past or too far ahead, no reason, or a unit out of use.
    """
    lock_and_look_again()
    known = PlannedHours.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    today = clock.today()
    if housing.retired_on is not None and housing.retired_on <= today:
        raise ValidationError(
            {
                "housing": f"No hours are planned: it is out of use since "
                f"{day_words(housing.retired_on)}."
            }
        )
    measured_field(PlannedHours, "hours").refuse_out_of_bounds(hours)
    if per not in PlannedHours.Per.values:
        raise ValidationError({"per": f"“{per}” won’t do: give hours a day or a week."})
    if per == PlannedHours.Per.DAY and hours > HOURS_OF_DAY:
        raise ValidationError(
            {"hours": f"A day has no {plain_number(hours, 1)} h: give 24 or less, or hours a week."}
        )
    if hours == 0.0 and not stands_still:
        raise ValidationError(
            {
                "hours": "0 h says that no pad wears: tick “It stands still”, or give the hours. "
                "Where nobody knows them, record nothing: the last year’s count then."
            }
        )
    if hours and stands_still:
        raise ValidationError(
            {"stands_still": "It stands still or it works: untick this, or give 0 h."}
        )
    if last_day < first_day:
        raise ValidationError(
            {"last_day": f"{day_words(last_day)} is before {day_words(first_day)}: is it right?"}
        )
    if first_day < today - FURTHEST_BACK:
        raise ValidationError(
            {"first_day": f"{day_words(first_day)} is long past: plan the days to come."}
        )
    if last_day <= today:
        raise ValidationError(
            {"last_day": f"{day_words(last_day)} is no day to come: plan the days to come."}
        )
    if last_day > today + FURTHEST_AHEAD:
        raise ValidationError(
            {"last_day": f"{day_words(last_day)} is over three years ahead: is the year right?"}
        )
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say how the hours are known."})
    planned = PlannedHours(
        submission_id=submission_id,
        housing=housing,
        first_day=first_day,
        last_day=last_day,
        hours=hours,
        per=per,
        reason=reason.strip(),
        recorded_by=by,
    )
    planned.clean_fields(exclude=["housing", "recorded_by"])
    planned.save()
    return planned
