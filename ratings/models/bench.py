from __future__ import annotations

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils import timezone

from fleet.characters import check_name
from fleet.models.hammer import MOST_HOURS, hours_field
from fleet.models.housing import MOST_POSITIONS_PER_SIDE, Side, position_field
from fleet.models.measured_fields import CountField, MeasuredField
from fleet.models.recorded import CorrectableQuerySet, Recorded
from fleet.models.retirable import Retirable
from fleet.models.yard import named_once
from fleet.quantities import Quantity
from ratings.mechanics.bench import BenchSetUp, Branch, CycleReading, Cylinder, CylinderEnd
from ratings.mechanics.budget import Instruments
from ratings.mechanics.gauge import GaugeCorrection
from ratings.models.choices import BRANCHES, CYLINDER_ENDS, GAUGE_GRADES

MOST_SPAN_PSI = 20_000.0


class Calibrated(Retirable):
    """An instrument and its calibration as it stands now.

    Whatever was measured with it keeps its own copy of what stood here that day.
    """

    certificate_number = models.CharField(max_length=80, blank=True)
    calibrated_on = models.DateField(null=True, blank=True)
    due_on = models.DateField("calibration due on", null=True, blank=True)

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                name="%(class)s_due_after_calibrated",
                condition=Q(calibrated_on__isnull=True)
                | Q(due_on__isnull=True)
                | Q(due_on__gt=F("calibrated_on")),
            ),
        ]


