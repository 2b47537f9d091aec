"""Units sent from one yard to another: what may be planned, what it keeps a unit from."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.models import ClampFitting, Hammer, ShelfCount, SuppressorHousing, Transfer, TransferEnd
from ratings.jobs.candidates import candidates
from ratings.jobs.commitments import CannotCommit, release_unit
from ratings.mounting import mount_housing
from ratings.transfers.recording import (
    cancel_transfer,
    plan_transfer,
    record_arrival,
    record_yard_haul,
)
from ratings.transport import change_transport_rules, transport_in_force
from tests.all_tables import changed, everything
from tests.builders import Unit, rated_unit
from tests.factories import (
    ClampFactory,
    DispatcherFactory,
    HammerFactory,
    HousingFactory,
    YardFactory,
)
from tests.job_builders import commit, extraction_job, figured_unit

pytestmark = pytest.mark.django_db


def day(ahead: int) -> date:
    return timezone.localdate() + timedelta(days=ahead)


def send(unit: Unit | None = None, **more: Any) -> Transfer:
    housing = unit.housing if unit else None
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "housing": housing,
        "hammer": None,
        "goal": more.pop("goal", None) or YardFactory(),
        "leaves_on": day(3),
        "arrives_on": day(4),
        "by": DispatcherFactory(),
    }
    return plan_transfer(**plain | more)


def arrive(transfer: Transfer, ahead: int = 0) -> TransferEnd:
    return record_arrival(
        submission_id=uuid.uuid4(),
        transfer=transfer,
        arrived_on=day(ahead),
        by=DispatcherFactory(),
    )


def cancel(transfer: Transfer, reason: str = "The low loader broke down.") -> TransferEnd:
    return cancel_transfer(
        submission_id=uuid.uuid4(), transfer=transfer, reason=reason, by=DispatcherFactory()
    )


def committed_on(unit: Unit, first: int, last: int) -> str:
    (found,) = candidates(day(first), day(last), only_housing=unit.housing.pk)
    return found.unit.committed


def refused(field: str, **more: Any) -> str:
    with pytest.raises(ValidationError) as refusal:
        send(**more)
    return str(refusal.value.message_dict[field][0])


def test_a_unit_on_its_way_is_not_free() -> None:
    unit = rated_unit()
    transfer = send(unit)
    assert committed_on(unit, 1, 2) == ""
    assert f"to {transfer.goal}" in committed_on(unit, 4, 6)
    assert committed_on(unit, 5, 6) == ""


def test_a_unit_on_its_way_is_not_committed() -> None:
    unit = figured_unit()
    send(unit, leaves_on=day(1), arrives_on=day(2))
    with pytest.raises(CannotCommit, match="transfer from"):
        commit(unit, extraction_job(first_day=day(2)))


def test_it_counts_as_in_the_other_yard_once_it_is_to_be_there() -> None:
    unit, goal = rated_unit(), YardFactory()
    send(unit, goal=goal)
    miles = {unit.housing.yard_id: 10.0, goal.pk: 80.0}
    found = [
        candidates(day(on), day(on), miles, only_housing=unit.housing.pk)[0].unit.distance_mi
        for on in (2, 5)
    ]
    assert found == [10.0, 80.0]


def test_an_arrival_moves_housing_and_hammer() -> None:
    unit = rated_unit()
    transfer = send(unit, leaves_on=day(-1), arrives_on=day(0))
    end = arrive(transfer)
    housing = SuppressorHousing.objects.get(pk=unit.housing.pk)
    hammer = Hammer.objects.get(pk=unit.hammer.pk)
    assert (housing.yard, hammer.yard, end.hammer) == (transfer.goal, transfer.goal, hammer)
    assert committed_on(unit, 0, 9) == ""


def test_the_clamp_on_it_comes_along_and_others_stay() -> None:
    unit = figured_unit()
    fitting = ClampFitting.objects.current().get(hammer=unit.hammer)
    other = ClampFactory(yard=unit.hammer.yard)
    transfer = send(unit, leaves_on=day(0), arrives_on=day(0))
    arrive(transfer)
    for clamp, yard in ((fitting.clamp, transfer.goal), (other, transfer.origin)):
        clamp.refresh_from_db()
        assert clamp.yard == yard


def test_a_unit_on_a_road_changes_no_hammer() -> None:
    unit = rated_unit()
    send(unit, leaves_on=day(0), arrives_on=day(1))
    with pytest.raises(ValidationError, match="on its transfer"):
        mount_housing(
            housing=unit.housing, hammer=HammerFactory(), at=timezone.now(), by=unit.manager
        )


def test_what_comes_along_is_the_hammer_it_is_on_when_it_leaves(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit, later = rated_unit(), HammerFactory()
    transfer = send(unit)
    mount_housing(housing=unit.housing, hammer=later, at=timezone.now(), by=unit.manager)
    monkeypatch.setattr("django.utils.timezone.localdate", lambda: transfer.arrives_on)
    arrive(transfer)
    later.refresh_from_db()
    unit.hammer.refresh_from_db()
    assert later.yard == transfer.goal
    assert unit.hammer.yard == transfer.origin


def test_pads_on_the_shelf_stay_where_they_are() -> None:
    unit = rated_unit(in_stock=6)
    before = list(ShelfCount.objects.order_by("pk").values_list("lot", "yard", "pads"))
    arrive(send(unit, leaves_on=day(0), arrives_on=day(0)))
    assert list(ShelfCount.objects.order_by("pk").values_list("lot", "yard", "pads")) == before


def test_one_that_is_late_is_not_free_until_somebody_says_it_came() -> None:
    unit = rated_unit()
    transfer = send(unit, leaves_on=day(-5), arrives_on=day(-3))
    assert (transfer.state, committed_on(unit, 0, 0) != "") == ("late", True)
    arrive(transfer, -3)
    assert committed_on(unit, 0, 0) == ""


def test_a_cancelled_one_leaves_the_unit_where_it_was_and_free() -> None:
    unit = rated_unit()
    cancel(send(unit))
    unit.housing.refresh_from_db()
    assert committed_on(unit, 3, 4) == ""
    assert unit.housing.yard != Transfer.objects.get().goal


def test_a_hammer_goes_by_itself() -> None:
    hammer = HammerFactory()
    transfer = send(hammer=hammer, leaves_on=day(0), arrives_on=day(0))
    arrive(transfer)
    hammer.refresh_from_db()
    assert hammer.yard == transfer.goal


def test_a_hammer_to_go_by_itself_gets_no_housing() -> None:
    hammer, housing = HammerFactory(), HousingFactory()
    send(hammer=hammer)
    with pytest.raises(ValidationError, match="to go by itself"):
        mount_housing(housing=housing, hammer=hammer, at=timezone.now(), by=DispatcherFactory())


def test_one_that_overlaps_a_commitment_is_refused_and_says_which() -> None:
    unit = figured_unit()
    commitment = commit(unit, extraction_job(site="Coal quay", first_day=day(4), days=3))
    assert "Coal quay" in refused("leaves_on", unit=unit)
    assert send(unit, leaves_on=day(1), arrives_on=day(3)).is_open
    cancel(Transfer.objects.get())
    release_unit(commitment=commitment, reason="Put off.", by=unit.manager)
    assert send(unit).is_open


def test_one_at_a_time() -> None:
    unit = rated_unit()
    send(unit)
    words = refused("what", unit=unit, leaves_on=day(20), arrives_on=day(21))
    assert "record its arrival or cancel it first" in words


@pytest.mark.parametrize(
    ("field", "given", "words"),
    [
        ("arrives_on", {"arrives_on": 2}, "before it leaves"),
        ("arrives_on", {"arrives_on": 90}, "at the most"),
        ("leaves_on", {"leaves_on": -80, "arrives_on": -79}, "days ago"),
    ],
)
def test_days_that_cannot_be_are_refused(field: str, given: dict[str, int], words: str) -> None:
    days = {name: day(ahead) for name, ahead in given.items()}
    assert words in refused(field, unit=rated_unit(), **days)


def test_its_own_yard_is_refused() -> None:
    unit = rated_unit()
    assert "already" in refused("goal", unit=unit, goal=unit.housing.yard)


def test_a_hammer_under_a_housing_is_moved_with_it() -> None:
    unit = rated_unit()
    assert f"under {unit.housing}" in refused("what", hammer=unit.hammer)


def test_nothing_named_is_refused() -> None:
    assert "choose a unit or a hammer" in refused("what")


def test_one_too_late_for_its_job_is_refused() -> None:
    job = extraction_job(site="Coal quay", first_day=day(3))
    assert "begins on" in refused("arrives_on", unit=rated_unit(), job=job)
    transfer = send(rated_unit(), job=job, leaves_on=day(2), arrives_on=day(3))
    assert transfer.for_job.job == job


@pytest.mark.parametrize("haul_mi", [-1.0, float("nan"), 20_000.0])
def test_a_haul_out_of_bounds_is_refused(haul_mi: float) -> None:
    assert "won’t do" in refused("haul_mi", unit=rated_unit(), haul_mi=haul_mi)


def test_the_haul_is_the_distance_on_record() -> None:
    unit, goal = rated_unit(), YardFactory()
    for miles in (90.0, 120.0):
        record_yard_haul(
            submission_id=uuid.uuid4(),
            one=goal,
            other=unit.housing.yard,
            haul_mi=miles,
            by=unit.manager,
        )
    assert send(unit, goal=goal).haul_mi == 120.0


def test_a_yard_is_no_distance_from_itself() -> None:
    yard = YardFactory()
    with pytest.raises(ValidationError, match="same yard"):
        record_yard_haul(
            submission_id=uuid.uuid4(), one=yard, other=yard, haul_mi=1.0, by=DispatcherFactory()
        )


@pytest.mark.parametrize("ahead", [1, -9])
def test_an_arrival_in_the_future_or_before_it_left_is_refused(ahead: int) -> None:
    transfer = send(rated_unit(), leaves_on=day(-3), arrives_on=day(-2))
    with pytest.raises(ValidationError, match="arrived_on"):
        arrive(transfer, ahead)


def test_what_ended_is_not_ended_again() -> None:
    transfer = send(rated_unit(), leaves_on=day(0), arrives_on=day(0))
    arrive(transfer)
    with pytest.raises(ValidationError, match="ended already"):
        cancel(transfer)


def test_no_reason_is_refused() -> None:
    with pytest.raises(ValidationError, match="say why"):
        cancel(send(rated_unit()), "  ")


def test_a_second_copy_changes_nothing() -> None:
    unit, sent = rated_unit(), uuid.uuid4()
    goal = YardFactory()
    transfer = send(unit, submission_id=sent, goal=goal, leaves_on=day(0), arrives_on=day(0))
    ended = record_arrival(
        submission_id=sent, transfer=transfer, arrived_on=day(0), by=unit.manager
    )
    before = everything()
    assert (
        send(unit, submission_id=sent, goal=goal, leaves_on=day(0), arrives_on=day(0)) == transfer
    )
    again = record_arrival(
        submission_id=sent, transfer=transfer, arrived_on=day(0), by=unit.manager
    )
    assert again == ended
    assert changed(before) == set()


def test_a_form_sent_for_another_unit_is_refused() -> None:
    sent = uuid.uuid4()
    send(rated_unit(), submission_id=sent)
    with pytest.raises(ValidationError, match="already"):
        send(rated_unit(), submission_id=sent)


def test_days_on_the_way_come_from_the_rule() -> None:
    transport = transport_in_force()
    assert [transport.days(miles) for miles in (None, 10.0, 600.0)] == [1, 1, 3]
    change_transport_rules(
        submission_id=uuid.uuid4(),
        miles_a_day=400.0,
        least_days=0,
        reason="Our own loader",
        by=DispatcherFactory(),
    )
    transport = transport_in_force()
    assert [transport.days(miles) for miles in (None, 10.0, 600.0)] == [0, 1, 2]


@pytest.mark.parametrize(
    ("field", "given"),
    [
        ("miles_a_day", {"miles_a_day": 0.0}),
        ("least_days", {"least_days": 15}),
        ("reason", {"reason": " "}),
    ],
)
def test_a_rule_that_cannot_be_is_refused(field: str, given: dict[str, Any]) -> None:
    plain: dict[str, Any] = {"miles_a_day": 250.0, "least_days": 1, "reason": "why"}
    with pytest.raises(ValidationError) as refusal:
        change_transport_rules(submission_id=uuid.uuid4(), by=DispatcherFactory(), **plain | given)
    assert field in refusal.value.message_dict


def test_a_haul_nobody_entered_goes_by_way_of_a_yard_that_has_one() -> None:
    near, far, unknown = YardFactory(), YardFactory(), YardFactory()
    by = DispatcherFactory()
    record_yard_haul(submission_id=uuid.uuid4(), one=near, other=far, haul_mi=100.0, by=by)
    transport = transport_in_force()
    assert transport.haul_mi(far.pk, {near.pk: 30.0}) == 130.0
    assert transport.haul_mi(near.pk, {near.pk: 30.0}) == 30.0
    assert transport.haul_mi(unknown.pk, {near.pk: 30.0}) is None
