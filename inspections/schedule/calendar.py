"""A calendar of what is due and which unit is where, for a phone or an office (RFC 5545)."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Container, Iterable, Iterator
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from fleet import clock
from fleet.models import Transfer
from fleet.roles import READ
from inspections.models import CalendarFeed
from inspections.schedule.due import Due, UnitDue
from ratings.models import Commitment
from ratings.plan.holds import Hold, holds_of
from ratings.transport import transport_in_force

if TYPE_CHECKING:
    from icalendar import Event


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
    """Return the feed of a secret, None where there is none, or its person reads here no more."""
    feeds = CalendarFeed.objects.filter(secret_hash=_hash(secret), revoked_at__isnull=True)
    feed = feeds.select_related("user").first()
    return feed if feed is not None and feed.user.has_perm(READ) else None


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


PRODUCT = "-//Line-Pull Ledger//what is due//EN"


# A week or two back is still of use to whoever looks where a unit was.
DAYS_BACK = timedelta(days=31)


def holds_to_tell() -> list[Hold]:
    """Return the commitments in force that are not long over."""
    recent = Commitment.objects.not_over(timezone.localdate() - DAYS_BACK)
    return list(holds_of(recent, transport_in_force()))


def calendar_of(
    units: Iterable[UnitDue],
    made_at: datetime,
    site: str,
    holds: Iterable[Hold] = (),
    transfers: Iterable[Transfer] = (),
    void: Container[int] = (),
) -> bytes:
    """Return the calendar: a whole-day entry for every kind of every unit that has a day.

    And one for the days of each hold, one for each of its ways, and one for each transfer.
    site: the address units are found at, such as "https://ledger.example". void: keys of the
    commitments that no unit is to be sent out on.
    """
    # Imported on need: the site must not wait for the calendar library at start.
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", "Line-Pull Ledger")
    for unit in units:
        for kind in unit.kinds:
            if kind.due_on is not None and not kind.is_idle:
                calendar.add_component(_entry(unit, kind, made_at, site))
    for hold in holds:
        for event in _hold_entries(hold, made_at, site, void):
            calendar.add_component(event)
    for transfer in transfers:
        calendar.add_component(_transfer_entry(transfer, made_at, site))
    return bytes(calendar.to_ical())


def _event() -> Event:
    # Imported on need: the site must not wait for the calendar library at start.
    from icalendar import Event

    return Event()


def _entry(unit: UnitDue, kind: Due, made_at: datetime, site: str) -> Event:
    assert kind.due_on is not None
    # What is overdue stands on the day it is looked at, where somebody sees it.
    due_on = max(kind.due_on, timezone.localtime(made_at).date())
    event = _event()
    # The same entry moves on as its inspection is made, instead of piling up.
    of = f"unit-{unit.housing.pk}" if unit.housing else f"hammer-{unit.mark}".replace(" ", "-")
    event.add("uid", f"{of}-{kind.row.kind.replace(' ', '-')}@line-pull-ledger")
    event.add("dtstamp", made_at)
    event.add("dtstart", due_on)
    event.add("dtend", due_on + timedelta(days=1))
    over = "OVERDUE: " if kind.is_overdue else ""
    event.add("summary", f"{over}{kind.row.kind} inspection of {unit.name}")
    event.add(
        "description", f"By {kind.row.by_whom}. {kind.row.basis}. {kind.words_with_machine}".strip()
    )
    event.add("location", unit.yard.name)
    event.add("url", f"{site}{unit.url}")
    return event


def _hold_entries(
    hold: Hold, made_at: datetime, site: str, void: Container[int]
) -> Iterator[Event]:
    made = hold.commitment
    unit, url = f"{made.housing} on {made.hammer}", f"{site}/commitments/{made.pk}/"
    state = "" if hold.is_confirmed else "promised, conditions open: "
    if made.pk in void:
        state = "VOID, do not send: "
    yield _days_entry(
        f"commitment-{made.pk}",
        made.first_day,
        made.last_day,
        f"{state}{unit} at {made.job.site}",
        made_at,
        url,
        location=made.job.site,
    )
    for first_day, last_day, way in hold.ways:
        where = "to" if way == "there" else "back from"
        yield _days_entry(
            f"commitment-{made.pk}-{way}",
            first_day,
            last_day,
            f"transport: {unit} {where} {made.job.site}",
            made_at,
            url,
        )


def _transfer_entry(transfer: Transfer, made_at: datetime, site: str) -> Event:
    late = "LATE: " if transfer.is_late else ""
    return _days_entry(
        f"transfer-{transfer.pk}",
        transfer.leaves_on,
        transfer.last_day_away,
        f"{late}transfer of {transfer.what} from {transfer.origin} to {transfer.goal}",
        made_at,
        f"{site}/transfers/{transfer.pk}/",
        location=transfer.goal.name,
    )


def _days_entry(
    key: str,
    first_day: date,
    last_day: date,
    summary: str,
    made_at: datetime,
    url: str,
    location: str = "",
) -> Event:
    event = _event()
    event.add("uid", f"{key}@line-pull-ledger")
    event.add("dtstamp", made_at)
    event.add("dtstart", first_day)
    # The end of a whole-day entry is the day after it (RFC 5545, 3.6.1).
    event.add("dtend", last_day + timedelta(days=1))
    event.add("summary", summary)
    if location:
        event.add("location", location)
    event.add("url", url)
    return event
