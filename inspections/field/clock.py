"""A phone's clock may be wrong; the server's is the one the records go by."""

from __future__ import annotations

from datetime import datetime, timedelta

from fleet.forms.moment import CLOCK_LEEWAY


def put_right(seen_at: datetime, sent_at: datetime, now: datetime) -> tuple[datetime, str]:
    """Return when it was seen by the server's clock, and words where the phone's was wrong.

    seen_at, sent_at: by the phone's clock; now: by the server's, when what was sent came.
    """
    off = now - sent_at
    if abs(off) <= CLOCK_LEEWAY:
        return min(seen_at, now), ""
    words = f"The phone’s clock was {_span(off)} {'behind' if off > timedelta(0) else 'ahead'}"
    return min(seen_at + off, now), f"{words}; the time was put right by that much."


def _span(off: timedelta) -> str:
    minutes = round(abs(off).total_seconds() / 60)
    days, minutes = divmod(minutes, 24 * 60)
    hours, minutes = divmod(minutes, 60)
    parts = [(days, "d"), (hours, "h"), (minutes, "min")]
    return " ".join(f"{count} {unit}" for count, unit in parts if count)
