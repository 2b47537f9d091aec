from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any, Self

from django.db import models
from django.db.models import F, OuterRef, Q, Subquery

from fleet.as_of import AsOf
from fleet.characters import check_name
from fleet.models.measured_fields import CountField, MeasuredField
from fleet.models.retirable import Retirable
from fleet.models.yard import named_once
from fleet.quantities import Quantity
from fleet.questions import among

if TYPE_CHECKING:
    from fleet.models.hammer import Hammer


class Side(models.TextChoices):
    A = "A", "side A"
    B = "B", "side B"


class Condition(models.TextChoices):
    """What an inspector finds at a pad position. Only sound pads count."""

    SOUND = "sound", "sound"
    CRACKED = "cracked", "cracked"
    DEBONDED = "debonded", "debonded"
    SWOLLEN = "swollen", "swollen"
    MISSING = "missing", "missing"


UNSOUND = (Condition.CRACKED, Condition.DEBONDED, Condition.SWOLLEN, Condition.MISSING)

MOST_POSITIONS_PER_SIDE = 24
LEAST_TRAVEL_IN = 0.1
LARGEST_TRAVEL_IN = 36.0
# What turning millimetres into inches may leave over: no tape reads it.
TRAVEL_ROUNDING_IN = 1e-6


def travel_field(name: str, **kwargs: Any) -> MeasuredField:
    """Return a field of a travel from rest to the stops."""
    return MeasuredField(
        name,
        quantity=Quantity.LENGTH,
        least=LEAST_TRAVEL_IN,
        most=LARGEST_TRAVEL_IN,
        example="5.5",
        **kwargs,
    )


def position_field(**kwargs: Any) -> CountField:
    """Return a field of the number of a pad position on its side."""
    return CountField(
        "position, counted from the top",
        least=1,
        most=MOST_POSITIONS_PER_SIDE,
        example="4",
        **kwargs,
    )


# Who counts pads at all counts every one, so that the last position stands for them.
_FULL_COUNT = Q(
    inspections__corrected_by__isnull=True,
    inspections__travel_in__isnull=False,
    inspections__pads__side=Side.B,
    inspections__pads__number=F("positions_per_side"),
)


class HousingQuerySet(models.QuerySet["SuppressorHousing"]):
    """Housings, and when somebody last looked at each."""

    def in_use(self) -> Self:
        """Those that are not taken out of use."""
        return self.filter(retired_on__isnull=True)

    def with_last_seen(self) -> Self:
        """Add when each was last inspected at all, and when fully; None where it never was.

        looked_at: of the last inspection of any kind, be it a bare note. counted_at: of the last
        full count, which counted every pad and taped the travel; only that one says that a unit
        is as it is rated. hammer_seen_at: of the last inspection of the hammer it hangs on today,
        whatever hung on that then. An inspection that was corrected was not seen so, and counts as
        neither.
        """
        looked = SuppressorHousing.objects.filter(
            pk=OuterRef("pk"),
            inspections__isnull=False,
            inspections__corrected_by__isnull=True,
        )
        full = SuppressorHousing.objects.filter(_FULL_COUNT, pk=OuterRef("pk"))
        seen_at = "inspections__seen_at"
        by_hammer = f"hammer__{seen_at}"
        hammer = Mounting.objects.current().filter(
            housing=OuterRef("pk"),
            hammer__inspections__isnull=False,
            hammer__inspections__corrected_by__isnull=True,
        )
        return self.annotate(
            looked_at=Subquery(looked.order_by(f"-{seen_at}").values(seen_at)[:1]),
            counted_at=Subquery(full.order_by(f"-{seen_at}").values(seen_at)[:1]),
            hammer_seen_at=Subquery(hammer.order_by(f"-{by_hammer}").values(by_hammer)[:1]),
        )

    def with_last_seen_as_of(self, as_of: AsOf) -> Self:
        """Add looked_at and counted_at, as `with_last_seen`, of a past moment."""
        stood = as_of.stood("seen_at", "inspections__")
        whole = Q(
            inspections__travel_in__isnull=False,
            inspections__pads__side=Side.B,
            inspections__pads__number=F("positions_per_side"),
        )
        full = SuppressorHousing.objects.filter(stood, whole, pk=OuterRef("pk"))
        seen = SuppressorHousing.objects.filter(stood, pk=OuterRef("pk"))
        last = "-inspections__seen_at", "inspections__seen_at"
        return self.annotate(
            looked_at=Subquery(seen.order_by(last[0]).values(last[1])[:1]),
            counted_at=Subquery(full.order_by(last[0]).values(last[1])[:1]),
        )

    def full_counts(
        self, housings: Iterable[int], since: datetime
    ) -> models.QuerySet[SuppressorHousing, tuple[int, datetime]]:
        """Return (housing, moment) of every full count of some housings since a moment."""
        counts = self.filter(_FULL_COUNT, inspections__seen_at__gte=since, pk__in=list(housings))
        return counts.order_by().values_list("pk", "inspections__seen_at")

    def hammers_seen(
        self, housings: Iterable[int], since: datetime
    ) -> models.QuerySet[Mounting, tuple[int, datetime]]:
        """Return (housing, moment) of every inspection since a moment of the hammer each is on.

        Of the hammer it hangs on today, whatever hung on that then.
        """
        seen = Mounting.objects.current().filter(
            housing__in=list(housings),
            hammer__inspections__seen_at__gte=since,
            hammer__inspections__corrected_by__isnull=True,
        )
        return seen.order_by().values_list("housing", "hammer__inspections__seen_at")


