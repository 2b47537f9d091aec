"""A lot of which no pad is left is put out of use, and nothing new rests on it."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import PadLot, SetUpChange, StockMove
from fleet.setup.recording import bring_back, retire_thing
from fleet.stock import move_stock
from inspections.waiting.providers import reorders
from inspections.waiting.sections import Today
from ratings.lots.out_of_use import LOT, in_the_way_of_lot
from ratings.surveillance.draws import draws_due
from tests.builders import Unit, bench_test, count, days_ago, rated_unit
from tests.factories import ManagerFactory, PadLotFactory
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def retire(lot: PadLot, by: Any, days: int = 0) -> PadLot:
    retired: PadLot = retire_thing(
        lot,
        submission_id=uuid.uuid4(),
        on=timezone.localdate() - timedelta(days=days),
        reason="Used up.",
        by=by,
        in_the_way=LOT.in_the_way,
    )
    return retired


@pytest.fixture
def unit() -> Unit:
    return rated_unit(in_stock=2)


def test_a_lot_with_pads_left_stays_in_use_and_is_told_where_they_are(unit: Unit) -> None:
    told = " ".join(in_the_way_of_lot(unit.lot))
    assert "2 pads lie on the shelf of" in told
    assert f"in housing {unit.housing}" in told
    assert "A1" in told
    with pytest.raises(ValidationError, match="lie on the shelf"):
        retire(unit.lot, unit.manager)
    unit.lot.refresh_from_db()
    assert unit.lot.retired_on is None


def test_a_lot_used_up_goes_out_of_use_by_its_page_and_comes_back(
    manager_client: Client, unit: Unit
) -> None:
    lot = PadLotFactory(reorder_point=4)
    form = {"submission_id": str(uuid.uuid4()), "on": "2026-01-05", "reason": "Thrown away."}
    answer = manager_client.post(reverse("retire-lot", args=[lot.pk]), form)
    assert answer["Location"] == reverse("lot", args=[lot.pk])
    page = words(manager_client.get(reverse("lot", args=[lot.pk])))
    assert "Out of use since 5 Jan 2026: Thrown away." in page
    assert "Order more." not in page
    form = {"submission_id": str(uuid.uuid4()), "reason": "One was found."}
    manager_client.post(reverse("bring-back-lot", args=[lot.pk]), form)
    lot.refresh_from_db()
    assert lot.retired_on is None
    assert SetUpChange.objects.of(lot).count() == 2


def test_a_lot_out_of_use_takes_no_pads_no_count_and_no_test(unit: Unit) -> None:
    lot = retire(PadLotFactory(), unit.manager, days=3)
    with pytest.raises(ValidationError, match="is out of use since"):
        move_stock(
            lot_id=lot.pk,
            kind=StockMove.Kind.RECEIVED,
            change=4,
            occurred_at=timezone.now(),
            by=unit.manager,
        )
    with pytest.raises(ValidationError, match="at A1 is out of use since"):
        count(unit.housing, unit.manager, lot, at=days_ago(1))
    with pytest.raises(ValidationError, match="is out of use since"):
        bench_test(lot, unit.manager, at=days_ago(1))


def test_pads_recorded_late_of_a_lot_out_of_use_are_told_on_its_page(
    manager_client: Client, unit: Unit
) -> None:
    lot = retire(PadLotFactory(), unit.manager, days=3)
    page = reverse("lot", args=[lot.pk])
    assert "Not used up" not in words(manager_client.get(page))
    count(unit.housing, unit.manager, lot, at=days_ago(6))
    assert "Not used up" in words(manager_client.get(page))


def test_a_lot_out_of_use_is_offered_nowhere_and_asks_for_nothing(
    manager_client: Client, unit: Unit
) -> None:
    lot = retire(PadLotFactory(mark="GONE-1", reorder_point=4), unit.manager)
    for page in (
        reverse("lots"),
        reverse("labels"),
        reverse("stock-take"),
        reverse("count-pads", args=[unit.housing.pk]),
        reverse("replace-pads", args=[unit.housing.pk]),
    ):
        assert "GONE-1" not in words(manager_client.get(page)), page
    assert "GONE-1" in words(manager_client.get(reverse("lots") + "?state=gone"))
    assert "GONE-1" in words(manager_client.get(reverse("lots") + "?search=gone"))
    offered = manager_client.get(reverse("field-pack")).json()["lots"]
    assert lot.pk not in {each["id"] for each in offered}
    assert lot not in [each.lot for each in draws_due()]
    assert not list(reorders(Today()).records)
    bring_back(lot, submission_id=uuid.uuid4(), reason="Found.", by=ManagerFactory())
    assert lot in [each.lot for each in draws_due()]
    assert list(reorders(Today()).records) == [lot]
