from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models.measured_fields import CountField, MeasuredField
from fleet.models.recorded import Recorded, RecordedBy
from fleet.quantities import Quantity

MILES_A_DAY = 250.0
LEAST_DAYS = 1


class TransportRules(Recorded):
    """How many days a unit is on the way to a job and back, from this record on.

    The defaults are common practice, no published source: a low loader with an oversize load
    drives by daylight, and a day goes for loading and rigging however short the road.
    """

    miles_a_day = MeasuredField(
        "haul of one day",
        quantity=Quantity.DISTANCE,
        least=1,
        most=2_000,
        example="250",
        default=MILES_A_DAY,
        help_text="A longer haul takes as many days as it has such parts.",
    )
    least_days = CountField(
        "days on the way at the least",
        least=0,
        most=14,
        example="1",
        default=LEAST_DAYS,
        help_text="Before a job and again after it, also where the haul is not known. 0 where "
        "units are taken out and back on the days of the job itself.",
    )
    reason = models.CharField("why it changes", max_length=200)

    class Meta:
        ordering = ["-pk"]
        verbose_name_plural = "transport rules"
        constraints = [
            models.CheckConstraint(
                name="transport_rules_in_range",
                condition=Q(miles_a_day__gt=0, least_days__lte=14) & ~Q(reason=""),
            ),
        ]

    def __str__(self) -> str:
        return f"transport rules {self.pk}: {self.reason}"


class TransferForJob(RecordedBy):
    """For which job a transfer is made, where for one."""

    transfer = models.OneToOneField("fleet.Transfer", models.PROTECT, related_name="for_job")
    job = models.ForeignKey("ratings.ExtractionJob", models.PROTECT, related_name="transfers")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.transfer}, for {self.job}"
