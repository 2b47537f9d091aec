"""Pads ordered, promised anew, received in parts, taken back and cancelled."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from fleet import clock
from fleet.models import PadLot, PadOrder, ShelfCount, StockMove
from fleet.pad_orders import (
    KindOfPad,
    cancel_order,
    promise_anew,
    receive_pads,
    receive_without_order,
    take_receipt_back,
)
from fleet.stock import NotEnoughInStock, move_stock
from tests.all_tables import changed, everything
from tests.builders import ordered_pads, received_pads
from tests.factories import ManagerFactory, PadLotFactory, YardFactory

pytestmark = pytest.mark.django_db


def now_of(order: PadOrder) -> PadOrder:
    return PadOrder.objects.with_state().get(pk=order.pk)


def refused(act: Callable[[], Any]) -> dict[str, list[str]]:
    """The words of a refusal by field; nothing is kept."""
    before = everything()
    with pytest.raises(ValidationError) as refusal, transaction.atomic():
        act()
    assert changed(before) == set()
    found: dict[str, list[str]] = refusal.value.message_dict
    return found


def test_pads_received_in_parts_lie_on_the_shelf_of_the_yard_that_ordered() -> None:
    order = ordered_pads()
    received_pads(order, 5)
    assert (now_of(order).received, now_of(order).left) == (5, 7)
    received_pads(order, 7)
    assert now_of(order).left == 0
    assert ShelfCount.objects.get(lot=order.lot, yard=order.yard).pads == 12
    assert not PadOrder.objects.open().exists()


def test_a_second_copy_of_anything_changes_nothing() -> None:
    order, key = ordered_pads(), uuid.uuid4()
    same = {"lot": order.lot, "pads": 4, "received_at": clock.now(), "by": order.recorded_by}
    first = receive_pads(submission_id=key, order=order, **same)  # type: ignore[arg-type]
    assert receive_pads(submission_id=key, order=order, **same) == first  # type: ignore[arg-type]
    assert ordered_pads(submission_id=order.submission_id, pads=99).pk == order.pk
    assert StockMove.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "field", "said"),
    [
        ({"pads": 0}, "pads", "1 or more"),
        ({"pads": 10_001}, "pads", "10,000"),
        ({"price_each": None}, "price_each", "blank"),
        ({"price_each": Decimal(-1)}, "price_each", "0 or more"),
        ({"currency": "EUR"}, "currency", "pays in USD"),
        ({"supplier": " "}, "supplier", "blank"),
        ({"ordered_by": ""}, "ordered_by", "blank"),
        ({"ordered_on": clock.today() + timedelta(days=2)}, "ordered_on", "still to come"),
        ({"ordered_on": clock.today() - timedelta(days=800)}, "ordered_on", "two years"),
        ({"promised_on": clock.today() - timedelta(days=1)}, "promised_on", "before"),
        ({"promised_on": clock.today() + timedelta(days=800)}, "promised_on", "two years"),
        ({"what": KindOfPad(" ")}, "kind", "blank"),
        ({"what": KindOfPad("Soft", hardness_shore_a=300.0)}, "hardness_shore_a", "100"),
    ],
)
def test_an_order_that_cannot_be_is_refused_by_its_field(
    changes: dict[str, Any], field: str, said: str
) -> None:
    yard, lot, by = YardFactory(currency="USD"), PadLotFactory(), ManagerFactory()
    given = {"yard": yard, "what": lot, "by": by} | changes
    words = refused(lambda: ordered_pads(**given))
    assert list(words) == [field]
    assert said in words[field][0]


def test_a_yard_without_a_currency_or_out_of_use_orders_nothing() -> None:
    lot, by = PadLotFactory(), ManagerFactory()
    for yard in (YardFactory(), YardFactory(currency="USD", retired_on=clock.today())):
        assert list(refused(lambda y=yard: ordered_pads(yard=y, what=lot, by=by))) == ["yard"]  # type: ignore[misc]


def test_no_pads_of_a_lot_out_of_use_are_ordered_or_received() -> None:
    lot = PadLotFactory()
    order = ordered_pads(what=lot)
    PadLot.objects.filter(pk=lot.pk).update(retired_on=clock.today())
    order.refresh_from_db()
    other, by = YardFactory(currency="USD"), ManagerFactory()
    assert list(refused(lambda: ordered_pads(yard=other, what=lot, by=by))) == ["lot"]
    assert list(refused(lambda: received_pads(order))) == ["lot"]
    # What comes is a lot of its own, unrated until it is tested.
    received_pads(order, 12, lot=PadLotFactory())
    assert now_of(order).left == 0


def test_a_second_order_of_a_lot_under_way_is_asked_about() -> None:
    order = ordered_pads()
    again: dict[str, Any] = {"yard": order.yard, "what": order.lot, "by": order.recorded_by}
    assert list(refused(lambda: ordered_pads(**again))) == ["is_more"]
    assert ordered_pads(**again, is_more=True).pk != order.pk


def test_more_than_ordered_is_asked_about() -> None:
    order = ordered_pads()
    received_pads(order, 10)
    words = refused(lambda: received_pads(order, 3))
    assert "2 of 12 are still to come, and 3 is more" in words["more_reason"][0]
    received_pads(order, 3, more_reason="The box holds 13.")
    assert now_of(order).received == 13


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"pads": 0}, "pads"),
        ({"received_at": timezone.now() - timedelta(days=2)}, "received_at"),
        ({"received_at": timezone.now() + timedelta(days=2)}, "received_at"),
    ],
)
def test_a_receipt_that_cannot_be_is_refused_by_its_field(
    changes: dict[str, Any], field: str
) -> None:
    order = ordered_pads()
    assert list(refused(lambda: received_pads(order, **changes))) == [field]


def test_the_same_delivery_recorded_by_two_people_is_asked_about() -> None:
    order = ordered_pads()
    received_pads(order, 4)
    assert "is_new_delivery" in refused(lambda: received_pads(order, 4))
    received_pads(order, 4, is_new_delivery=True)
    assert now_of(order).received == 8


@pytest.mark.parametrize("kind", [StockMove.Kind.RECEIVED, StockMove.Kind.COUNTED])
def test_pads_put_on_the_shelf_by_hand_before_are_asked_about(kind: str) -> None:
    order = ordered_pads()
    move_stock(
        lot_id=order.lot_id or 0,
        kind=kind,
        change=12,
        occurred_at=clock.now(),
        by=order.recorded_by,
        yard=order.yard,
    )
    assert "12 pads" in refused(lambda: received_pads(order, 12))["is_new_delivery"][0]


def test_pads_that_come_by_no_order_are_asked_about_while_one_is_under_way() -> None:
    order = ordered_pads()
    assert order.lot is not None
    lot, yard = order.lot, order.yard
    assert "12 pads of order" in refused(lambda: came_loose(order))["is_of_no_order"][0]
    # On the shelf of no yard they would count as well.
    assert f"come to {yard}" in refused(lambda: came_loose(order, yard=None))["is_of_no_order"][0]
    came_loose(order, is_of_no_order=True)
    came_loose(order, lot_id=PadLotFactory().pk, yard=None)
    came_loose(order, occurred_at=clock.now() - timedelta(days=400))
    received_pads(order, 12, lot=lot, is_new_delivery=True)
    came_loose(order)


def came_loose(order: PadOrder, **changes: Any) -> StockMove:
    """Put pads of an order's lot on the shelf of its yard as if they were of none."""
    given: dict[str, Any] = {
        "lot_id": order.lot_id,
        "pads": 12,
        "yard": order.yard,
        "occurred_at": clock.now(),
        "by": order.recorded_by,
        "submission_id": uuid.uuid4(),
    }
    return receive_without_order(**(given | changes))


