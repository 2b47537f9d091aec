from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from fleet import clock
from fleet.characters import check_name
from fleet.dates import day_words
from fleet.models.measured_fields import CountField, MeasuredField
from fleet.models.recorded import Recorded, RecordedBy
from fleet.quantities import Quantity
from fleet.signers import signer_words
from ratings.mechanics.extraction.job import PullMethod
from ratings.mechanics.soil import Layer
from ratings.models.choices import HOLD_KINDS, LAYER_KINDS, PILE_ENDS, PILE_KINDS, PULL_METHODS


def _area(**more: Any) -> MeasuredField:
    return MeasuredField(
        "area of its material",
        quantity=Quantity.AREA,
        least=0.5,
        most=20_000,
        example="15.5",
        **more,
    )


def _weight(**more: Any) -> MeasuredField:
    return MeasuredField(
        "weight", quantity=Quantity.LINE_WEIGHT, least=1, most=20_000, example="53", **more
    )


def _perimeter(**more: Any) -> MeasuredField:
    return MeasuredField(
        "perimeter for friction",
        quantity=Quantity.LENGTH,
        least=1,
        most=4_000,
        example="47.65",
        **more,
    )


def _plug_area(**more: Any) -> MeasuredField:
    return MeasuredField(
        "area of the plug", quantity=Quantity.AREA, least=0, most=20_000, example="126", **more
    )


def _water_depth() -> MeasuredField:
    return MeasuredField(
        "depth of the water level",
        quantity=Quantity.DEPTH,
        least=-500,
        most=500,
        example="5",
        null=True,
        help_text="Below the ground, with a minus where water stands above it. Blank: no water.",
    )


class PileSection(RecordedBy):
    """A pile section a job can choose, with what the extraction check needs of it.

    On record where the yard added it to the table of generic shapes.
    """

    name = models.CharField(
        max_length=80, unique=True, validators=[check_name], help_text="As it is to be chosen."
    )
    kind = models.CharField(max_length=10, choices=PILE_KINDS)
    area_in2 = _area()
    weight_lb_ft = _weight()
    perimeter_in = _perimeter(
        help_text="What the ground rubs on; of an H-pile commonly the box, 2(d + b)."
    )
    plug_area_in2 = _plug_area(
        default=0.0, blank=True, help_text="Of the soil within, should it come out plugged."
    )
    source = models.CharField(max_length=160, help_text="Where these figures are from.")

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
    """A soil profile to start jobs from; on record where the yard kept it.

    layers: as ratings.mechanics.soil.Layer writes them, from the ground down.
    """

    name = models.CharField(
        max_length=80, unique=True, validators=[check_name], help_text="As it is to be chosen."
    )
    water_depth_ft = _water_depth()
    layers = models.JSONField()
    note = models.CharField(
        max_length=200, blank=True, help_text="Such as the borings it rests on."
    )

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def ground(self) -> tuple[Layer, ...]:
        """Its layers as the mechanics take them."""
        return tuple(Layer(**layer) for layer in self.layers)


class ExtractionJobQuerySet(models.QuerySet["ExtractionJob"]):
    """Questions about jobs."""

    def with_deepest(self) -> ExtractionJobQuerySet:
        """Each with the depth of its deepest toe, ft, as `deepest_ft`, the latest job first."""
        found = self.annotate(deepest_ft=models.Max("pile_groups__embedment_ft"))
        # Where rows are grouped, the order of the model is left out.
        return found.order_by("-first_day", "-pk")


