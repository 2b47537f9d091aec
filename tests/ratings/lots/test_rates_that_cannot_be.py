"""A rate that its rubber can't have is approved only by a tick of its own and a written reason."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from ratings.lots.recording import approve_rating
from ratings.models import LotRating, RatingApproval
from tests.all_tables import changed, everything
from tests.builders import drafted_test
from tests.factories import ManagerFactory, PadLotFactory
from tests.site.html_form import opened, words

pytestmark = pytest.mark.django_db
# Rubber of 60 Shore A, 20 in² and 2 in thick gives some 1,190 to 1,990 lbf/in.
RUBBER = {"hardness_shore_a": 60.0, "bonded_area_in2": 20.0, "rubber_thickness_in": 2.0}
ACCEPTED = {"accepts_implausible": True, "implausible_reason": "Plate says 45 Shore A"}


def draft(rate_lbf_in: float = 750.0) -> LotRating:
    recorded = drafted_test(PadLotFactory(**RUBBER), ManagerFactory(), rate_lbf_in=rate_lbf_in)
    assert recorded.draft is not None
    return recorded.draft


def approve(rating: LotRating, **given: Any) -> None:
    approve_rating(
        submission_id=uuid.uuid4(),
        rating=rating,
        by=ManagerFactory(),
        has_read_doubts=True,
        **given,
    )


@pytest.mark.parametrize(
    ("given", "field", "said"),
    [
        ({"implausible_reason": "so"}, "accepts_implausible", "Tick that you approve it"),
        ({"accepts_implausible": True}, "implausible_reason", "say why the rate holds"),
        (ACCEPTED | {"implausible_reason": " \u200b "}, "implausible_reason", "say why the rate"),
        (ACCEPTED | {"implausible_reason": "x" * 501}, "implausible_reason", "500 at the most"),
    ],
)
def test_to_have_read_the_doubts_is_not_enough_for_a_rate_that_cannot_be(
    given: dict[str, Any], field: str, said: str
) -> None:
    rating = draft()
    before = everything()
    with pytest.raises(ValidationError) as refused:
        approve(rating, **given)
    assert said in refused.value.message_dict[field][0]
    assert changed(before) == set()


def test_tick_and_reason_are_kept_with_the_approval() -> None:
    rating = draft()
    approve(rating, **ACCEPTED)
    kept = RatingApproval.objects.get(rating=rating)
    assert (kept.is_implausible, kept.implausible_reason) == (True, "Plate says 45 Shore A")
    assert any("it measured 750" in words for words in kept.doubts)


def test_of_a_rate_that_can_be_no_reason_is_kept() -> None:
    rating = draft(1500.0)
    approve(rating, **ACCEPTED)
    kept = RatingApproval.objects.get(rating=rating)
    assert (kept.is_implausible, kept.implausible_reason) == (False, "")


def test_the_database_too_refuses_a_rate_that_cannot_be_without_a_reason() -> None:
    rating = draft()
    with pytest.raises(IntegrityError), transaction.atomic():
        RatingApproval.objects.create(
            submission_id=uuid.uuid4(),
            rating=rating,
            drafted_by=rating.recorded_by,
            recorded_by=ManagerFactory(),
            is_implausible=True,
        )


def test_the_page_names_the_range_and_asks_for_tick_and_reason(manager_client: Client) -> None:
    rating = draft()
    page, url = (reverse(name, args=[rating.pk]) for name in ("lot-rating", "approve-rating"))
    fields = opened(manager_client, page)
    text = words(manager_client.get(page))
    assert "it measured 750" in text
    assert "rubber of this hardness and size gives 1,1" in text
    refused = manager_client.post(url, fields | {"has_read_doubts": "on"})
    assert "say why the rate holds" in words(refused)
    given = {"has_read_doubts": "on", "accepts_implausible": "on", "implausible_reason": "By plate"}
    shown = words(manager_client.post(url, fields | given, follow=True))
    assert "Approved though its rubber does not allow such a rate: By plate" in shown


def test_the_page_of_a_rate_that_can_be_asks_for_neither(manager_client: Client) -> None:
    page = manager_client.get(reverse("lot-rating", args=[draft(1500.0).pk]))
    assert b"implausible_reason" not in page.content
