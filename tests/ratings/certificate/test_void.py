"""A certificate says plainly what its readings no longer give, and is void."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.db.models import F
from django.test import Client
from django.urls import reverse

from ratings.models import BenchReading, LotRating
from tests.conftest import append_only_lifted
from tests.ratings.certificate.lots import approved, draft
from tests.ratings.certificate.printed import pages, text

pytestmark = pytest.mark.django_db


def test_one_whose_readings_give_its_rate_is_not_void() -> None:
    found = text(approved(draft()))
    assert "VOID" not in found
    assert "APPROVED" in found


def stronger() -> None:
    BenchReading.objects.update(gauge_psi=F("gauge_psi") * 1.5)


def rating_raised() -> None:
    LotRating.objects.update(rate_lbf_in=F("rate_lbf_in") * 1.5)


def doubt_made_small() -> None:
    LotRating.objects.update(common_uncertainty_lbf_in=F("common_uncertainty_lbf_in") / 2)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (stronger, "the readings come to a rate of"),
        (rating_raised, "and the rating on record has"),
        (doubt_made_small, "the readings give a shared standard uncertainty of"),
    ],
)
def test_one_whose_readings_give_another_is_void_and_says_what_differs(
    change: Callable[[], None], said: str
) -> None:
    rating = approved(draft())
    with append_only_lifted():
        change()
    rating = LotRating.objects.with_state().get(pk=rating.pk)
    first = pages(rating)[0]
    assert "VOID" in first
    assert said in first
    assert "It was approved by" in first
    assert "APPROVED" not in text(rating)


def test_one_whose_readings_are_gone_is_void_and_states_no_figure(auditor_client: Client) -> None:
    rating = approved(draft())
    with append_only_lifted():
        BenchReading.objects.all().delete()
    printed = auditor_client.get(reverse("lot-certificate", args=[rating.pk]))
    assert printed.status_code == 200
    found = text(LotRating.objects.with_state().get(pk=rating.pk))
    assert "VOID" in found
    assert "can’t be calculated any more" in found
    assert "lbf/in" not in found
