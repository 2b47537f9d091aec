"""The good path of the other forms: filled, sent, on record; sent twice, recorded once."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import PadLot, StockMove
from inspections.models import PadReplacement
from ratings.models import Listing, RatingPolicy
from tests.all_tables import changed, everything
from tests.builders import list_hammer, rated_unit
from tests.factories import (
    HammerFactory,
    PadLotFactory,
)
from tests.site.form_sending import head, page, sent, sent_twice
from tests.site.html_form import all_sound, fields_of, opened, words

pytestmark = pytest.mark.django_db


def test_a_replacement_moves_pads_from_the_shelf(manager_client: Client) -> None:
    unit = rated_unit(unsound={"A1": "cracked"}, in_stock=3)
    url = page("replace-pads", unit.housing.pk)
    assert f"3 of lot {unit.lot.mark}" in words(manager_client.get(url))
    fields = opened(manager_client, url) | {"lot-A1": unit.lot.pk}
    response = sent(manager_client, url, fields)
    assert "Signed. The unit is now: meets listing" in words(response)
    unit.lot.refresh_from_db()
    assert unit.lot.in_stock == 2
    assert head(unit).cause == "pad replacement"


def test_a_replacement_sent_twice_takes_one_pad(manager_client: Client) -> None:
    unit = rated_unit(unsound={"A1": "cracked"}, in_stock=3)
    url = page("replace-pads", unit.housing.pk)
    sent_twice(manager_client, url, opened(manager_client, url) | {"lot-A1": unit.lot.pk})
    assert PadReplacement.objects.count() == 1


def test_a_replacement_nobody_can_fill_keeps_what_was_chosen(manager_client: Client) -> None:
    unit = rated_unit(unsound={"A1": "cracked", "A2": "cracked"}, in_stock=1)
    url = page("replace-pads", unit.housing.pk)
    fields = opened(manager_client, url)
    fields |= {"lot-A1": str(unit.lot.pk), "lot-A2": str(unit.lot.pk), "note": "two"}
    before = everything()
    response = manager_client.post(url, fields)
    assert "has 1 in stock and 2 are asked for" in words(response)
    again = fields_of(response)
    assert (again["lot-A1"], again["lot-A2"], again["note"]) == (
        str(unit.lot.pk),
        str(unit.lot.pk),
        "two",
    )
    assert changed(before) == set()


def test_stock_received_scrapped_and_counted_is_on_record(manager_client: Client) -> None:
    lot = PadLotFactory()
    url = page("lot-stock", lot.pk)
    for kind, pads, left in (("received", 24, 24), ("scrapped", 4, 20), ("counted", 18, 18)):
        fields = opened(manager_client, url) | {"kind": kind, "pads": str(pads)}
        response = sent(manager_client, url, fields)
        assert f"now has {left} in stock" in words(response)
    assert list(lot.moves.order_by("pk").values_list("change", flat=True)) == [24, -4, -2]


def test_a_stock_move_sent_twice_is_recorded_once(manager_client: Client) -> None:
    lot = PadLotFactory()
    url = page("lot-stock", lot.pk)
    sent_twice(manager_client, url, opened(manager_client, url) | {"kind": "received", "pads": "9"})
    assert StockMove.objects.count() == 1


def test_a_shelf_count_sent_twice_is_recorded_once_and_not_called_a_failure(
    manager_client: Client,
) -> None:
    lot = PadLotFactory()
    url = page("lot-stock", lot.pk)
    fields = opened(manager_client, url) | {"kind": "counted", "pads": "9"}
    sent_twice(manager_client, url, fields)
    assert "Nothing was saved" not in words(manager_client.post(url, fields, follow=True))


def test_a_new_lot_is_unrated_until_it_is_tested(manager_client: Client) -> None:
    url = reverse("new-lot")
    fields = opened(manager_client, url)
    fields |= {"mark": "L-9", "supplier": "Someone", "hardness_shore_a": "60.5"}
    text = words(sent(manager_client, url, fields))
    assert "unrated: adds nothing to any line pull" in text
    assert PadLot.objects.get(mark="L-9").hardness_shore_a == 60.5


def test_a_new_lot_sent_twice_is_entered_once(manager_client: Client) -> None:
    url = reverse("new-lot")
    sent_twice(manager_client, url, opened(manager_client, url) | {"mark": "L-9"})
    assert PadLot.objects.count() == 1


def test_a_listing_is_recorded_and_the_unit_judged_by_it(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("new-listing", unit.hammer.pk)
    fields = opened(manager_client, url)
    fields |= {"listed_lbf": "90000", "source": "Manual, 3rd edition", "dated": "2019-04-01"}
    text = words(sent(manager_client, url, fields))
    assert "below listing" in text
    assert "Manual, 3rd edition" in text
    assert head(unit).listed_lbf == 90_000


def test_a_listing_sent_twice_is_recorded_once(manager_client: Client) -> None:
    hammer = HammerFactory()
    url = page("new-listing", hammer.pk)
    fields = opened(manager_client, url)
    sent_twice(
        manager_client,
        url,
        fields | {"listed_lbf": "90000", "source": "Plate", "dated": "2019-04-01"},
    )
    assert Listing.objects.count() == 1


def test_the_listings_page_names_each_hammer_and_what_it_is_listed_at(
    auditor_client: Client,
) -> None:
    unit, bare = rated_unit(), HammerFactory(mark="BARE")
    text = words(auditor_client.get(reverse("listings")))
    assert f"{unit.hammer.mark} 20.0 tons (40,000 lbf) Data plate" in text
    assert f"{bare.mark} none recorded" in text


def test_a_policy_is_put_in_force_and_every_unit_re_rated(manager_client: Client) -> None:
    unit = rated_unit()
    before = head(unit).working_capacity_lbf
    url = reverse("policy")
    fields = opened(manager_client, url)
    assert (fields["confidence_pct"], fields["tape_resolution_in"]) == ("95", "0.125")
    fields |= {"confidence_pct": "99", "reason": "Insurer asks for it"}
    text = words(sent(manager_client, url, fields))
    assert "99 %, one-sided" in text
    assert "Insurer asks for it" in text
    assert RatingPolicy.objects.get().confidence == 0.99
    assert head(unit).cause == "policy"
    after = head(unit).working_capacity_lbf
    assert before is not None
    assert after is not None
    assert after < before


def test_a_policy_sent_twice_is_recorded_once_and_not_called_a_failure(
    manager_client: Client,
) -> None:
    url = reverse("policy")
    fields = opened(manager_client, url) | {"pad_spread_pct": "7", "reason": "wider"}
    sent_twice(manager_client, url, fields)
    assert "Nothing was saved" not in words(manager_client.post(url, fields, follow=True))


def test_a_policy_that_changes_nothing_is_refused(manager_client: Client) -> None:
    url = reverse("policy")
    response = manager_client.post(url, opened(manager_client, url) | {"reason": "why not"})
    assert "Nothing differs from the policy now in force" in words(response)
    assert not RatingPolicy.objects.exists()


def test_a_housing_is_moved_to_another_hammer(manager_client: Client) -> None:
    unit, other = rated_unit(), HammerFactory()
    list_hammer(other, unit.manager, 90_000)
    url = page("mounting", unit.housing.pk)
    assert f"On hammer {unit.hammer.mark}" in words(manager_client.get(url))
    text = words(sent(manager_client, url, opened(manager_client, url) | {"hammer": other.pk}))
    assert f"on hammer {other.mark}" in text
    assert "below listing" in text
    assert head(unit).cause == "mounting"


def test_a_housing_is_taken_off_its_hammer(manager_client: Client) -> None:
    unit = rated_unit()
    url = page("mounting", unit.housing.pk)
    text = words(sent(manager_client, url, opened(manager_client, url) | {"hammer": ""}))
    assert "off the hammer" in text
    assert head(unit).standing == "unrated"


def test_a_move_sent_twice_is_recorded_once(manager_client: Client) -> None:
    unit, other = rated_unit(), HammerFactory()
    url = page("mounting", unit.housing.pk)
    sent_twice(manager_client, url, opened(manager_client, url) | {"hammer": other.pk})
    assert unit.housing.mountings.count() == 2


def test_the_count_s_preview_shows_what_signing_would_give(manager_client: Client) -> None:
    unit = rated_unit()
    fields = all_sound(manager_client, page("count-pads", unit.housing.pk))
    fields |= {"condition-A1": "cracked", "travel_in": "5", "show": "1"}
    text = words(manager_client.post(page("count-pads", unit.housing.pk), fields))
    assert "below listing" in text
    assert "(35,000 lbf)" in text
    assert "7 of 8 pads sound" in text


def test_the_replacement_s_preview_shows_what_signing_would_give(manager_client: Client) -> None:
    unit = rated_unit(unsound={"A1": "cracked", "A2": "cracked"}, in_stock=2)
    url = page("replace-preview", unit.housing.pk)
    text = words(manager_client.post(url, {"lot-A1": unit.lot.pk}))
    assert "(42,000 lbf)" in text
    assert "7 of 8 pads sound" in text


def test_a_form_opens_at_the_present_moment(manager_client: Client) -> None:
    unit = rated_unit()
    fields = all_sound(manager_client, page("count-pads", unit.housing.pk))
    assert fields["seen_at"][:13] == f"{timezone.localtime():%Y-%m-%dT%H}"
