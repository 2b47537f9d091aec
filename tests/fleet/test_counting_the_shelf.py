from __future__ import annotations

import uuid

import pytest

from fleet.models import StockMove
from fleet.stock import count_shelf
from tests.builders import MONDAY, receive
from tests.factories import ManagerFactory, PadLotFactory

pytestmark = pytest.mark.django_db


def test_a_shelf_count_is_held_against_the_books_as_they_are_when_it_is_recorded() -> None:
    manager, lot = ManagerFactory(), PadLotFactory()
    receive(lot, manager, 10)
    # Another move slips in after the counter's page was opened.
    receive(lot, manager, 5)
    move = count_shelf(lot_id=lot.pk, pads=9, occurred_at=MONDAY, by=manager)
    lot.refresh_from_db()
    assert move is not None
    assert move.change == -6
    assert lot.in_stock == 9


def test_a_shelf_count_that_agrees_with_the_books_records_nothing() -> None:
    manager, lot = ManagerFactory(), PadLotFactory()
    receive(lot, manager, 10)
    assert count_shelf(lot_id=lot.pk, pads=10, occurred_at=MONDAY, by=manager) is None
    assert StockMove.objects.filter(kind="counted").count() == 0


def test_a_second_copy_of_a_shelf_count_changes_nothing() -> None:
    manager, lot = ManagerFactory(), PadLotFactory()
    receive(lot, manager, 10)
    sent = uuid.uuid4()
    first = count_shelf(lot_id=lot.pk, pads=7, occurred_at=MONDAY, by=manager, submission_id=sent)
    receive(lot, manager, 4)
    again = count_shelf(lot_id=lot.pk, pads=7, occurred_at=MONDAY, by=manager, submission_id=sent)
    lot.refresh_from_db()
    assert again == first
    assert lot.in_stock == 11
