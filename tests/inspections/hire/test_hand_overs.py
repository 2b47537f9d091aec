from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from fleet.hours import record_meter_change
from fleet.models import Hire
from fleet.outages import take_out_of_service
from inspections.count.replacement import PadFitted, sign_replacement
from inspections.count.submission import Submission
from inspections.hire.differences import AsSeen, PadThere, differences
from inspections.hire.hand_overs import hand_overs_of
from inspections.hire.recording import add_photo, agree_hire, cancel_hire, hand_over
from inspections.models import HandOver
from inspections.waiting.providers import waiting_for_managers
from ratings.jobs.candidates import candidates
from ratings.mounting import mount_housing
from tests.builders import Unit, count, days_ago, picture, rated_unit
from tests.factories import ManagerFactory, PadLotFactory
from tests.job_builders import commit, extraction_job, figured_unit, transfer

pytestmark = pytest.mark.django_db


def let(unit: Unit, **changes: Any) -> Hire:
    """A unit let for ten days, from ten days ago unless told otherwise."""
    today = timezone.localdate()
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "housing": unit.housing,
        "hirer": "Brandt Piling",
        "contact": "Odd Brandt, 555 0123",
        "place": "Pier 4, Fleetwater",
        "from_day": today - timedelta(days=10),
        "back_due": today,
        "by": unit.manager,
    }
    return agree_hire(**plain | changes)


def sign(hire: Hire, way: str, at: datetime, **changes: Any) -> HandOver:
    return hand_over(**_plain(hire) | {"way": way, "signed_at": at} | changes)


def out(unit: Unit, at: datetime | None = None, hours: float = 100.0, **changes: Any) -> Hire:
    """A unit that left, inspected that day."""
    at = at or days_ago(10)
    hire = let(unit, **changes)
    count(unit.housing, unit.manager, unit.lot, at=at, hours=hours)
    sign(hire, "out", at)
    return Hire.objects.get(pk=hire.pk)


def back(unit: Unit, hire: Hire, hours: float = 130.0, **seen: Any) -> Any:
    at = days_ago(1)
    count(unit.housing, unit.manager, seen.pop("lot", unit.lot), at=at, hours=hours, **seen)
    sign(hire, "back", at)
    differs = hand_overs_of(Hire.objects.get(pk=hire.pk)).differs
    assert differs is not None
    return differs


def test_a_unit_that_comes_back_as_it_left_differs_in_its_hours_alone() -> None:
    unit = rated_unit()
    hire = out(unit)
    differs = back(unit, hire)
    assert differs.is_none
    assert differs.hours_run == pytest.approx(30)
    assert Hire.objects.get(pk=hire.pk).state == "back"


def test_it_is_not_handed_out_by_last_months_inspection() -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, at=days_ago(40), hours=90)
    with pytest.raises(ValidationError, match="more than a day from this hand-over"):
        sign(let(unit), "out", days_ago(10))
    assert not HandOver.objects.exists()


@pytest.mark.parametrize("lacks", [{"hours": None}, {"travel_in": None}])
def test_an_inspection_that_did_not_do_all_of_it_hands_nothing_over(lacks: dict[str, Any]) -> None:
    unit = rated_unit()
    count(unit.housing, unit.manager, unit.lot, at=days_ago(10), **{"hours": 90.0} | lacks)
    with pytest.raises(ValidationError, match="tape the travel and read the hours"):
        sign(let(unit), "out", days_ago(10))


def test_it_is_not_taken_back_by_an_inspection_made_before_it_came() -> None:
    unit = rated_unit()
    hire = out(unit)
    count(unit.housing, unit.manager, unit.lot, at=days_ago(2), hours=120)
    with pytest.raises(ValidationError, match="before it came back"):
        sign(hire, "back", days_ago(2) + timedelta(hours=3))


