"""The calendar feed: jobs, days on the way and transfers beside what is due."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from icalendar import Calendar

from inspections.schedule.calendar import make_feed
from ratings.jobs.commitments import release_unit
from tests.builders import rated_unit
from tests.factories import DispatcherFactory
from tests.job_builders import commit, extraction_job, figured_unit, transfer

pytestmark = pytest.mark.django_db


def day(ahead: int) -> date:
    return timezone.localdate() + timedelta(days=ahead)


def entries() -> dict[str, tuple[date, date, str]]:
    """What the feed says, by its entries' names: first day, the day after the last, summary."""
    answer = Client().get(f"/calendar/{make_feed(DispatcherFactory())}.ics")
    calendar: Any = Calendar.from_ical(answer.content)
    return {
        str(each["uid"]).split("@")[0]: (
            each["dtstart"].dt,
            each["dtend"].dt,
            str(each["summary"]),
        )
        for each in calendar.walk("VEVENT")
    }


def test_a_commitment_stands_on_its_days_with_the_way_there_and_back() -> None:
    unit = figured_unit()
    made = commit(unit, extraction_job(site="Coal quay", first_day=day(4), days=2))
    found = entries()
    name = f"commitment-{made.pk}"
    words = f"{unit.housing} on {unit.hammer}"
    assert found[name] == (day(4), day(6), f"{words} at Coal quay")
    assert found[f"{name}-there"] == (day(3), day(4), f"transport: {words} to Coal quay")
    assert found[f"{name}-back"] == (day(6), day(7), f"transport: {words} back from Coal quay")


def test_one_released_leaves_the_feed() -> None:
    unit = figured_unit()
    release_unit(commitment=commit(unit), reason="Put off", by=unit.manager)
    assert not [name for name in entries() if name.startswith("commitment")]


def test_a_transfer_stands_on_its_days_and_says_that_it_is_late() -> None:
    planned, late = transfer(rated_unit(), 3), transfer(rated_unit(), -9)
    found = entries()
    assert found[f"transfer-{planned.pk}"][:2] == (day(3), day(5))
    assert found[f"transfer-{late.pk}"][1:] == (
        day(1),
        f"LATE: transfer of {late.what} from {late.origin} to {late.goal}",
    )
