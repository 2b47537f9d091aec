from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from fleet.models import PadLot, ShelfCount, StockMove, Yard
from fleet.stock import (
    MayLieHere,
    NotEnoughInStock,
    count_shelf,
    fit_from_stock,
    move_between_yards,
    move_stock,
    on_shelf,
    take_stock,
    whereabouts,
)
from tests.builders import MONDAY, rated_unit, receive
from tests.factories import ManagerFactory, PadLotFactory, YardFactory
from tests.inspections.field.sent import signed_in

pytestmark = pytest.mark.django_db


def received(pads: int, yard: Yard | None = None) -> tuple[PadLot, User]:
    lot, manager = PadLotFactory(), ManagerFactory()
    move_stock(
        lot_id=lot.pk, kind="received", change=pads, occurred_at=MONDAY, by=manager, yard=yard
    )
    lot.refresh_from_db()
    return lot, manager


def test_pads_lie_on_the_shelf_of_the_yard_they_came_to() -> None:
    yard = YardFactory()
    lot, _ = received(12, yard)
    assert (on_shelf(lot, yard), on_shelf(lot, None), lot.in_stock) == (12, 0, 12)


def test_moving_to_another_yard_changes_no_total() -> None:
    near, far = YardFactory(), YardFactory()
    lot, manager = received(12, near)
    sent = uuid.uuid4()
    for _ in range(2):
        move_between_yards(
            lot_id=lot.pk,
            pads=5,
            origin=near,
            goal=far,
            occurred_at=MONDAY,
            by=manager,
            submission_id=sent,
        )
    lot.refresh_from_db()
    assert (on_shelf(lot, near), on_shelf(lot, far), lot.in_stock) == (7, 5, 12)


def test_no_shelf_goes_below_zero() -> None:
    near, far = YardFactory(), YardFactory()
    lot, manager = received(3, near)
    with pytest.raises(NotEnoughInStock, match="3 more lie in other yards"):
        move_stock(
            lot_id=lot.pk, kind="scrapped", change=-1, occurred_at=MONDAY, by=manager, yard=far
        )
    with pytest.raises(IntegrityError), transaction.atomic():
        ShelfCount.objects.filter(lot=lot).update(pads=-1)


def test_pads_are_fitted_from_the_yards_shelf_before_those_nobody_told_apart() -> None:
    yard = YardFactory()
    lot, manager = received(2, yard)
    receive(lot, manager, 3)
    fit_from_stock(
        lot_id=lot.pk, pads=4, yard=yard, occurred_at=MONDAY, by=manager, note="a repair"
    )
    assert (on_shelf(lot, yard), on_shelf(lot, None)) == (0, 1)


def test_pads_of_another_yard_are_not_fitted_here() -> None:
    near, far = YardFactory(), YardFactory()
    lot, manager = received(5, far)
    with pytest.raises(NotEnoughInStock, match=f"0 in stock at {near}"):
        fit_from_stock(
            lot_id=lot.pk, pads=1, yard=near, occurred_at=MONDAY, by=manager, note="a repair"
        )


def test_a_stock_take_posts_only_what_differs_and_once() -> None:
    yard = YardFactory()
    lot, manager = received(12, yard)
    other, _ = received(4, yard)
    sent = uuid.uuid4()
    at = MONDAY + timedelta(days=1)
    for expected in (1, 1):
        moves = take_stock(
            yard=yard,
            counts={lot.pk: 10, other.pk: 4},
            occurred_at=at,
            by=manager,
            submission_id=sent,
        )
        assert len(moves) == expected
    assert on_shelf(lot, yard) == 10
    assert StockMove.objects.filter(lot=lot, kind="counted").get().change == -2


def test_counting_one_shelf_leaves_the_others() -> None:
    near, far = YardFactory(), YardFactory()
    lot, manager = received(3, near)
    count_shelf(lot_id=lot.pk, pads=7, occurred_at=MONDAY, by=manager, yard=far)
    lot.refresh_from_db()
    assert (on_shelf(lot, near), on_shelf(lot, far), lot.in_stock) == (3, 7, 10)


def test_where_every_pad_of_a_lot_is_takes_one_query(
    django_assert_num_queries: DjangoAssertNumQueries,
) -> None:
    unit = rated_unit(unsound={"A1": "cracked"})
    move_stock(
        lot_id=unit.lot.pk,
        kind="received",
        change=6,
        occurred_at=MONDAY,
        by=unit.manager,
        yard=unit.housing.yard,
    )
    with django_assert_num_queries(1):
        rows = whereabouts(unit.lot)
    assert [(row["place"], row["state"], row["pads"]) for row in rows] == [
        (unit.housing.yard.name, "", 6),
        (unit.housing.mark, "cracked", 1),
        (unit.housing.mark, "sound", 7),
    ]
    assert rows[1]["positions"] == "A1"
    assert rows[2]["positions"] == "A2 to A4, B1 to B4"


def test_the_stock_take_page_posts_differences() -> None:
    yard = YardFactory()
    lot, manager = received(12, yard)
    form = {
        "submission_id": str(uuid.uuid4()),
        "occurred_at": "2026-03-05T09:00",
        f"lot_{lot.pk}": "11",
    }
    answer = signed_in(manager).post(reverse("stock-take") + f"?yard={yard.pk}", form, follow=True)
    assert f"Differences posted: {lot.mark} −1." in answer.content.decode()
    assert on_shelf(lot, yard) == 11