class Gauge(Calibrated):
    """A pressure gauge of a test stand.

    Its certificates are GaugeCalibration; the newest of them stands here as well.
    """

    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="gauges")
    mark = models.CharField("yard mark", max_length=40, unique=True, validators=[check_name])
    span_psi = MeasuredField(
        "span", quantity=Quantity.PRESSURE, least=1, most=MOST_SPAN_PSI, example="5000"
    )
    grade = models.CharField("accuracy grade", max_length=2, choices=GAUGE_GRADES)
    resolution_psi = MeasuredField(
        "read to the nearest", quantity=Quantity.PRESSURE, least=0.01, most=1000, example="10"
    )
    serial_number = models.CharField(
        max_length=80,
        blank=True,
        help_text="As on its dial: a certificate that bears another is not taken for it.",
    )

    class Meta:
        ordering = ["mark"]
        constraints = [
            *Calibrated.Meta.constraints,
            named_once("mark", "gauge_marked_once"),
            models.CheckConstraint(
                name="gauge_possible",
                condition=Q(
                    span_psi__gt=0,
                    span_psi__lte=MOST_SPAN_PSI,
                    resolution_psi__gt=0,
                    grade__in=list(GAUGE_GRADES),
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mark} (0–{self.span_psi:g} psi, grade {self.grade})"


class Tape(Calibrated):
    """A tape or rule that stretch is read on."""

    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="tapes")
    mark = models.CharField("yard mark", max_length=40, unique=True, validators=[check_name])
    resolution_in = MeasuredField(
        "read to the nearest", quantity=Quantity.LENGTH, least=0.001, most=1, example="0.0625"
    )

    class Meta:
        ordering = ["mark"]
        constraints = [
            *Calibrated.Meta.constraints,
            named_once("mark", "tape_marked_once"),
            models.CheckConstraint(
                name="tape_possible", condition=Q(resolution_in__gt=0, resolution_in__lte=1)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mark} (to {self.resolution_in:g} in)"


class Thermometer(Calibrated):
    """A thermometer that the temperature of rubber is read on."""

    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="thermometers")
    mark = models.CharField("yard mark", max_length=40, unique=True, validators=[check_name])

    class Meta:
        ordering = ["mark"]
        constraints = [
            *Calibrated.Meta.constraints,
            named_once("mark", "thermometer_marked_once"),
        ]

    def __str__(self) -> str:
        return self.mark


LARGEST_BORE_IN = 40.0
MOST_PADS_IN_TEST = 40
MOST_TAPE_IN = 1200.0


def tolerance_field(name: str) -> MeasuredField:
    """Return a field of how far a diameter may be from what it is said to be."""
    return MeasuredField(
        name, quantity=Quantity.DIAMETER, least=0, most=1, example="0.005", default=0.005
    )


def tape_field(name: str, *, example: str, **kwargs: Any) -> MeasuredField:
    """Return a field of what a tape reads."""
    return MeasuredField(
        name, quantity=Quantity.LENGTH, least=0, most=MOST_TAPE_IN, example=example, **kwargs
    )


def gauge_field(name: str, *, example: str, **kwargs: Any) -> MeasuredField:
    """Return a field of what a gauge reads."""
    return MeasuredField(
        name, quantity=Quantity.PRESSURE, least=0, most=MOST_SPAN_PSI, example=example, **kwargs
    )


class TestStand(Retirable):
    """A bench that stretches pads with a hydraulic cylinder."""

    __test__ = False  # A stand that tests, not a test for pytest to collect.

    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="test_stands")
    name = models.CharField(max_length=80, unique=True, validators=[check_name])
    bore_in = MeasuredField(
        "bore", quantity=Quantity.DIAMETER, least=0.25, most=LARGEST_BORE_IN, example="3.5"
    )
    rod_in = MeasuredField(
        "rod",
        quantity=Quantity.DIAMETER,
        least=0,
        most=LARGEST_BORE_IN,
        example="1.5",
        help_text="0 only where there is none: the rod end is then not to be tested on.",
    )
    bore_tolerance_in = tolerance_field("bore tolerance (±)")
    rod_tolerance_in = tolerance_field("rod tolerance (±)")
    bore_measured_on = models.DateField(
        null=True, blank=True, help_text="The day bore and rod were last measured."
    )
    bore_measured_by = models.CharField(
        max_length=80,
        blank=True,
        help_text="Who measured them and with what, such as an inside micrometer by its mark.",
    )
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            named_once("name", "test_stand_named_once"),
            models.CheckConstraint(
                name="test_stand_tolerances_possible",
                condition=Q(
                    bore_tolerance_in__gte=0,
                    bore_tolerance_in__lt=F("bore_in"),
                    rod_tolerance_in__gte=0,
                ),
            ),
            models.CheckConstraint(
                name="test_stand_cylinder_possible",
                condition=Q(
                    bore_in__gt=0,
                    bore_in__lte=LARGEST_BORE_IN,
                    rod_in__gte=0,
                    rod_in__lt=F("bore_in"),
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        super().clean()
        if self.bore_in is not None and self.rod_in is not None and self.rod_in >= self.bore_in:
            raise ValidationError(
                {
                    "rod_in": f"{self.rod_in:g} in is no narrower than the bore of "
                    f"{self.bore_in:g} in: give the rod's own diameter, 0 where there is none."
                }
            )

    def refuse_rod_end_without_rod(self, end: str) -> None:
        """Raise ValidationError at "end" where pressure can't act on the rod end: it has no rod.

        The force would be figured on the whole bore, too much by the rod's area.
        """
        if end == CylinderEnd.ROD and self.rod_in == 0.0:
            raise ValidationError(
                {
                    "end": f"Stand {self} has a rod of 0 in on record, so its cylinder has no rod "
                    "end: give the stand its rod first, or choose the blind end."
                }
            )


class OnAStand(models.Model):
    """Something pulled on a stand, with cylinder and instruments as they were that day.

    The stand may get others, the gauge a new certificate. Whatever it was has a stand, a gauge
    and a tape, and `pads_in_test`: how many shared the load.
    """

    pads_in_test: Any

    bore_in = models.FloatField()
    rod_in = models.FloatField()
    bore_tolerance_in = models.FloatField()
    rod_tolerance_in = models.FloatField()
    bore_measured_on = models.DateField(null=True)
    gauge_span_psi = models.FloatField()
    gauge_grade = models.CharField(max_length=2, choices=GAUGE_GRADES)
    gauge_resolution_psi = models.FloatField()
    gauge_certificate = models.CharField(max_length=80, blank=True)
    gauge_calibrated_on = models.DateField(null=True)
    gauge_due_on = models.DateField(null=True)
    gauge_calibration = models.ForeignKey(
        "ratings.GaugeCalibration", models.PROTECT, null=True, related_name="%(class)ss"
    )
    gauge_correction = models.JSONField(
        null=True,
        help_text="What the certificate's points make of its readings: points [shown, applied] "
        "psi, expanded_psi, coverage_factor, drift_psi; none where it was read as it is.",
    )
    tape_resolution_in = models.FloatField()
    tape_certificate = models.CharField(max_length=80, blank=True)
    tape_calibrated_on = models.DateField(null=True)
    tape_due_on = models.DateField(null=True)
    end = models.CharField("pressure acts on", max_length=5, choices=CYLINDER_ENDS)
    tape_datum_in = tape_field(
        "tape at rest (datum)",
        example="12.5",
        help_text="What the tape reads before the pads are stretched.",
    )
    gauge_zero_psi = gauge_field(
        "gauge at rest (zero)",
        example="0",
        default=0.0,
        help_text="What the gauge reads with no load on the pads.",
    )

    class Meta:
        abstract = True

    @property
    def correction(self) -> GaugeCorrection | None:
        """What the gauge's certificate says its readings are worth; None for as they are."""
        if self.gauge_correction is None:
            return None
        points = tuple((float(shown), float(at)) for shown, at in self.gauge_correction["points"])
        return GaugeCorrection(**self.gauge_correction | {"points": points})

    @property
    def set_up(self) -> BenchSetUp:
        """What the readings are reduced with."""
        return BenchSetUp(
            cylinder=Cylinder(self.bore_in, self.rod_in),
            end=self.end,
            pads_in_test=self.pads_in_test,
            tape_datum_in=self.tape_datum_in,
            gauge_zero_psi=self.gauge_zero_psi,
            correction=self.correction,
        )

    @property
    def instruments(self) -> Instruments:
        """What the budget of its rate needs to know of gauge, tape and cylinder."""
        return Instruments(
            gauge_grade=self.gauge_grade,
            gauge_span_psi=self.gauge_span_psi,
            gauge_resolution_psi=self.gauge_resolution_psi,
            tape_resolution_in=self.tape_resolution_in,
            bore_tolerance_in=self.bore_tolerance_in,
            rod_tolerance_in=self.rod_tolerance_in,
        )

    def is_gauge_in_calibration(self, day: date) -> bool:
        """Whether its gauge was in calibration on the day it was read."""
        return (
            self.gauge_calibrated_on is not None
            and self.gauge_due_on is not None
            and self.gauge_calibrated_on <= day <= self.gauge_due_on
        )


class BenchTest(OnAStand, Recorded):
    """Pads of a lot stretched on a stand, with what tape and gauge read."""

    lot = models.ForeignKey("fleet.PadLot", models.PROTECT, related_name="bench_tests")
    stand = models.ForeignKey(TestStand, models.PROTECT, related_name="bench_tests")
    gauge = models.ForeignKey("ratings.Gauge", models.PROTECT, related_name="bench_tests")
    tape = models.ForeignKey("ratings.Tape", models.PROTECT, related_name="bench_tests")
    thermometer = models.ForeignKey(
        "ratings.Thermometer", models.PROTECT, null=True, blank=True, related_name="bench_tests"
    )
    thermometer_calibrated_on = models.DateField(null=True)
    thermometer_due_on = models.DateField(null=True)
    pads_in_test = CountField("pads sharing the load", least=1, most=MOST_PADS_IN_TEST, example="2")
    tested_at = models.DateTimeField()
    conditioning_cycles = CountField(
        "conditioning cycles before",
        least=0,
        most=100,
        example="3",
        default=0,
        blank=True,
        help_text="How often the pads were stretched and let back before the first reading.",
    )
    rubber_temperature_f = MeasuredField(
        "rubber temperature",
        quantity=Quantity.TEMPERATURE,
        least=-40,
        most=200,
        example="68",
        null=True,
    )
    tape_after_in = tape_field(
        "tape after unloading",
        example="12.6",
        null=True,
        help_text="What it reads with the load taken off again: shows the permanent set.",
    )
    arrangement = models.CharField("how the pads were arranged", max_length=200, blank=True)
    witness = models.CharField(max_length=80, blank=True)
    photo = models.ImageField(upload_to="bench-tests/%Y", null=True)
    note = models.TextField(blank=True)
    corrects = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )

    objects = CorrectableQuerySet.as_manager()

    class Meta:
        ordering = ["-tested_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="bench_test_set_up_possible",
                condition=Q(
                    bore_in__gt=0,
                    rod_in__gte=0,
                    rod_in__lt=F("bore_in"),
                    pads_in_test__gte=1,
                    tape_datum_in__gte=0,
                    gauge_zero_psi__gte=0,
                ),
            ),
            models.CheckConstraint(
                name="bench_test_end_known", condition=Q(end__in=list(CYLINDER_ENDS))
            ),
        ]

    def __str__(self) -> str:
        return f"test {self.pk} of lot {self.lot}"

    @property
    def day(self) -> date:
        """The day it was tested, by the yard's own clock."""
        return timezone.localtime(self.tested_at).date()

    @property
    def is_for_rating(self) -> bool:
        """Whether its gauge was in calibration that day; a test that isn't is kept, not used."""
        return self.is_gauge_in_calibration(self.day)

    @property
    def permanent_set_in(self) -> float | None:
        if self.tape_after_in is None:
            return None
        set_in: float = self.tape_after_in - self.tape_datum_in
        return set_in

    @property
    def measured(self) -> list[CycleReading]:
        """The readings as they were entered."""
        return [row.measured for row in self.readings.all()]


