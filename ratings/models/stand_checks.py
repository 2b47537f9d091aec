"""How the stands are kept honest: certificates of gauges, and a piece pulled again and again."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, Self

from django.db import models
from django.db.models import (
    DateField,
    DateTimeField,
    Exists,
    ExpressionWrapper,
    F,
    OuterRef,
    Q,
    Value,
)
from django.db.models.functions import Coalesce, TruncDate

from fleet import clock
from fleet.characters import check_name
from fleet.models.measured_fields import MeasuredField
from fleet.models.recorded import CorrectableQuerySet, Recorded
from fleet.models.retirable import Retirable
from fleet.models.yard import named_once
from fleet.quantities import Quantity
from ratings.mechanics.gauge import CalibrationPoint, GaugeCorrection, correction_of
from ratings.mechanics.stand_checks import CheckRate
from ratings.models.bench import BenchTest, Gauge, OnAStand, Reading, Tape, TestStand

# Before any calibration there is.
LONG_AGO = date(1900, 1, 1)


class GaugeCalibrationQuerySet(CorrectableQuerySet["GaugeCalibration"]):
    """Calibrations of gauges."""

    def on(self, day: date) -> GaugeCalibration | None:
        """The one whose certificate counts on a day: the last made by then and not corrected."""
        made = self.standing().filter(calibrated_on__lte=day)
        return made.order_by("-calibrated_on", "-pk").first()

    def that_tell_of(self, test: str = "", known_by: datetime | None = None) -> Self:
        """The first calibration of its gauge after an outer test: as found it tells of the test.

        For Exists and Subquery over bench tests; test: the outer query's way to the test, such
        as "test__". It tells of all that was measured since the calibration before it.
        known_by: a moment by which what is on record counts; that of the clock unless given.
        """
        known_by = known_by or clock.known_by()
        between = (
            GaugeCalibration.objects.known_by(known_by)
            .filter(
                gauge=OuterRef("gauge"),
                calibrated_on__lt=OuterRef("calibrated_on"),
                calibrated_on__gte=_day_of(test, within=2),
                calibrated_on__gt=_calibrated_before(test, within=2),
            )
            .order_by()
        )
        return self.known_by(known_by).filter(
            ~Exists(between),
            gauge=OuterRef(f"{test}gauge"),
            calibrated_on__gte=_day_of(test),
            calibrated_on__gt=_calibrated_before(test),
        )


def _day_of(test: str, within: int = 1) -> TruncDate:
    """Return the day of the outer query's test, for a query so many deep within it."""
    at = _outer(f"{test}tested_at", within)
    return TruncDate(ExpressionWrapper(at, output_field=DateTimeField()))


def _calibrated_before(test: str, within: int = 1) -> Coalesce:
    """Return the day of the calibration that the outer query's test was made under."""
    under = _outer(f"{test}gauge_calibrated_on", within)
    return Coalesce(under, Value(LONG_AGO), output_field=DateField())


def _outer(name: str, within: int) -> Any:
    ref = OuterRef(name)
    return ref if within == 1 else OuterRef(ref)


