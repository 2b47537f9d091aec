from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models.recorded import Recorded, RecordedBy


class HourReading(RecordedBy):
    """What a hammer's hour meter showed at a time. Never edited."""

    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, related_name="hour_readings")
    hours = models.FloatField()
    read_at = models.DateTimeField()

    class Meta:
        ordering = ["-read_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="hours_in_range", condition=Q(hours__gte=0, hours__lte=1_000_000)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.hammer}: {self.hours:g} h"


class MeterChange(Recorded):
    """A hammer's hour meter was changed or set back: what the old one showed, and the new.

    Readings may fall across it and nowhere else. Never edited.
    """

    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, related_name="meter_changes")
    changed_at = models.DateTimeField()
    old_hours = models.FloatField(help_text="The last the old meter showed.")
    new_hours = models.FloatField(default=0.0, help_text="The first the new one showed.")
    reason = models.CharField(max_length=200)

    class Meta:
        ordering = ["-changed_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="meter_change_in_range",
                condition=Q(
                    old_hours__gte=0,
                    old_hours__lte=1_000_000,
                    new_hours__gte=0,
                    new_hours__lte=1_000_000,
                ),
            ),
            models.CheckConstraint(name="meter_change_for_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.hammer}: meter changed at {self.old_hours:g} h"
