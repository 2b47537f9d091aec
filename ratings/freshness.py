"""Whether a lot's rating still holds: by its age, and by how warm the rubber was."""

from __future__ import annotations

from datetime import datetime

from ratings.mechanics.freshness import HoldPolicy, stale_reasons
from ratings.mechanics.unit_rating import Policy
from ratings.models import LotRating

DAY_SECONDS = 24 * 3600
CORRECTED = "a test it rests on was corrected since"


def staleness(rating: LotRating, policy: Policy, at: datetime) -> str:
    """Return why a rating is stale at a moment, "" where it isn't.

    The rating comes from current_lot_ratings, which also tells of tests corrected since.

    The words say no number of days: the same fact must read the same tomorrow, or every
    inspection would find something changed.
    """
    age_days = (at - rating.tested_at).total_seconds() / DAY_SECONDS
    reasons = stale_reasons(
        HoldPolicy(policy.rate_valid_days, policy.coldest_f, policy.warmest_f),
        max(age_days, 0.0),
        (rating.coldest_f, rating.warmest_f),
    )
    words = [reason.value for reason in reasons]
    if getattr(rating, "rests_on_corrected", False):
        words.append(CORRECTED)
    return "; ".join(words)
