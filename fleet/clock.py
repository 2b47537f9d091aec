"""The moment at which something is recorded.

The demo tells two years of a yard's life in a few seconds and sets this clock as it goes; who asks
what was in force on a past day sets it to that day, and records nothing meanwhile. Nothing else
does: everywhere else it is the time of day.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, date, datetime

from django.utils import timezone

# By which all that is on record is known.
ANY = datetime(9999, 1, 1, tzinfo=UTC)
_set_to: ContextVar[datetime | None] = ContextVar("clock", default=None)
_known_by: ContextVar[datetime] = ContextVar("known by", default=ANY)


def now() -> datetime:
    """Return the moment to record."""
    return _set_to.get() or timezone.now()


def known_by() -> datetime:
    """Return the moment by whose end what is on record is known: the one set, else any.

    All that is on record is known today, whatever the time of day: a clock put back an hour would
    else forget for an hour what was corrected in the last.
    """
    return _known_by.get()


def today() -> date:
    """Return the day of the moment to record, where the yard is."""
    moment = _set_to.get()
    return timezone.localdate() if moment is None else timezone.localdate(moment)


def is_set() -> bool:
    """Say whether the clock is held at some moment, so that what is asked is not of now."""
    return _set_to.get() is not None


@contextmanager
def set_to(moment: datetime, *, knowing_all: bool = False) -> Iterator[None]:
    """Hold the clock at a moment while the block runs.

    knowing_all: whether all that is on record is known, and not only what was by that moment.
    """
    token, known = _set_to.set(moment), _known_by.set(ANY if knowing_all else moment)
    try:
        yield
    finally:
        _known_by.reset(known)
        _set_to.reset(token)