def test_a_pad_swapped_on_hire_is_seen_and_one_replaced_on_record_is_told_apart() -> None:
    unit = rated_unit(in_stock=4)
    hire = out(unit)
    sign_replacement(
        housing=unit.housing,
        submission=Submission(uuid.uuid4()),
        fitted_at=days_ago(5),
        pads=[PadFitted("B", 2, unit.lot.pk)],
        by=unit.manager,
    )
    theirs = PadLotFactory(mark="L-THEIRS")
    differs = back(unit, hire, lot=theirs)
    assert [each.place for each in differs.pads if each.is_replaced] == ["B2"]
    assert "A1" in [each.place for each in differs.swapped]
    assert "no replacement is on record" in differs.pads[0].words


def test_a_pad_that_was_cracked_and_is_sound_is_another_pad() -> None:
    def seen(condition: str) -> AsSeen:
        return AsSeen({("A", 1): PadThere(condition, "L-1")}, 6.0, 1.0, None, None, {})

    assert differences(seen("cracked"), seen("sound")).swapped
    assert not differences(seen("sound"), seen("cracked")).swapped
    assert not differences(seen("cracked"), seen("sound"), replaced=frozenset({("A", 1)})).swapped


def test_what_was_found_and_closed_meanwhile_and_fewer_hours_are_told() -> None:
    left = AsSeen({}, 6.0, 90.0, 10.0, 9.0, {1: "hose", 2: "bolt"})
    here = AsSeen({}, 5.5, 80.0, 8.0, 7.0, {2: "bolt", 3: "crack"})
    differs = differences(left, here)
    assert (differs.new_findings, differs.closed_findings) == (("crack",), ("hose",))
    assert (differs.travel_in, differs.pull_lbf, differs.working_capacity_lbf) == (-0.5, -2, -2)
    assert differs.runs_backward


def test_hours_go_on_over_a_changed_meter() -> None:
    unit = rated_unit()
    hire = out(unit)
    with pytest.raises(ValidationError, match="record that it was changed"):
        count(unit.housing, unit.manager, unit.lot, at=days_ago(1), hours=12)
    record_meter_change(
        submission_id=uuid.uuid4(),
        hammer=unit.hammer,
        changed_at=days_ago(5),
        old_hours=120.0,
        new_hours=0.0,
        reason="Broken",
        by=unit.manager,
    )
    differs = back(unit, hire, hours=12.0)
    assert differs.hours_run == pytest.approx(32)
    assert differs.is_meter_changed


@pytest.mark.parametrize("field", ["housing_mark", "hammer_mark"])
def test_another_machine_that_came_back_is_seen_by_its_mark(field: str) -> None:
    unit = rated_unit()
    hire = out(unit)
    count(unit.housing, unit.manager, unit.lot, at=days_ago(1), hours=120)
    with pytest.raises(ValidationError) as refusal:
        sign(hire, "back", days_ago(1), **{field: "X-99"})
    assert "this is another" in refusal.value.message_dict[field][0]
    assert Hire.objects.get(pk=hire.pk).is_out


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"given_by": " "}, "given_by"),
        ({"taken_by": ""}, "taken_by"),
        ({"taken_by": "ida moen"}, "taken_by"),
        ({"housing_mark": ""}, "housing_mark"),
        ({"signed_at": timezone.now() + timedelta(days=2)}, "signed_at"),
    ],
)
def test_a_hand_over_that_says_too_little_is_refused_at_its_field(
    changes: dict[str, Any], field: str
) -> None:
    with pytest.raises(ValidationError) as refusal:
        hand_over(**_plain(let(rated_unit())) | changes)
    assert list(refusal.value.message_dict) == [field]


def _plain(hire: Hire) -> dict[str, Any]:
    return {
        "submission_id": uuid.uuid4(),
        "hire": hire,
        "way": "out",
        "signed_at": days_ago(10),
        "given_by": "Ida Moen",
        "taken_by": "Odd Brandt",
        "housing_mark": hire.housing.mark,
        "hammer_mark": hire.hammer.mark,
        "by": hire.recorded_by,
    }


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"hirer": " "}, "hirer"),
        ({"contact": ""}, "contact"),
        ({"place": ""}, "place"),
        ({"back_due": date(2020, 1, 1)}, "back_due"),
        ({"from_day": date(2020, 1, 1), "back_due": date(2020, 2, 1)}, "from_day"),
    ],
)
def test_a_hire_that_says_too_little_is_refused_at_its_field(
    changes: dict[str, Any], field: str
) -> None:
    with pytest.raises(ValidationError) as refusal:
        let(rated_unit(), **changes)
    assert list(refusal.value.message_dict) == [field]


