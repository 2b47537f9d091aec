"""The policy in force, as the mechanics take it."""

from __future__ import annotations

from ratings.mechanics.unit_rating import Policy
from ratings.models import RatingPolicy


def policy_in_force(row: RatingPolicy | None) -> Policy:
    """Return a stored policy as the mechanics take it; the defaults where there is none."""
    if row is None:
        return Policy()
    return Policy(
        confidence=row.confidence,
        pad_spread_pct=row.pad_spread_pct,
        linearity_limit_pct=row.linearity_limit_pct,
        tape_resolution_in=row.tape_resolution_in,
        rate_valid_days=row.rate_valid_days,
        coldest_f=row.coldest_f,
        warmest_f=row.warmest_f,
        stale_rates=row.stale_rates,
    )


def rating_policy() -> Policy:
    """Return the policy in force now."""
    return policy_in_force(RatingPolicy.objects.first())