class ExtractionJob(models.Model):
    """Piles to be pulled: where, when, out of what ground and by which crane.

    A working paper that changes until it is right. What a unit was committed on is kept apart,
    for good, as a JobAnswer. Fields of the mechanics' Job, Crane and SetUp bear the names they
    have there; the piles are its PileGroup rows.
    """

    site = models.CharField(max_length=120)
    address = models.CharField(
        max_length=300,
        blank=True,
        help_text="In words, as a driver finds it: road, gate, which bank.",
    )
    first_day = models.DateField()
    last_day = models.DateField()
    units_needed = CountField(
        "units it needs at once",
        least=1,
        most=20,
        example="2",
        default=1,
        blank=True,
        help_text="Blank: one. A plan of several jobs finds as many as this.",
    )
    note = models.TextField(blank=True)

    water_depth_ft = _water_depth()
    set_up_low = MeasuredField("set-up, low", least=0.1, most=20, example="1.0", default=1.0)
    set_up_expected = MeasuredField(
        "set-up, expected", least=0.1, most=20, example="1.2", default=1.0
    )
    set_up_high = MeasuredField("set-up, high", least=0.1, most=20, example="1.5", default=1.0)

    days_since_driving = CountField(
        "days since it was driven",
        least=0,
        most=73_000,
        example="730",
        null=True,
        help_text="The ground gains on a pile that stands. Blank: not known.",
    )
    frost_days = CountField(
        "days of frost by then",
        least=0,
        most=365,
        example="20",
        null=True,
        help_text="Frozen ground grips a pile. Put a figure on it among the other holds.",
    )

    capacity_lbf = MeasuredField(
        "crane capacity for this pull",
        quantity=Quantity.FORCE,
        least=100,
        most=20_000_000,
        example="100000",
        null=True,
        help_text="Read it from the crane’s own chart for this radius. Blank: no unit can be "
        "judged suitable.",
    )
    radius_ft = MeasuredField(
        "radius of that figure",
        quantity=Quantity.DEPTH,
        least=1,
        most=600,
        example="40",
        null=True,
    )
    boom_ft = MeasuredField(
        "boom of that figure",
        quantity=Quantity.DEPTH,
        least=5,
        most=1_000,
        example="120",
        null=True,
    )
    parts_of_line = CountField(
        least=1,
        most=40,
        example="4",
        null=True,
        help_text="Of the hoist rope, at the hook block.",
    )
    line_limit_lbf = MeasuredField(
        "permissible pull of one part",
        quantity=Quantity.FORCE,
        least=100,
        most=2_000_000,
        example="18000",
        null=True,
        help_text="Of the hoist rope, from the crane’s papers.",
    )
    is_on_barge = models.BooleanField("the crane stands on a barge", default=False)
    barge_note = models.CharField(
        "list and trim",
        max_length=200,
        blank=True,
        help_text="What the chart takes off for list and trim, and by which page of it.",
    )
    headroom_ft = MeasuredField(
        "headroom",
        quantity=Quantity.DEPTH,
        least=1,
        most=1_000,
        example="60",
        null=True,
        help_text="From the ground to what hangs above. Blank: none that matters.",
    )
    vibration_limit_in_s = MeasuredField(
        "vibration limit of a neighbour",
        quantity=Quantity.GROUND_VELOCITY,
        least=0.001,
        most=20,
        example="0.5",
        null=True,
        help_text="Peak particle velocity. It prints on the sheet; nothing is calculated of it.",
    )
    vibration_note = models.CharField(
        "which neighbour",
        max_length=200,
        blank=True,
        help_text="What stands there, how far, who watches it.",
    )
    hook_block_lb = MeasuredField(
        "hook block",
        quantity=Quantity.WEIGHT,
        least=0,
        most=2_000_000,
        example="1500",
        default=0.0,
        blank=True,
    )
    rigging_weight_lb = MeasuredField(
        "rigging weight",
        quantity=Quantity.WEIGHT,
        least=0,
        most=2_000_000,
        example="500",
        default=0.0,
        blank=True,
        help_text="All between hook and housing.",
    )
    rigging_limit_lbf = MeasuredField(
        "working load limit of one leg",
        quantity=Quantity.FORCE,
        least=100,
        most=20_000_000,
        example="50000",
        null=True,
        help_text="As tagged on the sling or shackle, the weakest of them.",
    )
    legs = CountField(
        least=1,
        most=4,
        example="2",
        default=1,
        help_text="More than two count as two: a housing is rigid and may hang on two.",
    )
    leg_angle_deg = MeasuredField(
        "angle of a leg, degrees",
        least=30,
        most=90,
        example="60",
        default=90.0,
        help_text="From the level: 90 hangs straight down.",
    )
    indicator = models.ForeignKey(
        "ratings.LoadIndicator",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="jobs",
        verbose_name="load indicator that watches the pull",
        help_text="Of the yard’s: its calibration is to last to the last day. Blank: not said yet.",
    )
    method = models.CharField(
        "how it is pulled", max_length=40, choices=PULL_METHODS, default=PullMethod.VIBRATING.value
    )
    haul_limit_mi = MeasuredField(
        "farthest haul",
        quantity=Quantity.DISTANCE,
        least=0,
        most=10_000,
        example="150",
        null=True,
        help_text="Units in a yard farther than this don’t suit. Blank: it is all one.",
    )

    version = models.PositiveIntegerField(
        default=1, editable=False, help_text="Counts up with each save that changes anything."
    )
    submission_id = models.UUIDField(unique=True)
    created_at = models.DateTimeField(default=clock.now, editable=False)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    changed_at = models.DateTimeField(default=clock.now, editable=False)
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    objects = ExtractionJobQuerySet.as_manager()

    class Meta:
        ordering = ["-first_day", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="job_ends_after_it_begins", condition=Q(last_day__gte=F("first_day"))
            ),
            models.CheckConstraint(
                name="job_needs_a_unit", condition=Q(units_needed__gte=1, units_needed__lte=20)
            ),
            models.CheckConstraint(
                name="job_notes_of_something",
                condition=(Q(barge_note="") | Q(is_on_barge=True))
                & (Q(parts_of_line__isnull=True) | Q(parts_of_line__gte=1)),
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

    @property
    def distances_mi(self) -> dict[int, float]:
        """How far each yard is from the site, by the yard's key, where it was entered."""
        return {each.yard_id: each.distance_mi for each in self.distances.all()}


class JobVersion(Recorded):
    """What a job was as of one save, for good. document: canonical JSON of all that it asks."""

    job = models.ForeignKey(ExtractionJob, models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    document = models.TextField()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(name="job_version_once", fields=["job", "number"]),
            models.CheckConstraint(name="job_version_counts_from_1", condition=Q(number__gte=1)),
        ]

    def __str__(self) -> str:
        return f"{self.job}, version {self.number}"

    @property
    def contents(self) -> dict[str, Any]:
        """The document, read."""
        found: dict[str, Any] = json.loads(self.document)
        return found


class AttachmentKind(models.TextChoices):
    """What a file beside a job is."""

    BORING = "boring", "boring log"
    CHART = "chart page", "page of the crane’s chart"
    PHOTO = "photo", "photo"
    OTHER = "other", "other"


class AttachmentQuerySet(models.QuerySet["JobAttachment"]):
    """Questions about the files beside jobs."""

    def standing(self) -> AttachmentQuerySet:
        """Those nobody withdrew."""
        return self.filter(withdrawal__isnull=True)


class JobAttachment(Recorded):
    """A file beside a job: a boring, a page of the chart, a photo. Kept even where withdrawn."""

    job = models.ForeignKey(ExtractionJob, models.PROTECT, related_name="attachments")
    kind = models.CharField("what it is", max_length=12, choices=AttachmentKind.choices)
    title = models.CharField(max_length=120, help_text="Such as “Boring 3, north bank”.")
    file = models.FileField(upload_to="jobs/")
    content_type = models.CharField(max_length=40)
    size_bytes = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)

    objects = AttachmentQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="job_attachment_known",
                condition=Q(
                    kind__in=AttachmentKind.values,
                    content_type__in=["application/pdf", "image/jpeg"],
                )
                & ~Q(title=""),
            ),
        ]

    def __str__(self) -> str:
        return self.title


