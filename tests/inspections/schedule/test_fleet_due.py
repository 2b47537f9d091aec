from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone
from icalendar import Calendar
from pytest_django import DjangoAssertNumQueries

from inspections.schedule.calendar import calendar_of
from inspections.schedule.due import due_of_fleet
from inspections.schedule.intervals import Row
from inspections.schedule.recording import change_schedule
from tests.builders import count, days_ago, rated_unit

pytestmark = pytest.mark.django_db


def kinds_overdue(housing_id: int) -> list[str]:
    [unit] = [each for each in due_of_fleet() if each.housing and each.housing.pk == housing_id]
    return [kind.row.kind for kind in unit.overdue]


def test_a_unit_never_inspected_by_the_list_is_overdue() -> None:
    unit = rated_unit()
    assert kinds_overdue(unit.housing.pk) == ["monthly", "yearly"]


def test_a_yearly_inspection_is_a_monthly_one_too() -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="yearly")
    assert kinds_overdue(unit.housing.pk) == []


def test_a_pad_count_alone_is_no_monthly_inspection() -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, at=timezone.now())
    assert "monthly" in kinds_overdue(unit.housing.pk)


def test_whatever_counted_the_pads_is_a_pad_count_too() -> None:
    unit = rated_unit()
    change_schedule(
        submission_id=uuid.uuid4(),
        rows=[Row("pad count", 14, None, "a competent person", "yard rule")],
        reason="Pads go fast.",
        by=unit.manager,
    )
    assert kinds_overdue(unit.housing.pk) == ["pad count"]
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="monthly")
    assert kinds_overdue(unit.housing.pk) == []


def test_what_is_overdue_stands_in_the_calendar_on_the_day_it_is_looked_at() -> None:
    unit = rated_unit()
    at = days_ago(60)
    count(unit.housing, unit.manager, unit.lot, at=at, kind="yearly")
    text = calendar_of(due_of_fleet(), timezone.now(), "https://ledger.example")
    days = [event.decoded("dtstart") for event in Calendar.from_ical(text).walk("VEVENT")]
    assert min(days) == timezone.localdate()


def test_an_inspection_of_two_months_ago_is_overdue_again() -> None:
    unit = rated_unit()
    at = days_ago(60)
    count(unit.housing, unit.manager, unit.lot, at=at, kind="yearly")
    assert kinds_overdue(unit.housing.pk) == ["monthly"]


def test_it_takes_as_many_queries_for_one_unit_as_for_three(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    rated_unit()
    with django_assert_num_queries(15):
        due_of_fleet()
    rated_unit()
    rated_unit()
    with django_assert_num_queries(15):
        due_of_fleet()


def test_the_calendar_holds_a_day_for_each_kind_of_a_unit() -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, at=timezone.now(), kind="yearly")
    text = calendar_of(due_of_fleet(), timezone.now(), "https://ledger.example")
    events = list(Calendar.from_ical(text).walk("VEVENT"))
    assert len(events) == 2
    assert {event.decoded("dtstart") for event in events} == {
        timezone.localdate() + timedelta(days=days) for days in (31, 365)
    }
