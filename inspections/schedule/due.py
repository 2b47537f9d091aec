"""When one inspection of one unit is due: by days or by hours, whichever comes first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from fleet.dates import day_words
from inspections.schedule.rows import Row

SOON_DAYS = 7
# Of the hours between: nobody knows beforehand how long a hammer runs in a week.
SOON_SHARE = 0.1


@dataclass(frozen=True)
class Last:
    """The last inspection that counts: its day, and the running hours of the hammer then."""

    day: date
    hours: float | None = None


@dataclass(frozen=True)
class Due:
    """How one kind stands at one unit.

    due_on: by days; today where it was never made. hours_left: by hours, None where the meter
    says nothing; is_unread where it should. last: None where it was never made. is_late: over its
    days, whatever its hours.
    """

    row: Row
    last: Last | None
    due_on: date | None
    hours_left: float | None
    is_overdue: bool
    is_soon: bool
    is_unread: bool = False
    is_late: bool = False

    @property
    def words(self) -> str:
        """Say how it stands, for a person."""
        if self.last is None:
            return "never made" if self.is_overdue else "not run: off its hammer"
        day = "" if self.due_on is None else f"due {day_words(self.due_on)}"
        left = self.hours_left
        if self.is_overdue:
            over = f"over by {abs(left):g} h" if left is not None and left <= 0 else ""
            return ", ".join(part for part in (over, day if self.is_late else "") if part)
        hours = "hours not known: read the meter" if self.is_unread else ""
        if left is not None:
            hours = f"{left:g} h left"
        return " or ".join(part for part in (day, hours) if part)


def due(
    row: Row, last: Last | None, hours: float | None, today: date, *, is_mounted: bool = True
) -> Due:
    """Return how one kind stands.

    hours: what the hammer has run by now, over all its meters. is_mounted: the unit hangs on a
    hammer, and so may run.
    Overdue the day after the interval ends, or once the hours are run; never made is overdue.
    What goes by hours alone is told as soon due where nobody read the meter.
    """
    if last is None:
        # By hours alone nothing comes due where nothing runs.
        is_asked = row.days is not None or is_mounted
        return Due(row, None, today if is_asked else None, None, is_asked, is_soon=False)
    due_on = None if row.days is None else last.day + timedelta(days=row.days)
    left = None
    if row.hours is not None and hours is not None and last.hours is not None:
        left = round(row.hours - (hours - last.hours), 1)
    is_unread = row.hours is not None and left is None and is_mounted
    is_late = due_on is not None and due_on < today
    is_over = is_late or (left is not None and left <= 0)
    is_soon = not is_over and (
        _is_soon_by_days(due_on, today)
        or _is_soon_by_hours(row, left)
        or (is_unread and due_on is None)
    )
    return Due(row, last, due_on, left, is_over, is_soon, is_unread, is_late)


def _is_soon_by_days(due_on: date | None, today: date) -> bool:
    return due_on is not None and due_on <= today + timedelta(days=SOON_DAYS)


def _is_soon_by_hours(row: Row, left: float | None) -> bool:
    return left is not None and row.hours is not None and left <= SOON_SHARE * row.hours
