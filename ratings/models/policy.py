"""The policy in force, as the mechanics take it."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.models.recorded import Recorded
from ratings.mechanics.unit_rating import Policy
from ratings.models.choices import STALE_RATES


class RatingPolicy(Recorded):
    """How the yard rates: the newest row is in force, before the first the defaults are."""

    confidence = models.FloatField()
    pad_spread_pct = models.FloatField()
    linearity_limit_pct = models.FloatField()
    tape_resolution_in = models.FloatField()
    rate_valid_days = models.PositiveIntegerField()
    coldest_f = models.FloatField()
    warmest_f = models.FloatField()
    stale_rates = models.CharField(max_length=4, choices=STALE_RATES)
    reason = models.CharField(max_length=200)

    class Meta:
        ordering = ["-pk"]
        verbose_name_plural = "rating policies"
        constraints = [
            models.CheckConstraint(
                name="rating_policy_in_range",
                condition=Q(
                    confidence__gt=0.5,
                    confidence__lt=1,
                    pad_spread_pct__gte=0,
                    pad_spread_pct__lte=100,
                    linearity_limit_pct__gt=0,
                    linearity_limit_pct__lte=100,
                    tape_resolution_in__gt=0,
                    tape_resolution_in__lte=2,
                    rate_valid_days__gte=1,
                    warmest_f__gt=F("coldest_f"),
                    stale_rates__in=list(STALE_RATES),
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"policy {self.pk}"


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
