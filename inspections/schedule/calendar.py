"""A calendar of what is due, for a phone or an office to follow (RFC 5545)."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.utils import timezone
from icalendar import Calendar, Event

from inspections.schedule.due import Due
from inspections.schedule.fleetdue import UnitDue

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
