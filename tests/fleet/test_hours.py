from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError

from fleet.hours import check_reading, record_meter_change, running_hours
from fleet.models import Hammer, HourReading
from tests.builders import MONDAY
from tests.factories import HammerFactory, ManagerFactory

pytestmark = pytest.mark.django_db


def read(hammer: Hammer, hours: float, days: int) -> None:
    HourReading.objects.create(
        hammer=hammer,
        hours=hours,
        read_at=MONDAY + timedelta(days=days),
        recorded_by=ManagerFactory(),
    )


def change(hammer: Hammer, old: float, new: float, days: int) -> None:
    record_meter_change(
        submission_id=uuid.uuid4(),
        hammer=hammer,
        changed_at=MONDAY + timedelta(days=days),
        old_hours=old,
        new_hours=new,
        reason="The glass broke.",
        by=ManagerFactory(),
    )


def test_a_reading_that_falls_is_refused() -> None:
    hammer = HammerFactory()
    read(hammer, 500, 0)
    with pytest.raises(ValidationError, match="below the 500 h"):
        check_reading(hammer, 20, MONDAY + timedelta(days=2))


def test_a_reading_may_fall_after_a_meter_change() -> None:
    hammer = HammerFactory()
    read(hammer, 500, 0)
    change(hammer, 510, 0, 1)
    check_reading(hammer, 20, MONDAY + timedelta(days=2))


def test_a_late_reading_of_the_old_meter_is_held_to_the_old_meter() -> None:
    hammer = HammerFactory()
    read(hammer, 500, 0)
    change(hammer, 510, 0, 4)
    check_reading(hammer, 505, MONDAY + timedelta(days=2))
    with pytest.raises(ValidationError, match="above the 510 h"):
        check_reading(hammer, 520, MONDAY + timedelta(days=2))


def test_hours_run_go_on_over_a_meter_change() -> None:
    hammer = HammerFactory()
    read(hammer, 500, 0)
    change(hammer, 510, 10, 1)
    read(hammer, 30, 2)
    assert running_hours([hammer.pk])[hammer.pk].now == 530.0


def test_an_old_meter_cannot_end_below_what_it_showed() -> None:
    hammer = HammerFactory()
    read(hammer, 500, 0)
    with pytest.raises(ValidationError, match="below the 500 h"):
        change(hammer, 400, 0, 1)


def test_a_meter_runs_no_faster_than_the_clock() -> None:
    hammer = HammerFactory()
    read(hammer, 500, 0)
    check_reading(hammer, 548, MONDAY + timedelta(days=1))
    with pytest.raises(ValidationError, match="more than there were by the clock"):
        check_reading(hammer, 549, MONDAY + timedelta(days=1))
    read(hammer, 560, 3)
    with pytest.raises(ValidationError, match="more than there were by the clock"):
        check_reading(hammer, 501, MONDAY + timedelta(days=2))


def test_an_old_meter_cannot_end_beyond_what_the_clock_allows() -> None:
    hammer = HammerFactory()
    read(hammer, 500, 0)
    with pytest.raises(ValidationError, match="give the last the old meter showed"):
        change(hammer, 99_999, 0, 11)


def test_hours_run_up_to_a_meter_change_count_before_the_new_meter_is_read() -> None:
    hammer = HammerFactory()
    read(hammer, 500, 0)
    change(hammer, 510, 5, 2)
    assert running_hours([hammer.pk])[hammer.pk].now == 510


def test_a_meter_read_at_the_moment_it_is_changed_is_the_old_one_and_counts_once() -> None:
    hammer = HammerFactory()
    read(hammer, 1000, 0)
    change(hammer, 1000, 0, 0)
    read(hammer, 5, 1)
    assert [run for _day, run in running_hours([hammer.pk])[hammer.pk].readings] == [
        1000,
        1000,
        1005,
    ]
