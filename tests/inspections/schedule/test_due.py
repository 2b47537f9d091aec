from __future__ import annotations

from datetime import date

import pytest

from inspections.schedule.due import Last, due, due_of_fleet, due_of_machine
from inspections.schedule.intervals import Row
from ratings.mounting import mount_housing
from tests.builders import days_ago
from tests.factories import HammerFactory, HousingFactory, ManagerFactory

TODAY = date(2026, 6, 1)
MONTHLY = Row("monthly", 31, 250.0, "a competent person", "yard rule")


def test_never_made_is_overdue() -> None:
    assert due(MONTHLY, None, None, TODAY).is_overdue


@pytest.mark.parametrize(
    ("last", "is_overdue"), [(date(2026, 5, 1), False), (date(2026, 4, 30), True)]
)
def test_it_is_overdue_the_day_after_the_interval_ends(last: date, is_overdue: bool) -> None:
    assert due(MONTHLY, Last(last), None, TODAY).is_overdue is is_overdue


def test_hours_may_come_before_days() -> None:
    stands = due(MONTHLY, Last(date(2026, 5, 31), 1000.0), 1250.0, TODAY)
    assert stands.is_overdue
    assert stands.hours_left == 0.0


def test_hours_left_are_told() -> None:
    stands = due(MONTHLY, Last(date(2026, 5, 31), 1000.0), 1100.0, TODAY)
    assert stands.hours_left == 150.0
    assert stands.words == "due 1 Jul 2026 or 150 h left"


def test_overdue_by_days_says_nothing_of_hours_left() -> None:
    assert due(MONTHLY, Last(date(2026, 4, 1), 1000.0), 1100.0, TODAY).words == "due 2 May 2026"


@pytest.mark.parametrize(("run_h", "is_soon"), [(1224.0, False), (1225.0, True)])
def test_the_last_tenth_of_its_hours_is_soon(run_h: float, is_soon: bool) -> None:
    assert due(MONTHLY, Last(date(2026, 5, 31), 1000.0), run_h, TODAY).is_soon is is_soon


def test_hours_not_read_do_not_count() -> None:
    assert not due(MONTHLY, Last(date(2026, 5, 31)), 9999.0, TODAY).is_overdue


def test_within_a_week_it_is_soon() -> None:
    assert due(MONTHLY, Last(date(2026, 5, 5)), None, TODAY).is_soon
    assert not due(MONTHLY, Last(date(2026, 5, 30)), None, TODAY).is_soon


def test_what_goes_by_hours_alone_is_told_where_nobody_read_the_meter() -> None:
    oil = Row("oil change", None, 500.0, "a fitter", "yard rule")
    unread = due(oil, Last(date(2026, 5, 1)), None, TODAY)
    assert (unread.is_soon, unread.words) == (True, "hours not known: read the meter")
    assert not due(oil, Last(date(2026, 5, 1)), None, TODAY, is_in_use=False).is_soon


def test_hours_just_run_out_are_over_by_none() -> None:
    assert due(MONTHLY, Last(date(2026, 5, 31), 1000.0), 1250.0, TODAY).words == "over by 0 h"


def test_what_is_over_both_its_hours_and_its_days_says_both() -> None:
    words = due(MONTHLY, Last(date(2026, 4, 1), 1000.0), 1260.0, TODAY).words
    assert words == "over by 10 h, due 2 May 2026"


def test_nothing_is_asked_of_a_spare() -> None:
    oil = Row("oil change", None, 500.0, "a fitter", "yard rule")
    never = due(oil, None, None, TODAY, is_in_use=False)
    run = due(oil, Last(TODAY, 100.0), 700.0, TODAY, is_in_use=False)
    late = due(MONTHLY, Last(date(2026, 1, 1), None), None, TODAY, is_in_use=False)
    fresh = due(MONTHLY, Last(TODAY, None), None, TODAY, is_in_use=False)
    assert not any(each.is_overdue or each.is_soon for each in (never, run, late, fresh))
    assert [each.words for each in (never, run, late)] == [
        "never made: to be made before it goes out",
        "its hours are run: to be made before it goes out",
        "was due 1 Feb 2026: to be made before it goes out",
    ]
    assert fresh.words.endswith("; a spare, asked for once it goes out")


@pytest.mark.django_db
def test_a_hammer_on_no_housing_is_overdue_only_once_it_hangs_in_a_unit() -> None:
    hammer, housing = HammerFactory(), HousingFactory()
    assert due_of_machine(hammer).overdue == []
    assert [unit.overdue for unit in due_of_fleet()] == [[], []]
    assert "before it goes out" in due_of_machine(hammer).kinds[0].words
    mount_housing(housing=housing, hammer=hammer, at=days_ago(1), by=ManagerFactory())
    assert due_of_machine(hammer).overdue
    assert due_of_machine(housing).overdue
