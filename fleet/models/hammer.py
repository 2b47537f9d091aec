from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.characters import check_name
from fleet.models.recorded import Recorded, RecordedBy
from fleet.models.yard import named_once


def _above_zero(field: str) -> Q:
    return Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__gt": 0})


class Hammer(models.Model):
    """A vibratory pile hammer: exciter, clamp and power pack."""

    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="hammers")
    mark = models.CharField(
        "yard mark",
        max_length=40,
        unique=True,
        help_text="What is painted on it.",
        validators=[check_name],
    )
    make = models.CharField(max_length=80, blank=True)
    type_name = models.CharField("type", max_length=80, blank=True)
    serial_number = models.CharField(max_length=80, blank=True)
    note = models.TextField(blank=True)

    # What the extraction check reckons with; blank where nobody has read it off yet.
    eccentric_moment_lb_in = models.FloatField("eccentric moment, lb·in", null=True, blank=True)
    frequency_vpm = models.FloatField("frequency, vibrations per minute", null=True, blank=True)
    exciter_weight_lb = models.FloatField("exciter weight, lb", null=True, blank=True)
    clamp_weight_lb = models.FloatField("clamp weight, lb", null=True, blank=True)
    clamp_force_lbf = models.FloatField("clamp force, lbf", null=True, blank=True)
    figures_source = models.CharField(
        "source of these figures",
        max_length=160,
        blank=True,
        help_text="Such as the data plate, and who read it when.",
    )

    class Meta:
        ordering = ["mark"]
        constraints = [
            named_once("mark", "hammer_marked_once"),
            models.CheckConstraint(
                name="hammer_figures_in_range",
                condition=_above_zero("eccentric_moment_lb_in")
                & _above_zero("frequency_vpm")
                & _above_zero("exciter_weight_lb")
                & _above_zero("clamp_force_lbf")
                & (Q(clamp_weight_lb__isnull=True) | Q(clamp_weight_lb__gte=0)),
            ),
        ]

    def __str__(self) -> str:
        return self.mark

    @property
    def make_and_type(self) -> str:
        return " ".join(part for part in (self.make, self.type_name) if part)


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
