from __future__ import annotations

from datetime import datetime
from typing import Any, Self

from django.db import models
from django.db.models import Q

from fleet.characters import check_name
from fleet.models.machine import one_of, refuse_figures_without_source
from fleet.models.measured_fields import MeasuredField
from fleet.models.recorded import Recorded, RecordedBy
from fleet.models.retirable import Retirable
from fleet.models.yard import named_once
from fleet.quantities import Quantity


def _above_zero(field: str) -> Q:
    return Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__gt": 0})


class Hammer(Retirable):
    """A vibratory pile hammer: its exciter. Clamp and power pack are put on it, and changed."""

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

    # What the extraction check calculates with; blank where nobody has read it off yet.
    eccentric_moment_lb_in = MeasuredField(
        "eccentric moment",
        quantity=Quantity.ECCENTRIC_MOMENT,
        least=0,
        above_least=True,
        most=100_000,
        example="4400",
        null=True,
        help_text="Of all the eccentric weights together: weight times the throw of its centre.",
    )
    frequency_vpm = MeasuredField(
        "frequency",
        quantity=Quantity.FREQUENCY,
        least=100,
        most=10_000,
        example="1600",
        null=True,
        help_text="The fastest the exciter turns while it pulls.",
    )
    exciter_weight_lb = MeasuredField(
        "exciter weight",
        quantity=Quantity.WEIGHT,
        least=0,
        above_least=True,
        most=500_000,
        example="8000",
        null=True,
        help_text="All that hangs below the pads and shakes, without the clamp.",
    )
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
                & _above_zero("exciter_weight_lb"),
            ),
        ]

    def __str__(self) -> str:
        return self.mark

    def clean(self) -> None:
        """Refuse figures of which nobody says where they were read. Raises ValidationError."""
        super().clean()
        figures = (self.eccentric_moment_lb_in, self.frequency_vpm, self.exciter_weight_lb)
        refuse_figures_without_source(figures, self.figures_source)

    @property
    def make_and_type(self) -> str:
        return " ".join(part for part in (self.make, self.type_name) if part)


MOST_HOURS = 1_000_000


def hours_field(name: str, *, example: str, **kwargs: Any) -> MeasuredField:
    """Return a field of what an hour meter shows."""
    return MeasuredField(name, least=0, most=MOST_HOURS, example=example, **kwargs)


class HourReadingQuerySet(models.QuerySet["HourReading"]):
    """Readings of hour meters."""

    def standing(self) -> Self:
        """Those that nothing corrects, neither themselves nor the inspection they came with."""
        return self.filter(
            corrected_by__isnull=True,
            inspection__corrected_by__isnull=True,
            inspection_of_pack__corrected_by__isnull=True,
        )

    def known_by(self, moment: datetime | None) -> Self:
        """Those that stood by what was recorded by a moment; None for all that is recorded."""
        if moment is None:
            return self.standing()
        corrected = Q(corrected_by__recorded_at__lte=moment)
        corrected |= Q(inspection__corrected_by__recorded_at__lte=moment)
        corrected |= Q(inspection_of_pack__corrected_by__recorded_at__lte=moment)
        return self.filter(recorded_at__lte=moment).exclude(corrected)


# What has an hour meter: a hammer or a power pack.
METERED = ("hammer", "power_pack")


class Metered(models.Model):
    """A record of the hour meter of one hammer, or of one power pack.

    A model of it sets default_related_name.
    """

    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, null=True)
    power_pack = models.ForeignKey("fleet.PowerPack", models.PROTECT, null=True)

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(name="%(class)s_of_one_meter", condition=one_of(METERED))
        ]

    @property
    def machine_id(self) -> int:
        """The key of the hammer or the power pack."""
        key = self.power_pack_id if self.hammer_id is None else self.hammer_id
        assert key is not None
        return key

    @property
    def machine(self) -> Any:
        """The hammer or the power pack."""
        return self.power_pack if self.hammer_id is None else self.hammer


class HourReading(RecordedBy, Metered):
    """What the hour meter of a hammer or a power pack showed at a time. Never edited.

    It comes with an inspection, or by itself; one by itself is put right by another.
    """

    hours = hours_field("hour meter", example="1240.5")
    read_at = models.DateTimeField()
    submission_id = models.UUIDField(
        unique=True,
        null=True,
        help_text="Made with the form, where it was entered by itself: a second copy of it "
        "changes nothing.",
    )
    corrects = models.OneToOneField("self", models.PROTECT, null=True, related_name="corrected_by")

    objects = HourReadingQuerySet.as_manager()

    class Meta:
        default_related_name = "hour_readings"
        ordering = ["-read_at", "-pk"]
        constraints = [
            *Metered.Meta.constraints,
            models.CheckConstraint(
                name="hours_in_range", condition=Q(hours__gte=0, hours__lte=MOST_HOURS)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.machine}: {self.hours:g} h"


class MeterChange(Recorded, Metered):
    """An hour meter was changed or set back: what the old one showed, and the new.

    Readings may fall across it and nowhere else. Never edited.
    """

    changed_at = models.DateTimeField()
    old_hours = hours_field("last hours the old meter showed", example="5120.4")
    new_hours = hours_field("first hours the new meter showed", example="0")
    reason = models.CharField("why", max_length=200)

    class Meta:
        default_related_name = "meter_changes"
        ordering = ["-changed_at", "-pk"]
        constraints = [
            *Metered.Meta.constraints,
            models.CheckConstraint(
                name="meter_change_in_range",
                condition=Q(
                    old_hours__gte=0,
                    old_hours__lte=MOST_HOURS,
                    new_hours__gte=0,
                    new_hours__lte=MOST_HOURS,
                ),
            ),
            models.CheckConstraint(name="meter_change_for_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.machine}: meter changed at {self.old_hours:g} h"
