from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from fleet.characters import check_name
from fleet.models.named import named_once

MOST_SPAN_PSI = 20_000.0


class GaugeGrade(models.TextChoices):
    """Accuracy grades of pressure gauges (ASME B40.100), finest first."""

    GRADE_4A = "4A", "4A"
    GRADE_3A = "3A", "3A"
    GRADE_2A = "2A", "2A"
    GRADE_1A = "1A", "1A"
    GRADE_A = "A", "A"
    GRADE_B = "B", "B"
    GRADE_C = "C", "C"
    GRADE_D = "D", "D"


class Gauge(models.Model):
    """A pressure gauge of a test stand and its calibration as it stands now.

    A bench test keeps its own copy of what the gauge was that day.
    """

    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="gauges")
    mark = models.CharField("yard mark", max_length=40, unique=True, validators=[check_name])
    span_psi = models.FloatField(
        "span, psi", validators=[MinValueValidator(1.0), MaxValueValidator(MOST_SPAN_PSI)]
    )
    grade = models.CharField("accuracy grade", max_length=2, choices=GaugeGrade)
    resolution_psi = models.FloatField(
        "read to the nearest, psi", validators=[MinValueValidator(0.01), MaxValueValidator(1000.0)]
    )
    certificate_number = models.CharField(max_length=80, blank=True)
    calibrated_on = models.DateField(null=True, blank=True)
    due_on = models.DateField("calibration due on", null=True, blank=True)

    class Meta:
        ordering = ["mark"]
        constraints = [
            named_once("mark", "gauge_marked_once"),
            models.CheckConstraint(
                name="gauge_possible",
                condition=Q(
                    span_psi__gt=0,
                    span_psi__lte=MOST_SPAN_PSI,
                    resolution_psi__gt=0,
                    grade__in=GaugeGrade.values,
                ),
            ),
            models.CheckConstraint(
                name="gauge_due_after_calibrated",
                condition=Q(calibrated_on__isnull=True)
                | Q(due_on__isnull=True)
                | Q(due_on__gt=F("calibrated_on")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mark} (0–{self.span_psi:g} psi, grade {self.grade})"


class Tape(models.Model):
    """A tape or rule that stretch is read on."""

    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="tapes")
    mark = models.CharField("yard mark", max_length=40, unique=True, validators=[check_name])
    resolution_in = models.FloatField(
        "read to the nearest, in", validators=[MinValueValidator(0.001), MaxValueValidator(1.0)]
    )

    class Meta:
        ordering = ["mark"]
        constraints = [
            named_once("mark", "tape_marked_once"),
            models.CheckConstraint(
                name="tape_possible", condition=Q(resolution_in__gt=0, resolution_in__lte=1)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mark} (to {self.resolution_in:g} in)"
