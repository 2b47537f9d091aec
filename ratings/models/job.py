from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from fleet import clock
from fleet.characters import check_name
from fleet.dates import day_words
from fleet.models.recorded import RecordedBy
from ratings.mechanics.extraction.job import PullMethod
from ratings.models.choices import LAYER_KINDS, PILE_KINDS, PULL_METHODS


class PileSection(RecordedBy):
    """A section the yard added to the table of generic shapes."""

    name = models.CharField(max_length=80, unique=True, validators=[check_name])
    kind = models.CharField(max_length=10, choices=PILE_KINDS)
    area_in2 = models.FloatField()
    weight_lb_ft = models.FloatField()
    perimeter_in = models.FloatField()
    plug_area_in2 = models.FloatField(default=0.0, help_text="Of the soil within, where plugged.")
    source = models.CharField(max_length=160)

    class Meta:
        ordering = ["kind", "name"]
        constraints = [
            models.CheckConstraint(
                name="pile_section_in_range",
                condition=Q(
                    kind__in=list(PILE_KINDS),
                    area_in2__gt=0,
                    weight_lb_ft__gt=0,
                    perimeter_in__gt=0,
                    plug_area_in2__gte=0,
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class SoilTemplate(RecordedBy):
    """A soil profile the yard kept to start other jobs from.

    layers: as ratings.mechanics.soil.Layer writes them, from the ground down.
    """

    name = models.CharField(max_length=80, unique=True, validators=[check_name])
    water_depth_ft = models.FloatField(null=True, blank=True)
    layers = models.JSONField()
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class ExtractionJob(models.Model):
    """A pile to be pulled: where, when, out of what ground and by which crane.

    A working paper that changes until it is right. What a unit was committed on is kept apart,
    for good, as a JobAnswer. Fields of the mechanics' Job, Pile, Crane and SetUp bear the names
    they have there.
    """

    site = models.CharField(max_length=120)
    first_day = models.DateField()
    last_day = models.DateField()
    note = models.TextField(blank=True)

    pile_kind = models.CharField(max_length=10, choices=PILE_KINDS)
    section = models.CharField(max_length=80, blank=True, help_text="Blank where entered.")
    area_in2 = models.FloatField(null=True)
    weight_lb_ft = models.FloatField()
    perimeter_in = models.FloatField()
    length_ft = models.FloatField()
    embedment_ft = models.FloatField()
    is_plugged = models.BooleanField(default=False)
    plug_area_in2 = models.FloatField(null=True)
    yield_strength_ksi = models.FloatField(null=True)
    tension_limit_lbf = models.FloatField(null=True)

    water_depth_ft = models.FloatField(null=True)
    set_up_low = models.FloatField(default=1.0)
    set_up_expected = models.FloatField(default=1.0)
    set_up_high = models.FloatField(default=1.0)

    capacity_lbf = models.FloatField(null=True)
    hook_block_lb = models.FloatField(default=0.0)
    rigging_weight_lb = models.FloatField(default=0.0)
    rigging_limit_lbf = models.FloatField(null=True)
    legs = models.PositiveSmallIntegerField(default=1)
    leg_angle_deg = models.FloatField(default=90.0)
    method = models.CharField(
        max_length=40, choices=PULL_METHODS, default=PullMethod.VIBRATING.value
    )
    haul_limit_mi = models.FloatField(null=True)

    submission_id = models.UUIDField(unique=True)
    created_at = models.DateTimeField(default=clock.now, editable=False)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    changed_at = models.DateTimeField(default=clock.now, editable=False)
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-first_day", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="job_ends_after_it_begins", condition=Q(last_day__gte=F("first_day"))
            ),
            models.CheckConstraint(
                name="job_pile_in_range",
                condition=Q(
                    pile_kind__in=list(PILE_KINDS),
                    weight_lb_ft__gt=0,
                    perimeter_in__gt=0,
                    length_ft__gt=0,
                    embedment_ft__gt=0,
                    embedment_ft__lte=F("length_ft"),
                ),
            ),
            models.CheckConstraint(
                name="job_set_up_rises",
                condition=Q(
                    set_up_low__gt=0,
                    set_up_expected__gte=F("set_up_low"),
                    set_up_high__gte=F("set_up_expected"),
                ),
            ),
            models.CheckConstraint(
                name="job_rigging_in_range",
                condition=Q(
                    hook_block_lb__gte=0,
                    rigging_weight_lb__gte=0,
                    legs__gte=1,
                    leg_angle_deg__gt=0,
                    leg_angle_deg__lte=90,
                    method__in=list(PULL_METHODS),
                )
                & (
                    Q(rigging_limit_lbf__isnull=True)
                    | Q(rigging_limit_lbf__gte=F("rigging_weight_lb"))
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.site}, {day_words(self.first_day)}"


class SoilLayer(models.Model):
    """A layer of ground at a job, as the mechanics' Layer has it."""

    job = models.ForeignKey(ExtractionJob, models.CASCADE, related_name="layers")
    place = models.PositiveSmallIntegerField(help_text="From 0 at the ground.")
    kind = models.CharField(max_length=10, choices=LAYER_KINDS)
    top_ft = models.FloatField()
    bottom_ft = models.FloatField()
    unit_weight_lb_ft3 = models.FloatField()
    undrained_strength_psf = models.FloatField(null=True)
    density = models.CharField(max_length=40, blank=True)
    friction_psf = models.FloatField(null=True)
    soil = models.CharField(max_length=80, blank=True)
    vibration_factor = models.FloatField(null=True)
    needed_amplitude_in = models.FloatField(null=True)

    class Meta:
        ordering = ["place"]
        constraints = [
            models.UniqueConstraint(name="layer_once_in_its_place", fields=["job", "place"]),
            models.CheckConstraint(
                name="layer_has_thickness",
                condition=Q(top_ft__gte=0, bottom_ft__gt=F("top_ft"), unit_weight_lb_ft3__gt=0),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind}, {self.top_ft:g} to {self.bottom_ft:g} ft"


class YardDistance(models.Model):
    """How far a yard is from a job, where somebody entered it."""

    job = models.ForeignKey(ExtractionJob, models.CASCADE, related_name="distances")
    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="+")
    distance_mi = models.FloatField()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_distance_of_a_yard", fields=["job", "yard"]),
            models.CheckConstraint(
                name="yard_distance_not_negative", condition=Q(distance_mi__gte=0)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.yard}: {self.distance_mi:g} mi"
