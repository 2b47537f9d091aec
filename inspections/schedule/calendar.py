"""A calendar of what is due, for a phone or an office to follow (RFC 5545)."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone
from icalendar import Calendar, Event

from fleet import clock
from inspections.models import CalendarFeed
from inspections.schedule.due import Due, UnitDue


@transaction.atomic
def make_feed(user: User) -> str:
    """Revoke a person's old address and return the secret of a new one, told only now."""
    revoke_feed(user)
    secret = secrets.token_urlsafe(24)
    CalendarFeed.objects.create(user=user, secret_hash=_hash(secret))
    return secret


def revoke_feed(user: User) -> None:
    """Let a person's address answer no more."""
    CalendarFeed.objects.filter(user=user, revoked_at__isnull=True).update(revoked_at=clock.now())


def find_feed(secret: str) -> CalendarFeed | None:
    """Return the feed of a secret, None where there is none, or it or its person is gone."""
    return CalendarFeed.objects.filter(
        secret_hash=_hash(secret), revoked_at__isnull=True, user__is_active=True
    ).first()


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


PRODUCT = "-//Line-Pull Ledger//what is due//EN"


def calendar_of(units: Iterable[UnitDue], made_at: datetime, site: str) -> bytes:
    """Return the calendar: a whole-day entry for every kind of every unit that has a day.

    site: the address units are found at, such as "https://ledger.example".
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", "Line-Pull Ledger: inspections due")
    for unit in units:
        for kind in unit.kinds:
            if kind.due_on is not None:
                calendar.add_component(_entry(unit, kind, made_at, site))
    return bytes(calendar.to_ical())


def _entry(unit: UnitDue, kind: Due, made_at: datetime, site: str) -> Event:
    assert kind.due_on is not None
    # What is overdue stands on the day it is looked at, where somebody sees it.
    due_on = max(kind.due_on, timezone.localtime(made_at).date())
    where = f" on {unit.hammer.mark}" if unit.hammer else ""
    event = Event()
    # The same entry moves on as its inspection is made, instead of piling up.
    event.add("uid", f"unit-{unit.housing.pk}-{kind.row.kind.replace(' ', '-')}@line-pull-ledger")
    event.add("dtstamp", made_at)
    event.add("dtstart", due_on)
    event.add("dtend", due_on + timedelta(days=1))
    over = "OVERDUE: " if kind.is_overdue else ""
    event.add("summary", f"{over}{kind.row.kind} inspection of {unit.housing.mark}{where}")
    event.add("description", f"By {kind.row.by_whom}. {kind.row.basis}. {kind.words}".strip())
    event.add("location", unit.housing.yard.name)
    event.add("url", f"{site}/units/{unit.housing.pk}/")
    return event
