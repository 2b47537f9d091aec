"""Hours a unit is to work, and how many pads of each lot a yard is expected to lose by them."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet import clock
from fleet.hours import record_meter_change
from fleet.models import SuppressorHousing, Yard
from inspections.forecast.expected import ExpectedPads, expected_by_yard
from inspections.forecast.forecasting import Records
from inspections.forecast.planned import HoursAhead, hours_ahead, plan_hours
from inspections.models import PlannedHours
from tests.all_tables import changed, everything
from tests.builders import Unit, count, rated_unit, receive
from tests.factories import YardFactory
from tests.inspections.lives.worn import fit, month, worn_unit

pytestmark = pytest.mark.django_db

# The last look at the worn unit, at 400 h; 300 h in the five months before it.
LAST = month(5)


@pytest.fixture(autouse=True)
def _the_day_of_the_last_look() -> Any:
    with clock.set_to(LAST + timedelta(hours=1)):
        yield


def expected_pads(yard: Yard, days: int) -> list[ExpectedPads]:
    return expected_by_yard([yard], clock.today() + timedelta(days=days))[yard.pk]


def plan(unit: Unit, **changes: Any) -> PlannedHours:
    today = clock.today()
    given: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "housing": unit.housing,
        "first_day": today,
        "last_day": today + timedelta(days=400),
        "hours": 14.0,
        "per": "week",
        "reason": "the bridge job",
        "by": unit.manager,
    }
    return plan_hours(**(given | changes))


def ahead_of(unit: Unit) -> HoursAhead:
    return hours_ahead([unit.housing.pk], clock.now())[unit.housing.pk]


def hours_in(unit: Unit, days: int) -> float | None:
    return ahead_of(unit).by(clock.today() + timedelta(days=days))


def test_unplanned_a_unit_works_on_as_over_the_last_year() -> None:
    unit = worn_unit()
    # 300 h in 150 days.
    assert hours_in(unit, 30) == pytest.approx(60.0, rel=0.02)
    assert "as over the last year, 14 h a week" in ahead_of(unit).words(30)


def test_planned_hours_count_for_their_days_and_the_last_year_for_the_rest() -> None:
    unit = worn_unit()
    plan(unit, hours=35.0, last_day=clock.today() + timedelta(days=10))
    # Ten days of 5 h, twenty of 2 h.
    assert hours_in(unit, 30) == pytest.approx(50.0 + 40.0, rel=0.02)
    assert ahead_of(unit).words(30).startswith("as planned until ")
    assert ahead_of(unit).words(10) == "as planned"


def test_days_planned_in_the_middle_are_told_by_their_number() -> None:
    unit = worn_unit()
    today = clock.today()
    first, last = today + timedelta(days=11), today + timedelta(days=15)
    plan(unit, first_day=first, last_day=last)
    assert ahead_of(unit).words(30).startswith("as planned on 5 of 30 days, else as over the last")


def hours_of(unit: Unit, where: str) -> tuple[float, float]:
    """Return what a pad had worked when last seen sound, and by now."""
    pads = Records([unit.housing]).sound_pads(unit.housing.pk)
    assert not isinstance(pads, str)
    (pad,) = [each for each in pads if f"{each.side}{each.number}" == where]
    return pad.sound_hours, pad.hours


def test_a_pad_works_no_hours_of_before_it_was_fitted() -> None:
    unit = worn_unit()
    receive(unit.lot, unit.manager, 1)
    # Nobody read the meter for sixty days; 2 h a day.
    with clock.set_to(month(7) + timedelta(hours=1)):
        fit(unit, {"A1": unit.lot}, month(7))
        assert hours_of(unit, "A1") == (0.0, 0.0)
        assert hours_of(unit, "A4") == pytest.approx((300.0, 300.0 + 120.0), rel=0.01)


def test_a_pad_seen_sound_when_no_meter_was_read_had_worked_till_then() -> None:
    unit = worn_unit()
    unsound = {"A1": "cracked", "A2": "missing", "B1": "debonded", "A3": "swollen"}
    unsound |= {"B2": "cracked", "B3": "cracked"}
    with clock.set_to(month(6) + timedelta(hours=1)):
        count(unit.housing, unit.manager, unit.lot, unsound=unsound, at=month(6))
    with clock.set_to(month(7) + timedelta(hours=1)):
        assert hours_of(unit, "A4") == pytest.approx((360.0, 420.0), rel=0.01)


def test_what_a_hammer_ran_before_the_housing_hung_on_it_wears_no_pad() -> None:
    unit = worn_unit()
    with clock.set_to(month(7) + timedelta(hours=1)):
        before = hours_of(unit, "A4")[1]
        unit.housing.mountings.update(mounted_at=month(6))
        # Of the hours read none count, of those since the last reading half.
        assert hours_of(unit, "A4") == pytest.approx((0.0, (before - 300.0) / 2), rel=0.02)


def test_of_two_plans_for_a_day_the_later_counts() -> None:
    unit = worn_unit()
    plan(unit, hours=35.0)
    plan(unit, hours=4.0, per="day", last_day=clock.today() + timedelta(days=10))
    assert hours_in(unit, 20) == pytest.approx(10 * 4.0 + 10 * 5.0)


def test_a_meter_that_was_changed_breaks_no_pace() -> None:
    unit = worn_unit()
    before = hours_in(unit, 30)
    record_meter_change(
        submission_id=uuid.uuid4(),
        hammer=unit.hammer,
        changed_at=LAST,
        old_hours=400.0,
        new_hours=0.0,
        reason="the old one stuck",
        by=unit.manager,
    )
    assert hours_in(unit, 30) == before


def test_with_a_meter_never_read_the_hours_are_not_known() -> None:
    unit = rated_unit()
    assert hours_in(unit, 30) is None
    assert "enter the hours planned" in ahead_of(unit).words(30)
    plan(unit)
    assert hours_in(unit, 30) == pytest.approx(60.0)


def test_a_spare_housing_works_nothing_unless_planned() -> None:
    unit = worn_unit()
    unit.housing.mountings.update(removed_at=LAST)
    assert hours_in(unit, 30) == 0.0
    assert ahead_of(unit).words(30) == "none: it hangs on no hammer"


def test_a_unit_that_ran_far_beyond_its_plan_is_told() -> None:
    unit = worn_unit()
    with clock.set_to(month(4)):
        plan(unit, first_day=clock.today(), hours=3.0)
    assert "it ran 60 h, planned were 13 h: plan the days to come anew" in ahead_of(unit).over


def test_what_a_unit_is_to_work_is_asked_as_of_a_past_day_by_what_was_recorded_then() -> None:
    unit = worn_unit()
    then = month(3) + timedelta(hours=1)
    plan(unit, hours=70.0)
    ahead = hours_ahead([unit.housing.pk], then, then)[unit.housing.pk]
    assert ahead.planned == {}


@pytest.mark.parametrize(
    ("given", "field", "said"),
    [
        ({"hours": 0.0}, "hours", "tick “It stands still”"),
        ({"stands_still": True}, "stands_still", "It stands still or it works"),
        ({"hours": -1.0}, "hours", ""),
        ({"hours": 169.0}, "hours", ""),
        ({"hours": float("nan")}, "hours", ""),
        ({"hours": 25.0, "per": "day"}, "hours", "A day has no 25 h"),
        ({"per": "month"}, "per", "“month” won’t do"),
        ({"last_day": timedelta(days=-1)}, "last_day", "before"),
        ({"first_day": timedelta(days=-93)}, "first_day", "long past"),
        ({"first_day": timedelta(days=-9), "last_day": timedelta(0)}, "last_day", "no day to come"),
        ({"last_day": timedelta(days=3 * 365 + 1)}, "last_day", "three years ahead"),
        ({"reason": "  "}, "reason", "blank"),
        ({"reason": "x" * 201}, "reason", "200"),
    ],
)
def test_hours_that_cannot_be_planned_are_refused_by_their_field(
    given: dict[str, Any], field: str, said: str
) -> None:
    unit = worn_unit()
    before = everything()
    for name, value in given.items():
        if isinstance(value, timedelta):
            given[name] = clock.today() + value
    with pytest.raises(ValidationError) as refusal:
        plan(unit, **given)
    assert field in refusal.value.message_dict
    assert said in " ".join(refusal.value.messages)
    assert not changed(before)


def test_no_hours_are_planned_for_a_unit_out_of_use() -> None:
    unit = worn_unit()
    SuppressorHousing.objects.filter(pk=unit.housing.pk).update(retired_on=clock.today())
    unit.housing.refresh_from_db()
    with pytest.raises(ValidationError, match="out of use since"):
        plan(unit)


def test_it_stands_still_is_recorded_as_no_hours() -> None:
    unit = worn_unit()
    assert plan(unit, hours=0.0, stands_still=True).hours == 0.0
    assert hours_in(unit, 30) == 0.0


def test_a_second_copy_of_a_plan_changes_nothing() -> None:
    unit = worn_unit()
    key = uuid.uuid4()
    assert plan(unit, submission_id=key) == plan(unit, submission_id=key, hours=30.0)
    assert PlannedHours.objects.count() == 1


def test_a_yard_is_expected_to_lose_more_pads_the_more_it_works() -> None:
    unit = worn_unit()
    (usual,) = expected_pads(unit.housing.yard, 90)
    plan(unit, hours=70.0)
    (busy,) = expected_pads(unit.housing.yard, 90)
    assert usual.lot == unit.lot
    assert usual.expected is not None
    assert busy.expected is not None
    assert 0.0 < usual.expected < busy.expected < 6.0
    assert usual.low is not None
    assert usual.high is not None
    assert usual.low <= usual.expected <= usual.high
    assert "6 sound pads until" in usual.reason
    plan(unit, hours=0.0, stands_still=True)
    (idle,) = expected_pads(unit.housing.yard, 90)
    assert idle.expected == pytest.approx(0.0, abs=1e-12)


def test_a_yard_where_hardly_a_pad_failed_is_told_why_it_cannot_be_forecast() -> None:
    unit = rated_unit()
    for number, hours in ((1, 100.0), (4, 300.0)):
        count(unit.housing, unit.manager, unit.lot, at=month(number), hours=hours)
    (found,) = expected_pads(unit.housing.yard, 90)
    assert (found.expected, found.low, found.high) == (None, None, None)
    assert "none of 8 pads of all lots together failed so far" in found.reason


def test_a_unit_whose_meter_was_never_read_leaves_its_lot_without_a_figure() -> None:
    unit = rated_unit()
    (found,) = expected_pads(unit.housing.yard, 90)
    assert found.expected is None
    assert f"unit {unit.housing.mark}: the hour meter of its hammer was never read" in found.reason


def test_pads_are_expected_by_yard_and_for_days_to_come() -> None:
    unit = worn_unit()
    assert expected_pads(YardFactory(), 90) == []
    with pytest.raises(ValueError, match="a day past"):
        expected_pads(unit.housing.yard, -1)


def test_yards_asked_for_together_are_each_told_what_they_are_told_alone() -> None:
    worn, unread, empty = worn_unit(), rated_unit(), YardFactory()
    plan(worn, hours=70.0)
    yards = [worn.housing.yard, unread.housing.yard, empty]
    until = clock.today() + timedelta(days=90)
    together = expected_by_yard(yards, until)
    assert together == {each.pk: expected_pads(each, 90) for each in yards}
    assert [len(together[each.pk]) for each in yards] == [1, 1, 0]


def test_more_yards_take_no_more_queries() -> None:
    yards, until = [worn_unit().housing.yard], clock.today() + timedelta(days=90)
    asked = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as queries:
            expected_by_yard(yards, until)
        asked.append(len(queries))
        yards += [rated_unit().housing.yard for _ in range(3)]
    assert asked[0] == asked[1]