def test_a_unit_out_of_service_does_not_leave() -> None:
    unit = rated_unit()
    hire = let(unit)
    take_out_of_service(
        submission_id=uuid.uuid4(),
        machine=unit.housing,
        since=days_ago(11),
        reason="Cracked plate",
        by=unit.manager,
    )
    count(unit.housing, unit.manager, unit.lot, at=days_ago(10), hours=90)
    with pytest.raises(ValidationError, match="out of service"):
        sign(hire, "out", days_ago(10))


def test_a_committed_unit_one_in_transit_and_one_let_already_are_not_let() -> None:
    held = figured_unit()
    made = commit(held, extraction_job())
    with pytest.raises(ValidationError, match="is committed to"):
        let(held, from_day=made.first_day, back_due=made.last_day)
    sent = rated_unit()
    moved = transfer(sent)
    with pytest.raises(ValidationError, match="transfer from"):
        let(sent, from_day=moved.leaves_on, back_due=moved.arrives_on)
    unit = rated_unit()
    let(unit)
    with pytest.raises(ValidationError, match="hire to Brandt Piling"):
        let(unit)


def test_while_it_is_out_it_holds_no_job_stays_under_its_hammer_and_waits_once_it_is_late() -> None:
    unit = figured_unit()
    today = timezone.localdate()
    hire = out(unit, at=days_ago(10), back_due=today - timedelta(days=3))
    (candidate,) = [each for each in candidates(today, today) if each.housing.pk == unit.housing.pk]
    assert "hire to Brandt Piling" in candidate.unit.committed
    with pytest.raises(ValidationError, match="take it back first"):
        mount_housing(housing=unit.housing, hammer=None, at=timezone.now(), by=unit.manager)
    assert hire.state == "overdue back"
    waits = {each.provider.key: each for each in waiting_for_managers().sections}
    assert "hires" in waits


def test_a_second_copy_changes_nothing_and_a_hire_goes_each_way_once() -> None:
    unit, sent = rated_unit(), uuid.uuid4()
    hire = let(unit, submission_id=sent)
    assert let(unit, submission_id=sent) == hire
    count(unit.housing, unit.manager, unit.lot, at=days_ago(10), hours=90)
    first = sign(hire, "out", days_ago(10), submission_id=sent)
    assert sign(hire, "out", days_ago(10), submission_id=sent) == first
    with pytest.raises(ValidationError, match="left already"):
        sign(hire, "out", days_ago(10))
    with pytest.raises(ValidationError, match="take it back with a hand-over"):
        cancel_hire(hire=hire, reason="Sold", by=unit.manager)


def test_a_cancelled_hire_lets_the_unit_go_and_says_why() -> None:
    unit = rated_unit()
    hire = let(unit)
    with pytest.raises(ValidationError, match="say why"):
        cancel_hire(hire=hire, reason=" ", by=unit.manager)
    assert cancel_hire(hire=hire, reason="Rained off", by=unit.manager).state == "cancelled"
    assert let(unit).is_open


def test_the_database_keeps_one_open_hire_and_back_after_out() -> None:
    unit = rated_unit()
    hire = out(unit)
    with pytest.raises(IntegrityError), transaction.atomic():
        Hire.objects.filter(pk=hire.pk).update(hirer="Somebody")
    with pytest.raises(IntegrityError), transaction.atomic():
        Hire.objects.filter(pk=hire.pk).update(
            end="back", ended_on=date(2020, 1, 1), ended_by=unit.manager
        )


def test_a_photo_of_a_hand_over_is_kept_once() -> None:
    hire = out(rated_unit())
    made, sent = hire.hand_overs.get(), uuid.uuid4()
    for _ in range(2):
        add_photo(photo_id=sent, hand_over=made, sent=picture().read(), by=ManagerFactory())
    both = hand_overs_of(hire)
    assert both.out is not None
    assert [len(each.sha256) for each in both.out.photos] == [64]
