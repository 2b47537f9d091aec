from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta

import pytest
from django.utils import timezone

from fleet.hours import record_hours
from inspections.history.facts import Chapter
from inspections.history.overdue import Gap, Overdue, look
from inspections.history.span import Span
from inspections.models import ServiceSchedule
from inspections.schedule.intervals import Row, rows_record
from tests.builders import MONDAY, Unit, count, rated_unit
from tests.conftest import append_only_lifted
from tests.job_builders import commit, extraction_job, figured_unit

pytestmark = pytest.mark.django_db

MOUNTED = date(2026, 3, 2)


def monthly(unit: Unit, at: datetime) -> None:
    count(unit.housing, unit.manager, unit.lot, at=at, kind="monthly")


def found(unit: Unit, first: date | None, last: date, kind: str = "monthly") -> list[Overdue]:
    """Which inspections of a kind were overdue at the housing."""
    chapter = Chapter(unit.housing, Span(first, last, timezone.localdate()), "us")
    return [
        each
        for each in look(chapter).overdue
        if each.kind == kind and f"housing {unit.housing}" in each.machine
    ]


def test_an_inspection_never_made_is_overdue_from_the_day_the_housing_was_mounted() -> None:
    unit = rated_unit()
    (only,) = found(unit, None, date(2026, 3, 20))
    assert (only.first_day, only.last_day) == (MOUNTED, date(2026, 3, 20))
    assert (only.last, only.made) == (None, None)
    assert only.days == 19


def test_an_overdue_span_runs_from_after_the_interval_to_the_day_before_it_was_made() -> None:
    unit = rated_unit()
    monthly(unit, MONDAY)
    monthly(unit, MONDAY + timedelta(days=60))
    (only,) = found(unit, None, date(2026, 5, 5))
    assert only.last == MOUNTED
    assert (only.first_day, only.last_day) == (date(2026, 4, 3), date(2026, 4, 30))
    assert only.made == date(2026, 5, 1)


def test_what_was_made_in_time_is_not_overdue() -> None:
    unit = rated_unit()
    monthly(unit, MONDAY)
    monthly(unit, MONDAY + timedelta(days=31))
    assert found(unit, None, date(2026, 4, 20)) == []


def test_of_a_span_only_the_days_in_it_are_named() -> None:
    unit = rated_unit()
    monthly(unit, MONDAY)
    (only,) = found(unit, date(2026, 4, 10), date(2026, 4, 12))
    assert (only.first_day, only.last_day) == (date(2026, 4, 10), date(2026, 4, 12))


def test_a_corrected_inspection_made_nothing() -> None:
    unit = rated_unit()
    monthly(unit, MONDAY)
    wrong = count(
        unit.housing, unit.manager, unit.lot, at=MONDAY + timedelta(days=20), kind="monthly"
    ).inspection
    assert found(unit, None, date(2026, 4, 10)) == []
    with append_only_lifted():
        wrong.__class__.objects.filter(pk=wrong.pk).update(lacks="the travel taped")
    assert [each.first_day for each in found(unit, None, date(2026, 4, 10))] == [date(2026, 4, 3)]


def test_each_day_is_held_to_the_schedule_in_force_on_it() -> None:
    unit = rated_unit()
    monthly(unit, MONDAY)
    ServiceSchedule.objects.create(
        submission_id=uuid.uuid4(),
        rows=rows_record((Row("monthly", 10, None, "a competent person", "our own"),)),
        reason="Dusty site",
        recorded_by=unit.manager,
        recorded_at=MONDAY + timedelta(days=20),
    )
    (only,) = found(unit, None, date(2026, 3, 30))
    assert only.first_day == date(2026, 3, 22)
    assert only.interval == "10 days"


def test_it_is_overdue_from_the_day_its_hours_are_run_where_that_comes_first() -> None:
    unit = rated_unit()
    monthly(unit, MONDAY)
    for day, hours in ((8, 280.0), (12, 350.0), (14, 380.0)):
        record_hours(
            machine=unit.hammer,
            hours=hours,
            read_at=MONDAY + timedelta(days=day),
            by=unit.manager,
            submission_id=uuid.uuid4(),
        )
    (only,) = found(unit, None, date(2026, 3, 20))
    assert (only.first_day, only.last_day) == (date(2026, 3, 14), date(2026, 3, 20))


def test_what_is_asked_for_on_days_a_job_holds_the_unit_is_overdue_on_those_alone() -> None:
    unit = figured_unit()
    today = timezone.localdate()
    commit(unit, extraction_job(first_day=today))
    (only,) = found(unit, None, today, kind="each shift")
    assert (only.first_day, only.last_day) == (today, today)


def test_a_time_without_any_inspection_is_a_gap_of_all_machines_it_was_so_of() -> None:
    unit = rated_unit()
    monthly(unit, MONDAY)
    monthly(unit, MONDAY + timedelta(days=60))
    chapter = Chapter(unit.housing, Span(None, date(2026, 5, 2), timezone.localdate()), "us")
    (gap,) = look(chapter).gaps
    assert gap == Gap(
        f"housing {unit.housing}, hammer {unit.hammer}",
        date(2026, 3, 3),
        date(2026, 4, 30),
        is_open=False,
    )
    assert gap.days == 59
