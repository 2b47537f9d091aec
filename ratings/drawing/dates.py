"""Where an axis of dates has its marks: at days, months or years, as many as have room."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import takewhile

_DAYS = (1, 2, 7, 14)
_MONTHS = (1, 3, 6, 12, 24, 60, 120, 240, 600, 1200)


def date_marks(
    start: datetime, end: datetime, most_days: int, most_months: int
) -> list[tuple[datetime, str]]:
    """Return dates from start to end with their labels, no more than have room as such."""
    for days in _DAYS:
        if (end - start) / timedelta(days=days) <= most_days:
            return [(day, _day_words(day)) for day in _until(_days(start, days), start, end)]
    months = (end.year - start.year) * 12 + end.month - start.month
    step = next((each for each in _MONTHS if months / each <= most_months), _MONTHS[-1])
    firsts = _until(_firsts(start, step), start, end)
    return [(first, f"{first:%Y}" if step >= 12 else f"{first:%b %Y}") for first in firsts]


def _day_words(day: datetime) -> str:
    return f"{day.day} {day:%b %Y}"


def _until(dates: Iterator[datetime], start: datetime, end: datetime) -> list[datetime]:
    return [date for date in takewhile(lambda date: date <= end, dates) if date >= start]


def _days(start: datetime, step: int) -> Iterator[datetime]:
    day = _midnight(start)
    while True:
        yield day
        day += timedelta(days=step)


def _firsts(start: datetime, step: int) -> Iterator[datetime]:
    month = (start.year * 12 + start.month - 1) // step * step
    while month // 12 <= datetime.max.year:
        yield _midnight(start).replace(year=max(1, month // 12), month=month % 12 + 1, day=1)
        month += step


def _midnight(moment: datetime) -> datetime:
    return moment.replace(hour=0, minute=0, second=0, microsecond=0)