class AttachmentWithdrawal(Recorded):
    """That a file beside a job counts no more, and why."""

    attachment = models.OneToOneField(JobAttachment, models.PROTECT, related_name="withdrawal")
    reason = models.CharField("why", max_length=200)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="attachment_withdrawn_for_a_reason", condition=~Q(reason="")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.attachment}, withdrawn"

    @property
    def who(self) -> str:
        """By whom, as people are named."""
        return signer_words(self)


class PileGroup(models.Model):
    """Like piles of a job: how many, and one of them as the mechanics' Pile has it."""

    job = models.ForeignKey(ExtractionJob, models.CASCADE, related_name="pile_groups")
    place = models.PositiveSmallIntegerField(help_text="From 0, in the order they were entered.")
    label = models.CharField(
        "what they are called",
        max_length=60,
        blank=True,
        help_text="Such as “north row”. Blank: the section.",
    )
    count = CountField("how many", least=1, most=10_000, example="12", default=1, blank=True)
    kind = models.CharField("kind of pile", max_length=10, choices=PILE_KINDS)
    section = models.CharField(
        max_length=80,
        blank=True,
        help_text="Fills in kind, area, weight, perimeter and plug. Blank: entered below.",
    )
    # A section fills in what is left blank of these two; no job is saved without.
    weight_lb_ft = _weight(blank=True)
    perimeter_in = _perimeter(
        blank=True,
        help_text="What the ground rubs on. For H-piles the table has the box, 2(d + b).",
    )
    area_in2 = _area(null=True)
    length_ft = MeasuredField(
        "length of the pile", quantity=Quantity.DEPTH, least=0.5, most=500, example="50"
    )
    embedment_ft = MeasuredField(
        "embedment",
        quantity=Quantity.DEPTH,
        least=0.5,
        most=500,
        example="40",
        help_text="From the ground to the toe.",
    )
    end = models.CharField(
        "end of the pipe",
        max_length=20,
        choices=PILE_ENDS,
        blank=True,
        help_text="Asked of pipes. Not known: the worse of inside friction and plug counts.",
    )
    inside_perimeter_in = MeasuredField(
        "perimeter inside",
        quantity=Quantity.LENGTH,
        least=1,
        most=4_000,
        example="44.5",
        null=True,
        help_text="What the soil within rubs on. Blank: that of a round pipe with this plug.",
    )
    is_plugged = models.BooleanField("it comes out plugged with soil", default=False)
    plug_area_in2 = _plug_area(
        null=True, help_text="Of the soil within, across; its weight comes up with the pile."
    )
    yield_strength_ksi = MeasuredField(
        "yield strength", quantity=Quantity.STRENGTH, least=1, most=200, example="50", null=True
    )
    tension_limit_lbf = MeasuredField(
        "tension limit",
        quantity=Quantity.FORCE,
        least=100,
        most=100_000_000,
        example="100000",
        null=True,
        help_text="Where somebody gives one. Timber and concrete need it: without it the check "
        "of tension is not known.",
    )

    class Meta:
        ordering = ["place"]
        constraints = [
            models.UniqueConstraint(name="pile_group_once_in_its_place", fields=["job", "place"]),
            models.CheckConstraint(
                name="pile_group_in_range",
                condition=Q(
                    kind__in=list(PILE_KINDS),
                    count__gte=1,
                    weight_lb_ft__gt=0,
                    perimeter_in__gt=0,
                    length_ft__gt=0,
                    embedment_ft__gt=0,
                    embedment_ft__lte=F("length_ft"),
                ),
            ),
            # How a pipe holds soil its end says; of any other pile, whether it comes out plugged.
            models.CheckConstraint(
                name="pile_group_end_of_a_pipe",
                condition=Q(kind="pipe", is_plugged=False, end__in=["", *PILE_ENDS])
                | (~Q(kind="pipe") & Q(end="")),
            ),
            models.CheckConstraint(
                name="pile_group_inside_within",
                condition=Q(inside_perimeter_in__isnull=True)
                | Q(inside_perimeter_in__gt=0, inside_perimeter_in__lt=F("perimeter_in")),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def name(self) -> str:
        """What people call them: the label, else the section, else the kind."""
        return self.label or self.section or self.get_kind_display()


class JobHold(models.Model):
    """What else holds the piles of a job, as the mechanics' OtherHold has it."""

    job = models.ForeignKey(ExtractionJob, models.CASCADE, related_name="holds")
    place = models.PositiveSmallIntegerField(help_text="From 0, in the order they were entered.")
    kind = models.CharField("what holds", max_length=30, choices=HOLD_KINDS)
    force_lbf = MeasuredField(
        "force of the whole",
        quantity=Quantity.FORCE,
        least=0,
        most=20_000_000,
        example="10000",
        null=True,
        help_text="Blank with no force per length either: told as left out of the figure.",
    )
    per_ft_lbf = MeasuredField(
        "or force per length",
        quantity=Quantity.LINE_FORCE,
        least=0,
        most=1_000_000,
        example="150",
        null=True,
    )
    length_ft = MeasuredField(
        "over a length of",
        quantity=Quantity.DEPTH,
        least=0.1,
        most=500,
        example="20",
        null=True,
        help_text="Blank: the whole embedment.",
    )
    note = models.CharField(max_length=200, help_text="What it is, and where its figure is from.")

    class Meta:
        ordering = ["place"]
        constraints = [
            models.UniqueConstraint(name="hold_once_in_its_place", fields=["job", "place"]),
            models.CheckConstraint(
                name="hold_known",
                condition=Q(kind__in=list(HOLD_KINDS))
                & ~Q(note="")
                & (Q(force_lbf__isnull=True) | Q(per_ft_lbf__isnull=True))
                & (Q(length_ft__isnull=True) | Q(per_ft_lbf__isnull=False)),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind}: {self.note}"


# What a penetration test gives of a layer.
TESTED = ("spt_blows_ft", "cone_psf", "is_silty")


class SoilLayer(models.Model):
    """A layer of ground at a job, as the mechanics' Layer has it."""

    job = models.ForeignKey(ExtractionJob, models.CASCADE, related_name="layers")
    place = models.PositiveSmallIntegerField(help_text="From 0 at the ground.")
    kind = models.CharField(max_length=10, choices=LAYER_KINDS)
    top_ft = MeasuredField(
        "from",
        quantity=Quantity.DEPTH,
        least=0,
        most=1_000,
        example="10",
        blank=True,
        help_text="Blank: where the layer above ends.",
    )
    bottom_ft = MeasuredField(
        "to", quantity=Quantity.DEPTH, least=0, above_least=True, most=2_000, example="25"
    )
    unit_weight_lb_ft3 = MeasuredField(
        "unit weight",
        quantity=Quantity.UNIT_WEIGHT,
        least=30,
        most=250,
        example="120",
        help_text="Total, with the water in it.",
    )
    undrained_strength_psf = MeasuredField(
        "undrained strength",
        quantity=Quantity.STRESS,
        least=1,
        most=50_000,
        example="1000",
        null=True,
        help_text="For the alpha method.",
    )
    density = models.CharField(max_length=40, blank=True)
    spt_blows_ft = MeasuredField(
        "SPT blows per foot",
        least=0,
        most=100,
        example="15",
        null=True,
        help_text="Not corrected. In place of density class or strength where these are not known.",
    )
    cone_psf = MeasuredField(
        "cone resistance of a CPT",
        quantity=Quantity.STRESS,
        least=1,
        most=2_506_000,
        example="100000",
        null=True,
        help_text="In place of density class or strength where these are not known.",
    )
    is_silty = models.BooleanField("sand with silt", default=False)
    correlation = models.CharField(
        max_length=300, blank=True, help_text="How density or strength came of the test."
    )
    friction_psf = MeasuredField(
        "unit friction",
        quantity=Quantity.STRESS,
        least=0,
        most=50_000,
        example="400",
        null=True,
        help_text="Static; entered, it stands in place of the method’s.",
    )
    soil = models.CharField(max_length=80, blank=True)
    vibration_factor = MeasuredField(
        least=0.01,
        most=1,
        example="0.2",
        null=True,
        help_text="What the soil keeps of its hold, such as 0.2 of it.",
    )
    needed_amplitude_in = MeasuredField(
        "amplitude it needs",
        quantity=Quantity.DIAMETER,
        least=0,
        most=10,
        example="0.16",
        null=True,
        help_text="From peak to peak.",
    )

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
    distance_mi = MeasuredField(
        "distance", quantity=Quantity.DISTANCE, least=0, most=10_000, example="40"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_distance_of_a_yard", fields=["job", "yard"]),
            models.CheckConstraint(
                name="yard_distance_not_negative", condition=Q(distance_mi__gte=0)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.yard}: {self.distance_mi:g} mi"
