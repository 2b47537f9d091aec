"""What pads cost: recorded with currency and source, refused where it can't be."""

from __future__ import annotations

import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from fleet import clock
from fleet.models import PadPrice
from fleet.prices import price_of, record_price
from tests.factories import ManagerFactory, PadLotFactory, YardFactory
from tests.site.html_form import opened, words

pytestmark = pytest.mark.django_db


def price(**changes: Any) -> PadPrice:
    usual: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "amount": Decimal("86.50"),
        "valid_from": clock.today(),
        "source": "Offer 4711",
        "lead_days": 21,
    }
    given = usual | changes
    if "by" not in given:
        given["by"] = ManagerFactory()
    if "lot_id" not in given:
        given["lot_id"] = PadLotFactory().pk
    return record_price(**given)


def test_a_price_is_kept_in_the_currency_of_its_yard() -> None:
    assert price(yard=YardFactory(currency="EUR")).currency == "EUR"


def test_a_price_of_all_yards_takes_the_one_currency_they_share() -> None:
    YardFactory(currency="USD")
    YardFactory(currency="USD")
    assert price().currency == "USD"


def test_yards_of_two_currencies_share_no_price() -> None:
    YardFactory(currency="USD")
    YardFactory(currency="EUR")
    with pytest.raises(ValidationError, match="one currency"):
        price()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"amount": Decimal("-1")}, "0 or more"),
        ({"valid_from": clock.today() + timedelta(days=1)}, "still to come"),
        ({"valid_from": clock.today() - timedelta(days=4000)}, "ten years ago"),
        ({"source": "  "}, "where the price stands"),
        ({"lead_days": -1}, "0"),
        ({"lead_days": 731}, "730"),
    ],
)
def test_a_price_that_cannot_be_is_refused(changes: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        price(yard=YardFactory(currency="USD"), **changes)
    assert not PadPrice.objects.exists()


def test_a_yard_without_a_currency_is_asked_for_one() -> None:
    with pytest.raises(ValidationError, match="no currency"):
        price(yard=YardFactory(currency=""))


def test_a_second_copy_changes_nothing() -> None:
    yard, sent, lot = YardFactory(currency="USD"), uuid.uuid4(), PadLotFactory()
    first = price(yard=yard, submission_id=sent, lot_id=lot.pk)
    assert price(yard=yard, submission_id=sent, lot_id=lot.pk, amount=Decimal(1)) == first


def test_the_price_valid_from_the_latest_day_holds_and_of_one_day_the_last_recorded() -> None:
    yard, lot, today = YardFactory(currency="USD"), PadLotFactory(), clock.today()
    for days, amount in ((9, 70), (2, 80), (2, 82), (5, 75)):
        price(
            yard=yard,
            lot_id=lot.pk,
            amount=Decimal(amount),
            valid_from=today - timedelta(days=days),
        )
    key = (lot.pk, yard.pk)
    assert PadPrice.objects.in_force(today)[key].amount == 82
    assert PadPrice.objects.in_force(today - timedelta(days=4))[key].amount == 75


def test_a_yard_pays_its_own_price_before_that_of_all_and_none_in_another_currency() -> None:
    yard, other, lot = YardFactory(currency="USD"), YardFactory(currency="USD"), PadLotFactory()
    price(yard=None, lot_id=lot.pk, amount=Decimal(70))
    price(yard=yard, lot_id=lot.pk, amount=Decimal(80))
    prices = PadPrice.objects.in_force(clock.today())
    found = [price_of(prices, lot.pk, each.pk, each.currency) for each in (yard, other)]
    assert [each and each.amount for each in found] == [80, 70]
    assert price_of(prices, lot.pk, yard.pk, "EUR") is None


def test_a_price_is_recorded_on_the_page_of_its_lot(manager_client: Client) -> None:
    lot, yard = PadLotFactory(), YardFactory(currency="USD")
    url = reverse("lot-price", args=[lot.pk])
    fields = opened(manager_client, url)
    fields |= {"amount": "86.50", "yard": yard.pk, "source": "Offer 4711", "lead_days": "21"}
    response = manager_client.post(url, fields, follow=True)
    assert "86.50 USD" in words(response)
    assert "Offer 4711" in words(response)
    bad = manager_client.post(url, opened(manager_client, url) | {"amount": "", "source": "x"})
    assert "This is blank: give a number such as 86.50" in words(bad)


def test_a_yard_without_a_currency_is_given_one_and_then_a_price(manager_client: Client) -> None:
    lot, yard = PadLotFactory(), YardFactory(currency="")
    url = reverse("lot-price", args=[lot.pk])
    offered = {"amount": "86.50", "yard": yard.pk, "source": "Offer 4711", "lead_days": "21"}
    refused = manager_client.post(url, opened(manager_client, url) | offered)
    assert "has no currency yet" in words(refused)
    # The page says where: the form that its link opens asks for the currency, and takes it.
    change = reverse("change-yard", args=[yard.pk])
    assert f'href="{change}#id_currency"' in refused.content.decode()
    fields = opened(manager_client, change) | {"currency": "EUR", "reason": "Bills come in euro."}
    manager_client.post(change, fields)
    priced = manager_client.post(url, opened(manager_client, url) | offered, follow=True)
    assert "86.50 EUR" in words(priced)
    assert "give its currency" not in words(manager_client.get(url))