def test_a_receipt_taken_back_leaves_the_shelf_and_the_order_waits_again() -> None:
    order = ordered_pads()
    came = received_pads(order, 12)
    key = uuid.uuid4()
    for _ in range(2):
        take_receipt_back(
            submission_id=key, receipt=came, reason="Of another yard.", by=order.recorded_by
        )
    assert now_of(order).left == 12
    assert ShelfCount.objects.get(lot=order.lot, yard=order.yard).pads == 0


def test_pads_that_left_the_shelf_since_cannot_be_taken_back() -> None:
    order = ordered_pads()
    came = received_pads(order, 4)
    move_stock(
        lot_id=order.lot_id or 0,
        kind=StockMove.Kind.SCRAPPED,
        change=-1,
        occurred_at=clock.now(),
        by=order.recorded_by,
        yard=order.yard,
    )
    with pytest.raises(NotEnoughInStock), transaction.atomic():
        take_receipt_back(
            submission_id=uuid.uuid4(), receipt=came, reason="Wrong.", by=order.recorded_by
        )
    assert now_of(order).received == 4


def test_the_day_promised_last_holds() -> None:
    order, today = ordered_pads(), clock.today()
    for days in (40, 30):
        promise_anew(
            submission_id=uuid.uuid4(),
            order=order,
            promised_on=today + timedelta(days=days),
            words="The press is down.",
            by=order.recorded_by,
        )
    assert now_of(order).due_on == today + timedelta(days=30)
    assert not PadOrder.objects.late(today + timedelta(days=30)).exists()
    assert PadOrder.objects.late(today + timedelta(days=31)).exists()


def test_what_is_cancelled_comes_no_more_and_what_came_stays() -> None:
    order = ordered_pads()
    received_pads(order, 4)
    cancel_order(submission_id=uuid.uuid4(), order=order, reason="Sold out.", by=order.recorded_by)
    assert (now_of(order).left, now_of(order).received) == (0, 4)
    for late in (
        lambda: received_pads(order, 8),
        lambda: promise_anew(
            submission_id=uuid.uuid4(),
            order=order,
            promised_on=clock.today(),
            words="Now.",
            by=order.recorded_by,
        ),
    ):
        with pytest.raises(ValidationError, match=r"was cancelled on .* Sold out"):
            late()


def test_an_order_that_came_whole_is_not_cancelled() -> None:
    order = ordered_pads()
    received_pads(order, 12)
    with pytest.raises(ValidationError, match="nothing is left"):
        cancel_order(submission_id=uuid.uuid4(), order=order, reason="Late.", by=order.recorded_by)


@pytest.mark.parametrize(
    "changes",
    [
        {"pads": 0},
        {"price_each": Decimal(-1)},
        {"currency": ""},
        {"kind": "Also a kind"},
        {"lot": None},
        {"promised_on": clock.today() - timedelta(days=900)},
        {"supplier": ""},
    ],
)
def test_the_database_itself_refuses_an_order_that_cannot_be(changes: dict[str, Any]) -> None:
    order = ordered_pads()
    order.pk, order.submission_id = None, uuid.uuid4()
    for name, value in changes.items():
        setattr(order, name, value)
    with pytest.raises(IntegrityError), transaction.atomic():
        order.save(force_insert=True)
