from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models.recorded import Recorded


class Listing(Recorded):
    """What the literature or the data plate claims a hammer may be pulled with."""

    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, related_name="listings")
    listed_lbf = models.FloatField()
    source = models.CharField(max_length=160)
    dated = models.DateField(help_text="The day the source bears.")
    note = models.TextField(blank=True)
    corrects = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="listing_in_range", condition=Q(listed_lbf__gt=0, listed_lbf__lte=10_000_000)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.hammer}: {self.listed_lbf:,.0f} lbf by {self.source}"