class SuppressorHousing(Retirable):
    """The frame between crane hook and exciter that holds the pads."""

    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="housings")
    mark = models.CharField(
        "yard mark",
        max_length=40,
        unique=True,
        help_text="What is painted on it.",
        validators=[check_name],
    )
    serial_number = models.CharField(max_length=80, blank=True)
    positions_per_side = CountField(
        "pad positions on each side",
        least=1,
        most=MOST_POSITIONS_PER_SIDE,
        example="12",
        help_text="Fixed once the housing is on record.",
    )
    design_travel_in = travel_field(
        "design travel",
        help_text="Stretch from rest to the stops as built, before any bumper.",
    )
    weight_lb = MeasuredField(
        "weight with its pads",
        quantity=Quantity.WEIGHT,
        least=0,
        above_least=True,
        most=200_000,
        example="4000",
        null=True,
        help_text="The crane and its rigging hold it, the pads don’t. Blank where nobody has "
        "weighed it.",
    )
    bumper = models.CharField(
        max_length=120,
        blank=True,
        help_text="What stands in the stop and shortens the travel.",
    )
    note = models.TextField(blank=True)

    # What the newest facts say; moved only by the recording functions.
    travel_in = travel_field("taped travel", null=True, editable=False)
    travel_seen_at = models.DateTimeField(null=True, editable=False)

    objects = HousingQuerySet.as_manager()

    class Meta:
        ordering = ["mark"]
        constraints = [
            named_once("mark", "housing_marked_once"),
            models.CheckConstraint(
                name="housing_positions_in_range",
                condition=Q(
                    positions_per_side__gte=1, positions_per_side__lte=MOST_POSITIONS_PER_SIDE
                ),
            ),
            models.CheckConstraint(
                name="housing_design_travel_in_range",
                condition=Q(design_travel_in__gt=0, design_travel_in__lte=LARGEST_TRAVEL_IN),
            ),
            models.CheckConstraint(
                name="housing_weight_not_negative",
                condition=Q(weight_lb__isnull=True) | Q(weight_lb__gte=0),
            ),
            models.CheckConstraint(
                name="housing_travel_in_range",
                condition=Q(travel_in__isnull=True)
                | Q(travel_in__gt=0, travel_in__lte=LARGEST_TRAVEL_IN),
            ),
            models.CheckConstraint(
                name="housing_travel_dated",
                condition=Q(travel_in__isnull=True, travel_seen_at__isnull=True)
                | Q(travel_in__isnull=False, travel_seen_at__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return self.mark

    def is_beyond_design(self, travel_in: float) -> bool:
        """Whether a travel is longer than the housing was built for."""
        return bool(travel_in > self.design_travel_in + TRAVEL_ROUNDING_IN)

    @property
    def is_taped_beyond_design(self) -> bool:
        """Whether the travel last taped is longer than the housing was built for."""
        return self.travel_in is not None and self.is_beyond_design(self.travel_in)

    @property
    def position_keys(self) -> list[tuple[str, int]]:
        """Every pad position as (side, number), side A first, from the top down."""
        numbers = range(1, self.positions_per_side + 1)
        return [(side.value, number) for side in Side for number in numbers]


class PadPosition(models.Model):
    """A place for one pad, and what the newest facts say is in it."""

    housing = models.ForeignKey(SuppressorHousing, models.PROTECT, related_name="positions")
    side = models.CharField(max_length=1, choices=Side)
    number = position_field()
    condition = models.CharField(
        max_length=10, choices=Condition, blank=True, help_text="Blank until first counted."
    )
    lot = models.ForeignKey(
        "fleet.PadLot", models.PROTECT, null=True, blank=True, related_name="positions"
    )
    seen_at = models.DateTimeField(null=True)
    was = models.CharField(
        max_length=10,
        choices=Condition,
        blank=True,
        help_text="What a sound pad was found to be before, since no new one was fitted.",
    )
    said_sound_at = models.DateTimeField(
        null=True,
        help_text="When a pad that counts as unsound was said to be sound, with neither a new one "
        "fitted nor a second look.",
    )

    class Meta:
        ordering = ["side", "number"]
        constraints = [
            models.UniqueConstraint(name="pad_position_once", fields=["housing", "side", "number"]),
            models.CheckConstraint(
                name="pad_position_side_known", condition=Q(side__in=Side.values)
            ),
            models.CheckConstraint(
                name="pad_position_numbered_from_one", condition=Q(number__gte=1)
            ),
            models.CheckConstraint(
                name="pad_position_condition_known",
                condition=Q(condition="") | Q(condition__in=Condition.values),
            ),
            models.CheckConstraint(
                name="pad_position_missing_has_no_lot",
                condition=~Q(condition__in=["", Condition.MISSING]) | Q(lot__isnull=True),
            ),
            models.CheckConstraint(
                name="pad_position_seen_when_known",
                condition=Q(condition="", seen_at__isnull=True)
                | (~Q(condition="") & Q(seen_at__isnull=False)),
            ),
            models.CheckConstraint(
                name="pad_position_was_unsound",
                condition=Q(was="") | Q(was__in=UNSOUND, condition=Condition.SOUND),
            ),
            models.CheckConstraint(
                name="pad_position_waits_while_unsound",
                condition=Q(said_sound_at__isnull=True) | Q(condition__in=UNSOUND),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.side}{self.number}"


class MountingQuerySet(models.QuerySet["Mounting"]):
    """Mountings, by when they hold."""

    def current(self) -> Self:
        """Those of today: the housing is not taken off."""
        return self.filter(removed_at__isnull=True)

    def hammers_by_housing(self, housing_ids: Iterable[int]) -> dict[int, Hammer]:
        """The hammer that each of some housings is on today, by the housing's key."""
        return self.current_of(list(housing_ids)).by_housing()

    def current_of(self, housing_ids: Sequence[int]) -> Self:
        """Those of today of some housings, each with its hammer, and no more of them."""
        of_housings = self.current().filter(among("housing", housing_ids))
        return of_housings.select_related("hammer").only("housing", "hammer")

    def by_housing(self) -> dict[int, Hammer]:
        """The hammer that each of these mountings says, by the housing's key."""
        mountings = self.select_related("hammer").only("housing", "hammer")
        return {mounting.housing_id: mounting.hammer for mounting in mountings}

    def at(self, moment: datetime) -> Self:
        """Those of a moment."""
        return self.filter(mounted_at__lte=moment).exclude(removed_at__lte=moment)


class Mounting(models.Model):
    """A suppressor housing on a hammer, from one time to another."""

    housing = models.ForeignKey("fleet.SuppressorHousing", models.PROTECT, related_name="mountings")
    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, related_name="mountings")
    mounted_at = models.DateTimeField()
    removed_at = models.DateTimeField(null=True, blank=True)

    objects = MountingQuerySet.as_manager()

    class Meta:
        ordering = ["-mounted_at"]
        constraints = [
            models.UniqueConstraint(
                name="housing_on_one_hammer", fields=["housing"], condition=Q(removed_at=None)
            ),
            models.UniqueConstraint(
                name="hammer_under_one_housing", fields=["hammer"], condition=Q(removed_at=None)
            ),
            models.CheckConstraint(
                name="mounting_ends_after_it_begins",
                condition=Q(removed_at__isnull=True) | Q(removed_at__gte=F("mounted_at")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.housing} on {self.hammer}"
