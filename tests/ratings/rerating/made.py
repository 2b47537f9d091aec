"""Units being rated again, or what came of it, without having it done."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.contrib.auth.models import User
from django.urls import reverse
from django.utils import timezone

from fleet.models import LongWork
from ratings.models import LotRating
from ratings.rerating.long_work import WHAT, key_of


def made_rerating(
    rating: LotRating, by: User, *, result: dict[str, Any] | None = None, done: int = 0
) -> LongWork:
    """A withdrawal of a rating that 2,000 units rest on. result: what came of it, once over."""
    return LongWork.objects.create(
        what=WHAT,
        about=key_of(rating),
        asked_by=by,
        worker="another machine:1:1",
        # As long as a test goes on, nobody takes it for dead.
        heard_at=timezone.now() + timedelta(days=1),
        done=done,
        result=result or {},
        ended_at=timezone.now() if result else None,
        arguments={
            "submission": "",
            "title": f"Withdrawal of rating {rating.pk} of lot {rating.lot}",
            "page": reverse("lot-rating", args=[rating.pk]),
            "units": 2_000,
        },
    )
