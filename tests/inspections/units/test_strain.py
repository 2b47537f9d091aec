"""How far rubber is strained, on the page of a unit and of a bench test."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from fleet.models import PadLot
from ratings.mechanics.unit_rating import Policy
from ratings.policy import change_policy
from tests.builders import Unit, count, rated_unit
from tests.factories import HousingFactory, ManagerFactory, PadLotFactory
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def unit() -> Unit:
    """A unit of 6 in travel whose pads are tested to 8 in."""
    return rated_unit()


def thickness(lot: PadLot, inches: float | None) -> None:
    PadLot.objects.filter(pk=lot.pk).update(rubber_thickness_in=inches)


def page_of(client: Client, unit: Unit) -> str:
    return words(client.get(reverse("unit", args=[unit.housing.pk])))


def test_a_unit_shows_the_strain_of_each_lot_fitted_tested_or_not(
    auditor_client: Client, unit: Unit
) -> None:
    untested = PadLotFactory(mark="UNTESTED", rubber_thickness_in=3.0)
    thickness(unit.lot, 4.0)
    unit.housing.positions.filter(side="A").update(lot=untested)
    text = page_of(auditor_client, unit)
    assert f"{unit.lot.mark} 4 in 150 % 150 %" in text
    assert "UNTESTED 3 in 200 % 200 %" in text
    assert "The policy sets no limit" in text


def test_rubber_of_unknown_thickness_is_said_to_be_so(auditor_client: Client, unit: Unit) -> None:
    assert f"{unit.lot.mark} not known: the rubber’s thickness is not on record" in page_of(
        auditor_client, unit
    )


def test_a_lot_of_which_no_pad_is_fitted_is_not_among_them(
    auditor_client: Client, unit: Unit
) -> None:
    PadLotFactory(mark="ON-THE-SHELF", rubber_thickness_in=3.0)
    assert "ON-THE-SHELF" not in page_of(auditor_client, unit)


def test_the_stops_may_strain_it_further_than_the_policy_allows(
    auditor_client: Client, unit: Unit
) -> None:
    thickness(unit.lot, 4.0)
    policy = Policy(largest_strain_pct=100.0)
    change_policy(submission_id=uuid.uuid4(), policy=policy, reason="tears", by=unit.manager)
    text = page_of(auditor_client, unit)
    assert "The policy allows 100 %" in text
    assert "100 % 150 %, more than allowed" in text


def test_travel_not_taped_is_said(auditor_client: Client) -> None:
    housing = HousingFactory()
    lot = PadLotFactory(rubber_thickness_in=4.0)
    count(housing, ManagerFactory(), lot, travel_in=None)
    text = words(auditor_client.get(reverse("unit", args=[housing.pk])))
    assert "4 in – travel not taped" in text


def test_a_bench_test_shows_how_far_it_strained_its_rubber(
    auditor_client: Client, unit: Unit
) -> None:
    url = reverse("bench-test", args=[unit.lot.bench_tests.get().pk])
    assert "at most not known: the rubber’s thickness is not on record" in words(
        auditor_client.get(url)
    )
    thickness(unit.lot, 5.0)
    text = words(auditor_client.get(url))
    assert "at most 160 % a stretch of 8 in over 5 in of rubber" in text
