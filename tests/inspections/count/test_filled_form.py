"""The form of a replacement filled by a link: by a set, or position by position."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from inspections.count.sets import PadSet, filled_form
from tests.all_tables import changed, everything
from tests.builders import rated_unit
from tests.site.html_form import fields_of, words

pytestmark = pytest.mark.django_db


def chosen(client: Client, url: str) -> dict[str, str]:
    """The positions that a page has a lot chosen for."""
    fields = fields_of(client.get(url))
    return {
        name.removeprefix("lot-"): str(value)
        for name, value in fields.items()
        if name.startswith("lot-") and value
    }


@pytest.mark.parametrize(
    ("of", "places"),
    [
        (PadSet.UNSOUND, {"A1", "B3"}),
        (PadSet.SIDE_B, {"B1", "B2", "B3", "B4"}),
        (PadSet.WHOLE, {f"{side}{number}" for side in "AB" for number in range(1, 5)}),
    ],
)
def test_a_set_is_filled_from_one_lot(manager_client: Client, of: PadSet, places: set[str]) -> None:
    unit = rated_unit(unsound={"A1": "cracked", "B3": "missing"}, in_stock=8)
    url = f"{reverse('replace-pads', args=[unit.housing.pk])}?set={of.value}&lot={unit.lot.pk}"
    before = everything()
    assert chosen(manager_client, url) == dict.fromkeys(places, str(unit.lot.pk))
    assert changed(before) == set()


def test_a_plan_fills_the_positions_it_names(manager_client: Client) -> None:
    unit = rated_unit(unsound={"A1": "cracked"}, in_stock=8)
    url = filled_form(unit.housing.pk, [("A", 1, unit.lot.pk), ("B", 2, unit.lot.pk)])
    assert chosen(manager_client, url) == dict.fromkeys(["A1", "B2"], str(unit.lot.pk))


@pytest.mark.parametrize(
    ("query", "trouble"),
    [
        ("fit=A9:{lot}", "Position A9 is not on housing"),
        ("fit=A1:999999", "is no lot on record"),
        ("fit=A1", "is no lot on record"),
        ("set=corner&lot={lot}", "No set is filled in"),
        ("set=all", "No set is filled in"),
        ("set=all&lot={lot}", "8 pads asked for, 3 on the shelf"),
    ],
)
def test_a_link_that_asks_for_what_cannot_be_says_so(
    manager_client: Client, query: str, trouble: str
) -> None:
    unit = rated_unit(unsound={"A1": "cracked"}, in_stock=3)
    url = reverse("replace-pads", args=[unit.housing.pk])
    response = manager_client.get(f"{url}?{query.format(lot=unit.lot.pk)}")
    assert trouble in words(response)