@pytest.mark.parametrize(("loose", "left"), [("here", (30, 0)), ("elsewhere", (30, 38))])
def test_a_stock_take_asks_where_pads_of_no_yard_lie(loose: str, left: tuple[int, int]) -> None:
    yard, lot, manager = YardFactory(), PadLotFactory(), ManagerFactory()
    receive(lot, manager, 38)
    form = {
        "submission_id": str(uuid.uuid4()),
        "occurred_at": "2026-03-05T09:00",
        f"lot_{lot.pk}": "30",
    }
    url, client = reverse("stock-take") + f"?yard={yard.pk}", signed_in(manager)
    assert client.post(url, form).context["form"].errors["loose"]
    client.post(url, form | {"loose": loose})
    client.post(url, form | {"loose": loose})
    lot.refresh_from_db()
    assert (on_shelf(lot, yard), on_shelf(lot, None)) == left
    assert lot.in_stock == sum(left)


def test_moving_pads_that_are_not_there_is_refused_at_the_field() -> None:
    near, far = YardFactory(), YardFactory()
    lot, manager = received(2, near)
    form = {
        "submission_id": str(uuid.uuid4()),
        "occurred_at": "2026-03-05T09:00",
        "origin": near.pk,
        "goal": far.pk,
        "pads": "3",
    }
    page = signed_in(manager).post(reverse("move-yards", args=[lot.pk]), form)
    assert "has 2 in stock" in page.content.decode()
    assert on_shelf(lot, near) == 2


def test_a_lot_at_its_reorder_point_is_flagged() -> None:
    yard = YardFactory()
    lot, manager = received(4, yard)
    type(lot).objects.filter(pk=lot.pk).update(reorder_point=4)
    client = signed_in(manager)
    assert "Order more." in client.get(reverse("lot", args=[lot.pk])).content.decode()
    assert "order more" in client.get(reverse("lots")).content.decode()


def test_a_manager_changes_when_to_order_more_and_the_stock_stays() -> None:
    lot, manager = received(4, YardFactory())
    client = signed_in(manager)
    form = {"reorder_point": "5", "use_by": "2030-05-01"}
    client.post(reverse("lot-keeping", args=[lot.pk]), form)
    lot.refresh_from_db()
    assert (lot.reorder_point, str(lot.use_by), lot.in_stock) == (5, "2030-05-01", 4)


def test_a_reorder_point_below_zero_is_refused_at_the_field() -> None:
    lot, manager = received(4, YardFactory())
    page = signed_in(manager).post(
        reverse("lot-keeping", args=[lot.pk]), {"reorder_point": "-1", "use_by": "1900-01-01"}
    )
    assert "“-1” won’t do" in page.context["form"].errors["reorder_point"][0]
    assert "too long ago" in page.context["form"].errors["use_by"][0]


def test_a_yard_counted_with_pads_in_no_yard_on_the_books_is_asked_about_them() -> None:
    yard, lot, manager = YardFactory(), PadLotFactory(), ManagerFactory()
    receive(lot, manager, 29)

    def counted(pads: int, has_loose: bool | None = None) -> tuple[int, int]:
        common: dict[str, Any] = {"occurred_at": MONDAY, "by": manager, "yard": yard}
        count_shelf(lot_id=lot.pk, pads=pads, has_loose=has_loose, **common)
        return on_shelf(lot, yard), on_shelf(lot, None)

    with pytest.raises(MayLieHere, match="29 are booked in no yard"):
        counted(29)
    assert on_shelf(lot, yard) == 0
    assert counted(12, has_loose=False) == (12, 29)
    assert counted(10) == (10, 29), "fewer than booked: none of the others can be among them"
    assert counted(39, has_loose=True) == (39, 0)


def test_pads_of_no_yard_counted_by_themselves_at_the_same_time_are_others() -> None:
    yard, lot, manager = YardFactory(), PadLotFactory(), ManagerFactory()
    for shelf, pads in ((None, 29), (yard, 12)):
        count_shelf(lot_id=lot.pk, pads=pads, occurred_at=MONDAY, by=manager, yard=shelf)
    assert (on_shelf(lot, yard), on_shelf(lot, None)) == (12, 29)


@pytest.mark.parametrize(("loose", "left"), [("here", (29, 0)), ("elsewhere", (29, 29))])
def test_a_count_on_the_page_of_a_lot_asks_where_pads_of_no_yard_lie(
    loose: str, left: tuple[int, int]
) -> None:
    yard, lot, manager = YardFactory(), PadLotFactory(), ManagerFactory()
    receive(lot, manager, 29)
    form = {
        "submission_id": str(uuid.uuid4()),
        "kind": "counted",
        "pads": "29",
        "yard": yard.pk,
        "occurred_at": "2026-03-05T09:00",
    }
    url, client = reverse("lot-stock", args=[lot.pk]), signed_in(manager)
    assert client.post(url, form).context["form"].errors["loose"]
    for _ in range(2):
        client.post(url, form | {"loose": loose})
    assert (on_shelf(lot, yard), on_shelf(lot, None)) == left