class Reading(models.Model):
    """One reading of tape and gauge, in the order it was entered. Never edited."""

    number = models.PositiveSmallIntegerField()
    run = CountField("run", least=1, most=20, example="1", default=1, blank=True)
    branch = models.CharField(max_length=9, choices=BRANCHES, default=Branch.LOADING)
    tape_in = tape_field("tape", example="13.5")
    gauge_psi = gauge_field("gauge", example="200")

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return f"{self.tape_in:g} in, {self.gauge_psi:g} psi"

    @property
    def measured(self) -> CycleReading:
        """It as it was entered."""
        return CycleReading(self.tape_in, self.gauge_psi, self.run, Branch(self.branch))


class BenchReading(Reading):
    """A reading of a bench test."""

    test = models.ForeignKey(BenchTest, models.PROTECT, related_name="readings")

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(name="bench_reading_once", fields=["test", "number"]),
            models.CheckConstraint(
                name="bench_reading_not_negative", condition=Q(tape_in__gte=0, gauge_psi__gte=0)
            ),
        ]


class BenchPad(models.Model):
    """A pad of a bench test of which something was said: its mark, where it came from and went.

    Nothing need be said; a pad without a mark is no pad that another test can be held against.
    Never edited: a test that corrects this one says it again.
    """

    class Origin(models.TextChoices):
        NEW = "new", "new"
        FROM_SERVICE = "from service", "from service"

    class Fate(models.TextChoices):
        PUT_BACK = "put back", "put back"
        SCRAPPED = "scrapped", "scrapped"

    test = models.ForeignKey(BenchTest, models.PROTECT, related_name="pads")
    number = CountField("pad", least=1, most=MOST_PADS_IN_TEST, example="1")
    mark = models.CharField(
        "pad mark",
        max_length=40,
        blank=True,
        validators=[check_name],
        help_text="What is painted or stamped on the pad itself. The same mark in a later test "
        "of the lot is the same pad.",
    )
    origin = models.CharField("where from", max_length=12, choices=Origin, blank=True)
    housing = models.ForeignKey(
        "fleet.SuppressorHousing",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="bench_pads",
        verbose_name="out of housing",
    )
    side = models.CharField("side", max_length=1, choices=Side, blank=True)
    position = position_field(null=True)
    hours = hours_field("hours the pad worked", example="640", null=True)
    fate = models.CharField("after the test", max_length=8, choices=Fate, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(name="bench_pad_once", fields=["test", "number"]),
            models.UniqueConstraint(
                "test",
                Lower("mark"),
                name="bench_pad_marked_once",
                condition=~Q(mark=""),
                violation_error_message="Two pads of one test bear this mark.",
            ),
            models.CheckConstraint(
                name="bench_pad_words_known",
                condition=Q(number__gte=1, number__lte=MOST_PADS_IN_TEST)
                & Q(origin__in=["", "new", "from service"])
                & Q(side__in=["", *Side.values])
                & Q(fate__in=["", "put back", "scrapped"]),
            ),
            models.CheckConstraint(
                name="bench_pad_served_where_it_came_from",
                condition=Q(origin="from service")
                | Q(housing__isnull=True, side="", position__isnull=True, hours__isnull=True),
            ),
            models.CheckConstraint(
                name="bench_pad_position_whole",
                condition=Q(side="", position__isnull=True)
                | (
                    ~Q(side="")
                    & Q(
                        housing__isnull=False,
                        position__gte=1,
                        position__lte=MOST_POSITIONS_PER_SIDE,
                    )
                ),
            ),
            models.CheckConstraint(
                name="bench_pad_hours_in_range",
                condition=Q(hours__isnull=True) | Q(hours__gte=0, hours__lte=MOST_HOURS),
            ),
        ]

    def __str__(self) -> str:
        return self.mark or f"pad {self.number}"

    @property
    def place(self) -> str:
        """The position it came from as people say it, such as A3; "" where not known."""
        return f"{self.side}{self.position}" if self.side else ""
