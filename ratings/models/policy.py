"""The policy in force, as the mechanics take it."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.models.measured_fields import LargeCountField, MeasuredField
from fleet.models.recorded import Recorded
from fleet.quantities import Quantity
from ratings.by_name import made_by_name
from ratings.mechanics.unit_rating import Policy
from ratings.models.choices import STALE_RATES


class RatingPolicy(Recorded):
    """How the yard rates: the newest row is in force, before the first the defaults are."""

    # Entered and shown as a percentage.
    confidence = MeasuredField(
        "confidence of the working capacity",
        least=0.5,
        above_least=True,
        most=0.9999,
        example="0.95",
        help_text="One-sided: how sure the yard is that the unit pulls at least this much.",
    )
    pad_spread_pct = MeasuredField(
        "assumed pad-to-pad spread, % of the rate",
        least=0,
        most=100,
        example="5",
        help_text="Standard deviation from pad to pad, where no tests show it.",
    )
    linearity_limit_pct = MeasuredField(
        "linearity limit, % of full scale",
        least=0,
        above_least=True,
        most=100,
        example="5",
        help_text="Beyond it a lot counts as not linear and its load curve is used.",
    )
    tape_resolution_in = MeasuredField(
        "travel is taped to the nearest",
        quantity=Quantity.DIAMETER,
        least=0.001,
        most=2,
        example="0.125",
    )
    rate_valid_days = LargeCountField(
        "a rate holds for, days after its newest test", least=1, most=36_500, example="730"
    )
    coldest_f = MeasuredField(
        "coldest rubber to test at",
        quantity=Quantity.TEMPERATURE,
        least=-40,
        most=200,
        example="40",
    )
    warmest_f = MeasuredField(
        "warmest rubber to test at",
        quantity=Quantity.TEMPERATURE,
        least=-40,
        most=200,
        example="100",
    )
    stale_rates = models.CharField("a stale rate", max_length=4, choices=STALE_RATES)
    reason = models.CharField("why it changes", max_length=200)

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
    return Policy() if row is None else made_by_name(Policy, row)


def rating_policy() -> Policy:
    """Return the policy in force now."""
    return policy_in_force(RatingPolicy.objects.first())
