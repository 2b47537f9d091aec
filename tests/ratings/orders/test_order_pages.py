"""The pages of orders of pads, used as a person uses them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet import clock
from fleet.models import PadLot, PadOrder, PadReceipt, StockMove
from inspections.waiting.digest import digest_text
from inspections.waiting.providers import waiting_for_managers
from tests.builders import ordered_pads, received_pads
from tests.factories import PadLotFactory, YardFactory
from tests.site.html_form import error_at, opened, words

pytestmark = pytest.mark.django_db


def sent(client: Client, order: PadOrder, **given: Any) -> str:
    """What the page says once its first form, of pads that came, is sent."""
    url = reverse("pad-order", args=[order.pk])
    return words(client.post(url, opened(client, url) | {"receive": "yes"} | given, follow=True))


def test_an_order_is_recorded_by_form_once_however_often_it_is_sent(
    manager_client: Client,
) -> None:
    lot, yard = PadLotFactory(supplier="Nordhavn Rubber"), YardFactory(currency="USD")
    url = f"{reverse('new-pad-order')}?lot={lot.pk}&yard={yard.pk}&pads=24"
    fields = opened(manager_client, url)
    assert (fields["pads"], fields["supplier"], fields["currency"]) == ("24", lot.supplier, "USD")
    fields |= {
        "price_each": "86.50",
        "promised_on": (clock.today() + timedelta(days=9)).isoformat(),
    }
    for _ in range(2):
        shown = words(manager_client.post(url, fields, follow=True))
    assert "86.50 USD each, 2,076.00 USD in all" in shown
    assert PadOrder.objects.count() == 1


@pytest.mark.parametrize(
    ("given", "field", "said"),
    [
        ({"pads": "0"}, "pads", "“0” won’t do: give 1 or more"),
        ({"pads": "a dozen"}, "pads", "“a dozen”"),
        ({"price_each": ""}, "price_each", "This is blank: give a number such as 86.50"),
        ({"currency": "EUR"}, "currency", "“EUR” won’t do: yard"),
        ({"promised_on": "2020-01-01"}, "promised_on", "1 Jan 2020 is before they were ordered"),
        ({"promised_on": ""}, "promised_on", "This is blank"),
        ({"lot": "", "kind": ""}, "lot", "Choose a lot here"),
        ({"kind": "Soft"}, "kind", "is chosen"),
        ({"lot": "999999"}, "lot", "not one of the available choices"),
    ],
)
def test_bad_input_is_said_by_its_field_and_nothing_is_kept(
    manager_client: Client, given: dict[str, Any], field: str, said: str
) -> None:
    lot, yard = PadLotFactory(), YardFactory(currency="USD")
    url = f"{reverse('new-pad-order')}?lot={lot.pk}&yard={yard.pk}&pads=24"
    good = {"price_each": "86.50", "supplier": "N", "promised_on": clock.today().isoformat()}
    fields = opened(manager_client, url) | good | given
    assert said in error_at(manager_client.post(url, fields), field)
    assert not PadOrder.objects.exists()


def test_what_came_is_recorded_and_an_untested_lot_is_said_to_count_for_nothing(
    manager_client: Client,
) -> None:
    order = ordered_pads()
    shown = sent(manager_client, order, pads="5")
    assert "5 pads of lot" in shown
    assert "Unrated." in shown
    assert "5 of 12" in shown


def test_a_press_on_receive_a_second_time_changes_nothing(manager_client: Client) -> None:
    order = ordered_pads()
    url = reverse("pad-order", args=[order.pk])
    fields = opened(manager_client, url) | {"receive": "yes", "pads": "12"}
    for _ in range(2):
        manager_client.post(url, fields)
    assert PadReceipt.objects.count() == 1


def test_more_than_ordered_is_asked_about_on_the_page(manager_client: Client) -> None:
    order = ordered_pads()
    assert "12 of 12 are still to come, and 13 is more: say why" in sent(
        manager_client, order, pads="13"
    )
    sent(manager_client, order, pads="13", more_reason="The box holds 13.")
    assert PadReceipt.objects.get().more_reason == "The box holds 13."


def test_a_delivery_of_a_new_lot_starts_from_what_was_ordered(manager_client: Client) -> None:
    lot = PadLotFactory(hardness_shore_a=60.0)
    order = ordered_pads(what=lot)
    url = f"{reverse('new-lot')}?order={order.pk}"
    page = manager_client.get(url)
    fields = opened(manager_client, url) | {"mark": "L-NEW"}
    assert 'value="60"' in page.content.decode()
    back = manager_client.post(url, fields, follow=True)
    assert f"Order {order.pk}" in words(back)
    assert PadLot.objects.get(mark="L-NEW").supplier == order.supplier


def test_pads_received_on_the_page_of_their_lot_are_asked_whether_they_are_of_the_order(
    manager_client: Client,
) -> None:
    order = ordered_pads()
    url = reverse("lot-stock", args=[order.lot_id])
    fields = opened(manager_client, url) | {"pads": "12", "yard": order.yard_id}
    assert f"12 pads of order {order.pk}" in words(manager_client.post(url, fields))
    assert not StockMove.objects.exists()
    manager_client.post(url, fields | {"is_of_no_order": "on"})
    assert StockMove.objects.get().change == 12


def test_a_late_order_waits_and_stands_in_the_letter_until_its_pads_come() -> None:
    day = clock.today()
    order = ordered_pads(ordered_on=day - timedelta(days=9), promised_on=day - timedelta(days=1))
    letter = digest_text(waiting_for_managers())
    assert "Orders of pads that are late" in letter
    assert f"12 of 12 pads, lot {order.lot}" in letter
    received_pads(order, 12)
    assert "Orders of pads that are late" not in digest_text(waiting_for_managers())


def test_a_lot_to_be_ordered_says_what_is_on_order_already() -> None:
    order = ordered_pads(what=PadLotFactory(reorder_point=3))
    assert f"Lot {order.lot}: 0 in stock, 12 on order" in digest_text(waiting_for_managers())


def test_an_order_of_a_lot_put_out_of_use_says_so(manager_client: Client) -> None:
    lot = PadLotFactory()
    order = ordered_pads(what=lot)
    PadLot.objects.filter(pk=lot.pk).update(retired_on=clock.today())
    shown = words(manager_client.get(reverse("pad-order", args=[order.pk])))
    assert "is out of use" in shown


def test_a_reader_is_shown_no_form_and_records_nothing(auditor_client: Client) -> None:
    order = ordered_pads()
    url = reverse("pad-order", args=[order.pk])
    assert "Record what came" not in words(auditor_client.get(url))
    assert auditor_client.post(url, {"receive": "yes"}).status_code == 403


def test_orders_are_narrowed_to_those_under_way_or_late(manager_client: Client) -> None:
    today = clock.today()
    late = ordered_pads(ordered_on=today - timedelta(days=9), promised_on=today - timedelta(days=1))
    under_way, whole = ordered_pads(promised_on=today), ordered_pads(pads=4)
    received_pads(whole, pads=4)

    def shown(state: str) -> set[int]:
        response = manager_client.get(reverse("pad-orders"), {"state": state})
        return {row.record.pk for row in response.context["table"].rows}

    assert shown("late") == {late.pk}
    assert shown("open") == {late.pk, under_way.pk}
    assert shown("came") == {whole.pk}
