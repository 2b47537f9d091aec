from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet import clock


class HourReading(models.Model):
    """What a hammer's hour meter showed at a time. Never edited."""

    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, related_name="hour_readings")
    hours = models.FloatField()
    read_at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=clock.now, editable=False)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-read_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="hours_in_range", condition=Q(hours__gte=0, hours__lte=1_000_000)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.hammer}: {self.hours:g} h"
