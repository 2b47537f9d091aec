"""The days of a job, as people say them."""

from __future__ import annotations

from datetime import date


def days_words(first_day: date, last_day: date) -> str:
    """Return a span of days such as "3–5 Dec 2026" or "29 Nov – 1 Dec 2026"."""
    if first_day == last_day:
        return f"{last_day:%-d %b %Y}"
    if (first_day.year, first_day.month) == (last_day.year, last_day.month):
        return f"{first_day.day}–{last_day:%-d %b %Y}"
    if first_day.year == last_day.year:
        return f"{first_day:%-d %b} – {last_day:%-d %b %Y}"
    return f"{first_day:%-d %b %Y} – {last_day:%-d %b %Y}"
