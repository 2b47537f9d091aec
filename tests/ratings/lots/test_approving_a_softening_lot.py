"""Whoever approves a rating of a lot that softens reads so first."""

from __future__ import annotations

import uuid

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from ratings.lots.recording import approve_rating
from ratings.models import LotRating
from tests.factories import ManagerFactory
from tests.ratings.surveillance.drawn import SOFTENING, Bench
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def waiting() -> LotRating:
    """A draft that waits, of a lot that softens."""
    return Bench().watched(SOFTENING).lot.ratings.latest("pk")


def test_the_rating_s_page_says_so(manager_client: Client, waiting: LotRating) -> None:
    text = words(manager_client.get(reverse("lot-rating", args=[waiting.pk])))
    assert f"Softening. Lot {waiting.lot} softens by 4.6 % a year" in text


def test_it_is_not_approved_unread(waiting: LotRating) -> None:
    with pytest.raises(ValidationError, match="Read the doubts above"):
        approve_rating(submission_id=uuid.uuid4(), rating=waiting, by=ManagerFactory())


def test_what_was_read_is_kept_with_the_approval(waiting: LotRating) -> None:
    approve_rating(
        submission_id=uuid.uuid4(), rating=waiting, by=ManagerFactory(), has_read_doubts=True
    )
    waiting.refresh_from_db()
    doubts = waiting.approval.doubts
    assert any(each.startswith(f"Lot {waiting.lot} softens by 4.6 % a year") for each in doubts)
