"""The units on a phone are kept between one request and the next, and are never those of before."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet import unchanged
from fleet.journal.scope import journaled_models
from fleet.models import Hammer
from inspections.field import pack
from ratings.models import LotRating
from tests.builders import Unit, rated_unit
from tests.inspections.field.sent import payload, send, signed_in
from tests.ratings.rerating.made import made_rerating

# Within a transaction nothing is kept.
pytestmark = pytest.mark.django_db(transaction=True)

# Each changes only in the transaction of a row that is journaled: a count or a replacement of
# pads, an entry of the ledger.
CHANGED_WITH_ANOTHER = {"fleet_padposition", "ratings_currentrating"}


def taken(client: Client, unit: Unit) -> dict[str, Any]:
    units = client.get(reverse("field-pack")).json()["units"]
    [found] = [each for each in units if each["id"] == unit.housing.pk]
    return dict(found)


def test_what_is_kept_is_what_would_be_made() -> None:
    unit = rated_unit()
    signed_in(unit.manager).get(reverse("field-pack"))
    kept = json.loads(pack.pack_json(unit.manager, "us", {"csrf": "of today"}))
    unchanged.forget()
    made = json.loads(pack.pack_json(unit.manager, "us", {}))
    assert (kept.pop("csrf"), kept.pop("made_at") >= made.pop("made_at")) == ("of today", False)
    assert kept == made


def test_units_are_read_once_for_all_phones_while_nothing_is_recorded(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unit, other = rated_unit(), rated_unit()
    phones = signed_in(unit.manager), signed_in(other.manager)
    first = taken(phones[0], unit)
    monkeypatch.setattr(pack, "_units", lambda *_: pytest.fail("they are read again"))
    assert [taken(phone, unit) for phone in (*phones, *phones)] == [first] * 4


def test_a_unit_being_rated_again_is_so_on_the_next_phone_and_no_other_is() -> None:
    unit, _other = rated_unit(), rated_unit()
    client = signed_in(unit.manager)
    assert client.get(reverse("field-pack")).json()["rated_again"] == {}
    going = made_rerating(LotRating.objects.in_force().get(lot=unit.lot), unit.manager)
    told = client.get(reverse("field-pack")).json()["rated_again"]
    assert told == {str(unit.housing.pk): going.asked_at.isoformat()}


def test_an_inspection_just_signed_is_on_the_next_phone() -> None:
    unit = rated_unit()
    client = signed_in(unit.manager)
    assert taken(client, unit)["travel_in"] == 6.0
    assert send(client, payload(unit, travel_in=5.0)).status_code == 201
    assert taken(client, unit)["travel_in"] == 5.0


def test_a_row_changed_by_whatever_writes_through_django_is_on_the_next_phone() -> None:
    unit = rated_unit()
    client = signed_in(unit.manager)
    before = taken(client, unit)["hammer"]
    Hammer.objects.filter(mark=before).update(mark="H-NEW")
    assert taken(client, unit)["hammer"] == "H-NEW"


def test_each_reads_figures_in_their_own_units() -> None:
    unit = rated_unit()
    us, si = (
        json.loads(pack.pack_json(unit.manager, system, {}))["units"][0]["reading"]["figures"]
        for system in ("us", "si")
    )
    assert us != si


def test_every_table_that_units_are_read_from_tells_the_journal_of_its_rows() -> None:
    unit = rated_unit()
    journaled = {model._meta.db_table for model in journaled_models()}
    with CaptureQueriesContext(connection) as found:
        pack.UnitsOf("us")()
    tables = {
        table
        for table in connection.introspection.table_names()
        if any(f'"{table}"' in each["sql"] for each in found)
    }
    assert unit.housing._meta.db_table in tables
    assert tables - journaled == CHANGED_WITH_ANOTHER
