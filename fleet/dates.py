"""Days, moments and spans as people read them, always by the yard's own clock."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from django.utils import timezone


def day_words(day: date) -> str:
    """Return a day such as "3 Dec 2026"; of a moment that knows its zone, the yard's day."""
    if isinstance(day, datetime) and timezone.is_aware(day):
        day = timezone.localtime(day)
    return f"{day:%-d %b %Y}"


def moment_words(at: datetime) -> str:
    """Return a moment such as "3 Dec 2026 14:05", in the yard's zone."""
    # By name: asking which zone is active takes longer than all else here, and it is none but this.
    return f"{timezone.localtime(at, timezone.get_default_timezone()):%-d %b %Y %H:%M}"


def days_words(first_day: date, last_day: date) -> str:
    """Return a span of days such as "3–5 Dec 2026" or "29 Nov – 1 Dec 2026"."""
    if first_day == last_day:
        return day_words(last_day)
    if (first_day.year, first_day.month) == (last_day.year, last_day.month):
        return f"{first_day.day}–{day_words(last_day)}"
    if first_day.year == last_day.year:
        return f"{first_day:%-d %b} – {day_words(last_day)}"
    return f"{day_words(first_day)} – {day_words(last_day)}"


def day_count_words(days: int) -> str:
    """Return a number of days such as "1 day" or "1,200 days"."""
    return f"{days:,} day{'' if days == 1 else 's'}"


def start_of_day(day: date) -> datetime:
    """Return the moment at which a day begins, in the yard's zone."""
    return timezone.make_aware(datetime.combine(day, time.min))


def end_of_day(day: date) -> datetime:
    """Return the last moment of a day, in the yard's zone."""
    return start_of_day(day + timedelta(days=1)) - timedelta(microseconds=1)
