"""Post what has changed by time alone: rates that have gone stale."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.db import transaction

from fleet import clock
from fleet.locking import lock_all_housings
from ratings.ledger.posting import Cause, post
from ratings.models import LedgerEntry


@transaction.atomic
def post_stale_rates(by: User) -> list[LedgerEntry]:
    """Rate every unit anew and post an entry where a rate has gone stale since its last."""
    housings = [housing for housing in lock_all_housings() if hasattr(housing, "current_rating")]
    return post(
        housings,
        cause=Cause(Cause.RATE_STALE, "A lot's rate went stale"),
        occurred_at=clock.now(),
        by=by,
    )
