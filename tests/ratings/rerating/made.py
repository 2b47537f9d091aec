"""Units being rated again, or what came of it, without having it done."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.urls import reverse
from django.utils import timezone

from fleet.long_work.queue import own_name
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
        worker=own_name(),
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
