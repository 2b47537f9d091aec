from __future__ import annotations

from django.db import models
from django.db.models import F, Q


class Mounting(models.Model):
    """A suppressor housing on a hammer, from one time to another."""

    housing = models.ForeignKey("fleet.SuppressorHousing", models.PROTECT, related_name="mountings")
    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, related_name="mountings")
    mounted_at = models.DateTimeField()
    removed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-mounted_at"]
        constraints = [
            models.UniqueConstraint(
                name="housing_on_one_hammer", fields=["housing"], condition=Q(removed_at=None)
            ),
            models.UniqueConstraint(
                name="hammer_under_one_housing", fields=["hammer"], condition=Q(removed_at=None)
            ),
            models.CheckConstraint(
                name="mounting_ends_after_it_begins",
                condition=Q(removed_at__isnull=True) | Q(removed_at__gte=F("mounted_at")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.housing} on {self.hammer}"