class GaugeCalibration(Recorded):
    """What a laboratory's certificate says of a gauge. Never edited: a later one corrects it."""

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="calibrations")
    certificate_number = models.CharField(max_length=80)
    laboratory = models.CharField(max_length=120, blank=True)
    serial_number = models.CharField(
        "serial number on the certificate",
        max_length=80,
        blank=True,
        help_text="Copy it from the certificate, not from the gauge.",
    )
    calibrated_on = models.DateField()
    due_on = models.DateField("calibration due on")
    expanded_psi = MeasuredField(
        "expanded uncertainty",
        quantity=Quantity.PRESSURE,
        least=0,
        above_least=True,
        most=1000,
        example="5",
        null=True,
    )
    coverage_factor = MeasuredField(
        "coverage factor k",
        least=1,
        most=4,
        example="2",
        null=True,
        help_text="Beside the expanded uncertainty; 2 on nearly all certificates.",
    )
    points = models.JSONField(
        default=list,
        help_text="[applied, as found, as left], psi, from the least to the greatest; as found or "
        "as left null where it was not read. None where the certificate has no points.",
    )
    no_found_reason = models.CharField("why nothing was read as found", max_length=200, blank=True)
    is_found_off = models.BooleanField(
        default=False, help_text="Whether it was off as found by more than its grade allows."
    )
    found_error_psi = models.FloatField(
        null=True, help_text="The error as found, shown less applied, that is worst for its grade."
    )
    drift_psi = models.FloatField(
        null=True, help_text="By how much the certificate before it was wrong as found."
    )
    note = models.CharField(max_length=200, blank=True)
    corrects = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )

    objects = GaugeCalibrationQuerySet.as_manager()

    class Meta:
        ordering = ["-calibrated_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="calibration_due_after_made", condition=Q(due_on__gt=F("calibrated_on"))
            ),
            models.CheckConstraint(
                name="calibration_certified",
                condition=~Q(certificate_number="")
                & (
                    Q(expanded_psi__isnull=True, coverage_factor__isnull=True)
                    | Q(expanded_psi__gt=0, coverage_factor__gte=1)
                ),
            ),
            models.CheckConstraint(
                name="calibration_found_off_by_something",
                condition=Q(is_found_off=False) | Q(found_error_psi__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"certificate {self.certificate_number} of gauge {self.gauge.mark}"

    @property
    def touched_tests(self) -> models.QuerySet[BenchTest]:
        """The bench tests made on the gauge since the calibration before it, whatever was found."""
        tells = GaugeCalibration.objects.that_tell_of().filter(pk=self.pk)
        return BenchTest.objects.filter(Exists(tells))

    @property
    def touched_checks(self) -> models.QuerySet[ReferenceCheck]:
        """The checks by reference pieces made on the gauge since then, as touched_tests."""
        tells = GaugeCalibration.objects.that_tell_of().filter(pk=self.pk)
        at = ReferenceCheck.objects.annotate(tested_at=F("checked_at"))
        return at.filter(Exists(tells))

    @property
    def calibration_points(self) -> list[CalibrationPoint]:
        """Its points, from the least pressure applied to the greatest."""
        return [CalibrationPoint(*point) for point in self.points]

    @property
    def correction(self) -> GaugeCorrection | None:
        """What it says the gauge's readings are worth; None where it has no points."""
        if not self.points or self.expanded_psi is None or self.coverage_factor is None:
            return None
        return correction_of(
            self.calibration_points, self.expanded_psi, self.coverage_factor, self.drift_psi
        )


class ReferencePiece(Retirable):
    """A pad or spring kept for nothing but to be pulled on a stand before its tests."""

    class Kind(models.TextChoices):
        PAD = "pad", "pad"
        SPRING = "spring", "steel spring"

    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="reference_pieces")
    mark = models.CharField("yard mark", max_length=40, unique=True, validators=[check_name])
    kind = models.CharField(
        max_length=6,
        choices=Kind,
        help_text="A pad ages and is softer when warm; a steel spring is neither.",
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["mark"]
        constraints = [
            named_once("mark", "reference_piece_marked_once"),
            models.CheckConstraint(
                name="reference_piece_kind_known", condition=Q(kind__in=["pad", "spring"])
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mark} ({self.get_kind_display()})"


class ReferenceCheck(OnAStand, Recorded):
    """A reference piece pulled on a stand, and the rate it was found to have. Never edited."""

    pads_in_test = 1

    stand = models.ForeignKey(TestStand, models.PROTECT, related_name="reference_checks")
    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="reference_checks")
    tape = models.ForeignKey(Tape, models.PROTECT, related_name="reference_checks")
    piece = models.ForeignKey(ReferencePiece, models.PROTECT, related_name="checks")
    checked_at = models.DateTimeField()
    temperature_f = MeasuredField(
        "temperature of the piece",
        quantity=Quantity.TEMPERATURE,
        least=-40,
        most=200,
        example="68",
        null=True,
    )
    rate_lbf_in = models.FloatField()
    own_lbf_in = models.FloatField(help_text="Standard uncertainty of its readings alone.")
    expanded_lbf_in = models.FloatField(help_text="Expanded uncertainty of its whole budget, 95 %.")
    note = models.CharField(max_length=200, blank=True)
    corrects = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        ordering = ["-checked_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="reference_check_possible",
                condition=Q(
                    bore_in__gt=0,
                    rod_in__gte=0,
                    rod_in__lt=F("bore_in"),
                    tape_datum_in__gte=0,
                    gauge_zero_psi__gte=0,
                    rate_lbf_in__gt=0,
                    own_lbf_in__gte=0,
                    expanded_lbf_in__gte=0,
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"check {self.pk} of {self.piece} on {self.stand}"

    @property
    def rate(self) -> CheckRate:
        """What it came to."""
        return CheckRate(self.rate_lbf_in, self.own_lbf_in, self.expanded_lbf_in)


class ReferenceReading(Reading):
    """A reading of a check of a reference piece."""

    reference_check = models.ForeignKey(ReferenceCheck, models.PROTECT, related_name="readings")

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(
                name="reference_reading_once", fields=["reference_check", "number"]
            ),
            models.CheckConstraint(
                name="reference_reading_not_negative",
                condition=Q(tape_in__gte=0, gauge_psi__gte=0),
            ),
        ]
