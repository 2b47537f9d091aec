"""Change how the yard rates, and re-rate every unit by it."""

from __future__ import annotations

import uuid

from django.contrib.auth.models import User
from django.db import transaction

from fleet import clock
from fleet.locking import lock_all_housings
from ratings.ledger.posting import Cause, post
from ratings.mechanics.unit_rating import Policy
from ratings.models import RatingPolicy


@transaction.atomic
def change_policy(
    *, submission_id: uuid.UUID, policy: Policy, reason: str, by: User
) -> RatingPolicy:
    """Put a policy in force. Housings that have a ledger are re-rated in the same transaction."""
    housings = lock_all_housings()
    known = RatingPolicy.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    row = RatingPolicy.objects.create(
        submission_id=submission_id,
        confidence=policy.confidence,
        pad_spread_pct=policy.pad_spread_pct,
        linearity_limit_pct=policy.linearity_limit_pct,
        tape_resolution_in=policy.tape_resolution_in,
        rate_valid_days=policy.rate_valid_days,
        coldest_f=policy.coldest_f,
        warmest_f=policy.warmest_f,
        stale_rates=policy.stale_rates,
        reason=reason,
        recorded_by=by,
    )
    post(
        [housing for housing in housings if hasattr(housing, "current_rating")],
        cause=Cause(Cause.POLICY, f"Policy {row.pk}: {reason}", row.pk),
        occurred_at=clock.now(),
        by=by,
    )
    return row
