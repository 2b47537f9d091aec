from __future__ import annotations

from django.db import models
from django.db.models import Q


class LotRating(models.Model):
    """The spring rate a bench test gave a lot. Never edited; the newest test's counts."""

    lot = models.ForeignKey("fleet.PadLot", models.PROTECT, related_name="ratings")
    test = models.OneToOneField("ratings.BenchTest", models.PROTECT, related_name="rating")
    rate_lbf_in = models.FloatField()
    standard_error_lbf_in = models.FloatField()
    degrees_of_freedom = models.PositiveIntegerField()
    residual_sd_lbf = models.FloatField()
    r_squared = models.FloatField()
    linearity_error_pct = models.FloatField()
    tested_stretch_in = models.FloatField()
    curve = models.JSONField(
        help_text="Knots [stretch_in, force_lbf, slope_lbf_in] of the monotone load curve; "
        "used where the lot is not linear."
    )

    class Meta:
        ordering = ["-test__tested_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="lot_rating_possible",
                condition=Q(
                    rate_lbf_in__gt=0,
                    standard_error_lbf_in__gte=0,
                    degrees_of_freedom__gte=1,
                    residual_sd_lbf__gte=0,
                    linearity_error_pct__gte=0,
                    tested_stretch_in__gt=0,
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot}: {self.rate_lbf_in:.0f} lbf/in"
