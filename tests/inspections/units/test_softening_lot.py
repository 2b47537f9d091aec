"""A lot that softens is flagged on every unit that holds it, and on no other."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from fleet.models import SuppressorHousing
from tests.builders import count
from tests.ratings.surveillance.drawn import SOFTENING, STEADY, Bench
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def page(client: Client, housing: SuppressorHousing) -> str:
    return words(client.get(reverse("unit", args=[housing.pk])))


def test_a_unit_that_holds_it_says_so_with_figures(auditor_client: Client) -> None:
    bench = Bench().watched(SOFTENING)
    count(bench.housings[0], bench.by, bench.lot)
    text = page(auditor_client, bench.housings[0])
    assert f"Softening. Lot {bench.lot} softens by 4.6 % a year, band 4.1 to 5.1" in text
    assert "10 % below its rate" in text


def test_a_unit_of_another_lot_does_not(auditor_client: Client) -> None:
    Bench().watched(SOFTENING)
    bench = Bench().watched(STEADY)
    count(bench.housings[0], bench.by, bench.lot)
    assert "Softening." not in page(auditor_client, bench.housings[0])
