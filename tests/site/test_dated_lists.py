"""Lists of records are narrowed by days, all alike."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from django.test import Client
from django.urls import get_resolver, reverse
from django.utils import timezone

from fleet.dates import start_of_day
from fleet.tables import RecordsFilter
from inspections.units.records import RECORDS_OF_A_UNIT
from ratings.mounting import mount_housing
from tests.builders import MONDAY, count, rated_unit
from tests.job_builders import extraction_job
from tests.site.html_form import words

pytestmark = pytest.mark.django_db

LISTS = (
    "jobs",
    "pad-orders",
    "pulls",
    "proposals",
    "transfers",
    "repairs",
    "hires",
    "foreign-checks",
)
# What is listed there stands, and is of no day.
OF_NO_DAY = {"BoardFilter", "MachineFilter", "LotFilter", "DueFilter", "ListedHammerFilter"}


def kinds(base: type[RecordsFilter]) -> set[type[RecordsFilter]]:
    return {base}.union(*(kinds(each) for each in base.__subclasses__()))


def test_every_filter_of_records_asks_their_days() -> None:
    assert get_resolver().url_patterns  # all views are loaded, and their filters with them
    undated = {
        each.__name__
        for each in kinds(RecordsFilter)
        if not {"since", "until"} <= each.base_filters.keys()
    }
    assert undated - {"RecordsFilter"} == OF_NO_DAY


@pytest.mark.parametrize("name", LISTS)
def test_reversed_days_are_refused_with_what_would_do(auditor_client: Client, name: str) -> None:
    page = auditor_client.get(reverse(name), {"since": "2026-03-05", "until": "2026-03-04"})
    assert "Until: This is before the first day, 5 Mar 2026: give it later." in words(page)


def test_reversed_days_of_a_units_records_are_refused(auditor_client: Client) -> None:
    unit = rated_unit()
    for what in RECORDS_OF_A_UNIT:
        url = reverse("unit-records", args=[unit.housing.pk, what])
        page = auditor_client.get(url, {"since": "2026-03-05", "until": "2026-03-04"})
        assert "This is before the first day, 5 Mar 2026" in words(page), what
        assert "<tbody>" not in page.content.decode(), what


@pytest.mark.parametrize("given", ["no day", "0001-01-01", "9999-12-31", "2026-02-30"])
def test_what_is_no_day_of_the_trade_is_refused(auditor_client: Client, given: str) -> None:
    page = auditor_client.get(reverse("pulls-csv"), {"until": given})
    assert page.status_code == 200
    assert "Nothing can be shown for this." in words(page)


def sites(client: Client, **asked: str) -> set[str]:
    page = words(client.get(reverse("jobs"), asked))
    return {site for site in ("Early pier", "Late pier") if site in page}


def test_a_job_is_listed_where_any_of_its_days_is_asked(auditor_client: Client) -> None:
    first = date(2026, 3, 10)
    for site, days in (("Early pier", 0), ("Late pier", 10)):
        begun = first + timedelta(days=days)
        extraction_job(site=site, first_day=begun, last_day=begun + timedelta(days=4))
    assert sites(auditor_client, since="2026-03-14", until="2026-03-19") == {"Early pier"}
    assert sites(auditor_client, since="2026-03-15", until="2026-03-20") == {"Late pier"}
    assert sites(auditor_client, since="2026-03-15") == {"Late pier"}
    assert sites(auditor_client, until="2026-03-10") == {"Early pier"}


def inspections_on(client: Client, housing: int, day: date) -> int:
    url = reverse("unit-records", args=[housing, "inspections"])
    asked = {"since": day.isoformat(), "until": day.isoformat()}
    return client.get(url, asked).content.decode().count(", pad count")


def test_a_day_is_that_of_the_yard_to_its_last_minute(auditor_client: Client) -> None:
    unit = rated_unit()
    day = timezone.localdate(MONDAY) + timedelta(days=3)
    last_minute = start_of_day(day) + timedelta(hours=23, minutes=59)
    for at in (last_minute, last_minute + timedelta(minutes=1)):
        count(unit.housing, unit.manager, unit.lot, at=at)
    assert inspections_on(auditor_client, unit.housing.pk, day) == 1
    assert inspections_on(auditor_client, unit.housing.pk, day + timedelta(days=1)) == 1
    assert inspections_on(auditor_client, unit.housing.pk, day + timedelta(days=2)) == 0


def mountings(client: Client, housing: int, day: datetime) -> int:
    url = reverse("unit-records", args=[housing, "mountings"])
    asked = {"since": day.date().isoformat(), "until": day.date().isoformat()}
    return client.get(url, asked).content.decode().count('class="c-hammer')


def test_what_lasts_is_listed_on_each_day_until_it_ended(auditor_client: Client) -> None:
    unit = rated_unit()
    begun = unit.housing.mountings.get().mounted_at
    later = begun + timedelta(days=20)
    assert mountings(auditor_client, unit.housing.pk, later) == 1
    mount_housing(housing=unit.housing, hammer=None, at=begun + timedelta(days=9), by=unit.manager)
    assert mountings(auditor_client, unit.housing.pk, later) == 0
    assert mountings(auditor_client, unit.housing.pk, begun + timedelta(days=5)) == 1
