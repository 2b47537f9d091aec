"""Moments and days as programs write them."""

from __future__ import annotations

from datetime import UTC, date, datetime

from django.utils.dateparse import parse_date, parse_datetime

from fleet.fields import EARLIEST

# Nothing is on record from after it; a moment beyond has no neighbours in another zone.
LATEST = datetime(2500, 1, 1, tzinfo=UTC)


def zoned_moment(given: str) -> datetime:
    """Return a moment with its zone, drawn to the ends of the age of the trade.

    Raises ValueError saying what would do.
    """
    try:
        moment = parse_datetime(given.upper().replace("Z", "+00:00"))
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise ValueError(
            "This is not a moment with its zone: give one such as 2026-03-14T09:30:00Z. In an "
            "address a plus is written %2B."
        )
    return min(max(moment, EARLIEST), LATEST)


def plain_day(given: str) -> date:
    """Return a day. Raises ValueError saying what would do."""
    try:
        day = parse_date(given)
    except ValueError:
        day = None
    if day is None:
        raise ValueError("This is not a day: give one such as 2026-03-14.")
    return day
