from __future__ import annotations

import uuid
from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.dates import day_words
from fleet.hours import record_hours
from fleet.models import MachineSort
from fleet.units import hung_today
from inspections.schedule import tables
from inspections.schedule.due import due_of_fleet
from inspections.schedule.intervals import Row
from inspections.schedule.pressing import pressing_of_fleet
from inspections.schedule.recording import change_schedule
from ratings.mounting import mount_housing
from tests.builders import Unit, count, days_ago, rated_unit
from tests.factories import HammerFactory, HousingFactory
from tests.site.html_form import words


def scheduled(unit: Unit) -> None:
    """Ask for a few kinds by days and by hours, one on days of jobs alone."""
    change_schedule(
        submission_id=uuid.uuid4(),
        rows=[
            Row("each shift", 1, None, "a competent person", "yard rule", None, True),
            Row("monthly", 31, 250.0, "a competent person", "yard rule"),
            Row("pad count", 14, 100.0, "a competent person", "yard rule"),
            Row("yearly", 365, None, "a qualified person", "yard rule"),
        ],
        reason="As the yard works.",
        by=unit.manager,
    )


def varied_fleet() -> Unit:
    """Units that stand differently, one of them moved, a spare housing and a bare hammer."""
    units = [rated_unit() for _ in range(4)]
    scheduled(units[0])
    for number, unit in enumerate(units):
        kind = ("monthly", "yearly", "pad count", "yearly")[number]
        at = days_ago((60, 3, 400, 27)[number])
        count(unit.housing, unit.manager, unit.lot, at=at, kind=kind)
    for days, hours in ((50, 100.0), (2, 190.0)):
        record_hours(
            submission_id=uuid.uuid4(),
            machine=units[3].hammer,
            hours=hours,
            read_at=days_ago(days),
            by=units[3].manager,
        )
    mount_housing(housing=units[2].housing, hammer=None, at=days_ago(1), by=units[2].manager)
    HousingFactory()
    HammerFactory()
    return units[0]


@pytest.mark.django_db
def test_it_says_what_is_due_of_every_unit_in_the_same_order() -> None:
    varied_fleet()
    units = due_of_fleet()
    pressing = [
        *((unit, kind) for unit in units for kind in unit.overdue),
        *((unit, kind) for unit in units for kind in unit.soon),
    ]
    said = [
        (
            place,
            unit.housing.pk if unit.housing else None,
            unit.mark,
            kind.row.kind,
            kind.last.day if kind.last else date.min,
            kind.row.by_whom,
            kind.is_overdue,
        )
        for place, (unit, kind) in enumerate(pressing)
    ]
    found = pressing_of_fleet()
    assert {each.is_overdue for each in found.pressing} == {True, False}
    assert [tuple(each) for each in found.pressing] == said
    assert found.many_units == len(units)
    assert found.in_order == sum(1 for unit in units if not unit.overdue and not unit.soon)


@pytest.mark.django_db
def test_what_comes_due_after_that_is_the_first_of_each_unit() -> None:
    varied_fleet()
    first = {
        unit.mark: min(coming)
        for unit in due_of_fleet()
        if (
            coming := [
                kind.due_on
                for kind in unit.kinds
                if kind.due_on and not (kind.is_overdue or kind.is_soon or kind.is_idle)
            ]
        )
    }
    assert first
    assert {each.mark: each.day for each in pressing_of_fleet().coming} == first


@pytest.mark.django_db
def test_a_hammer_out_of_use_is_no_unit_that_is_in_order() -> None:
    varied_fleet()
    before = pressing_of_fleet()
    HammerFactory(retired_on=timezone.localdate())
    now = pressing_of_fleet()
    assert (now.many_units, now.in_order) == (before.many_units, before.in_order)
    assert now.many_units == len(due_of_fleet())


@pytest.mark.django_db
def test_of_a_row_that_cannot_be_read_now_the_day_it_was_last_made_still_stands(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit, at = rated_unit(), days_ago(60)
    count(unit.housing, unit.manager, unit.lot, at=at, kind="yearly")
    monkeypatch.setattr(tables, "with_units", lambda shown: {})
    client = Client()
    client.force_login(unit.manager)
    page = words(client.get(reverse("due")))
    assert f"changed just now: open the page again {day_words(timezone.localdate(at))}" in page


@pytest.mark.django_db
def test_narrowed_it_is_of_those_housings_alone() -> None:
    unit = varied_fleet()
    found = pressing_of_fleet().narrowed([unit.housing.pk])
    assert {each.housing for each in found.pressing} == {unit.housing.pk}
    assert (found.many_units, found.in_order) == (1, 0)


@pytest.mark.django_db
def test_machines_stand_in_the_order_of_what_hangs_together() -> None:
    unit = rated_unit()
    hung = hung_today()[unit.housing.pk]
    assert list(hung.by_sort) == [
        sort
        for sort in (
            MachineSort.HAMMER,
            MachineSort.HOUSING,
            MachineSort.CLAMP,
            MachineSort.POWER_PACK,
        )
        if sort in hung.by_sort
    ]


@pytest.mark.django_db(transaction=True)
def test_the_page_tells_at_once_what_was_signed_since_it_was_last_looked_at() -> None:
    unit = rated_unit()
    client = Client()
    client.force_login(unit.manager)
    assert "overdue" in words(client.get(reverse("due")))
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="yearly")
    assert "1 other unit has nothing due soon" in words(client.get(reverse("due")))


@pytest.mark.parametrize("page", ["due", "waiting"])
@pytest.mark.django_db(transaction=True)
def test_looked_at_again_it_works_out_nothing_of_the_fleet_anew(page: str) -> None:
    unit = rated_unit()
    client = Client()
    client.force_login(unit.manager)
    many = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse(page))
        many.append(len(queries))
    assert many[1] < many[0] - 10
