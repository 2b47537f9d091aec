from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from fleet.dates import days_words
from fleet.models.measured_fields import MeasuredField
from fleet.models.recorded import Recorded
from fleet.quantities import Quantity

FARTHEST_HAUL_MI = 10_000


def haul_field(verbose_name: str, **more: object) -> MeasuredField:
    """Return a field of miles by road from one place to another."""
    return MeasuredField(
        verbose_name,
        quantity=Quantity.DISTANCE,
        least=0,
        most=FARTHEST_HAUL_MI,
        example="140",
        **more,  # type: ignore[arg-type]
    )


class YardHaulQuerySet(models.QuerySet["YardHaul"]):
    """Distances between yards."""

    def in_force(self) -> dict[tuple[int, int], float]:
        """Miles between two yards, by their keys in either order: what was recorded last."""
        found: dict[tuple[int, int], float] = {}
        for one, other, haul_mi in self.order_by("pk").values_list(
            "one_yard", "other_yard", "haul_mi"
        ):
            found[one, other] = found[other, one] = haul_mi
        return found


class YardHaul(Recorded):
    """How far two yards are from each other by road. The last recorded of a pair holds."""

    one_yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="+")
    other_yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="+")
    haul_mi = haul_field("distance", help_text="By the road a low loader takes.")

    objects = YardHaulQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        verbose_name = "distance between yards"
        verbose_name_plural = "distances between yards"
        constraints = [
            # The yard of the lower key first, so that a pair is one pair whichever was named first.
            models.CheckConstraint(
                name="yard_haul_between_two", condition=Q(one_yard__lt=F("other_yard"))
            ),
            models.CheckConstraint(
                name="yard_haul_in_range",
                condition=Q(haul_mi__gte=0, haul_mi__lte=FARTHEST_HAUL_MI),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.one_yard} to {self.other_yard}: {self.haul_mi:g} mi"


class TransferQuerySet(models.QuerySet["Transfer"]):
    """Transfers, by whether they are done."""

    def open(self) -> Self:
        """Those planned or on the way: neither arrived nor cancelled."""
        return self.filter(end__isnull=True)

    def open_by_housing(self, housing_ids: Iterable[int] | None = None) -> dict[int, Transfer]:
        """The open transfer of each housing that has one, by its key: it has one at the most."""
        found = self.open().filter(housing__isnull=False).select_related("origin", "goal")
        if housing_ids is not None:
            found = found.filter(housing__in=list(housing_ids))
        return {each.housing_id: each for each in found if each.housing_id is not None}

    def during(self, first_day: date, last_day: date) -> list[Transfer]:
        """Those that are on the way on any of some days, both ends included."""
        begun = self.exclude(end__kind=TransferEnd.CANCELLED).filter(leaves_on__lte=last_day)
        listed = begun.select_related("origin", "goal", "end").order_by("leaves_on", "pk")
        return [each for each in listed if each.last_day_away >= first_day]


class Transfer(Recorded):
    """A housing with its hammer, or a hammer by itself, sent from one yard to another.

    Planned when recorded; a TransferEnd says that it arrived, or that it is cancelled.
    hammer: of a housing's transfer the hammer it was on when planned; what comes along is the
    one it is on when it arrives.
    """

    housing = models.ForeignKey(
        "fleet.SuppressorHousing", models.PROTECT, null=True, related_name="transfers"
    )
    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, null=True, related_name="transfers")
    origin = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="+")
    goal = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="+")
    leaves_on = models.DateField("leaves on")
    arrives_on = models.DateField("arrives on", help_text="The day it is in the other yard.")
    haul_mi = haul_field(
        "haul",
        null=True,
        help_text="Blank: the distance between the two yards that is on record.",
    )
    note = models.CharField(max_length=200, blank=True, help_text="Such as who hauls it.")

    objects = TransferQuerySet.as_manager()

    class Meta:
        ordering = ["-leaves_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="transfer_of_something",
                condition=Q(housing__isnull=False) | Q(hammer__isnull=False),
            ),
            models.CheckConstraint(name="transfer_to_another_yard", condition=~Q(origin=F("goal"))),
            models.CheckConstraint(
                name="transfer_arrives_after_it_leaves",
                condition=Q(arrives_on__gte=F("leaves_on")),
            ),
            models.CheckConstraint(
                name="transfer_haul_in_range",
                condition=Q(haul_mi__isnull=True)
                | Q(haul_mi__gte=0, haul_mi__lte=FARTHEST_HAUL_MI),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what} from {self.origin} to {self.goal}, {self.days}"

    @property
    def what(self) -> str:
        """What is moved: a unit by its housing, or a hammer by itself."""
        return self.housing.mark if self.housing else f"hammer {self.hammer}"

    @property
    def days(self) -> str:
        return days_words(self.leaves_on, self.last_day_away)

    @property
    def words(self) -> str:
        """Say where it is taken and when, after "its"."""
        return f"transfer from {self.origin} to {self.goal}, {self.days}"

    @property
    def ended(self) -> TransferEnd | None:
        return getattr(self, "end", None)

    @property
    def is_open(self) -> bool:
        return self.ended is None

    @property
    def last_day_away(self) -> date:
        """The last day it is on the way: one that is late goes on until somebody says it came."""
        if self.ended is not None:
            return self.ended.ended_on
        return max(self.arrives_on, timezone.localdate()) if self.has_left else self.arrives_on

    @property
    def has_left(self) -> bool:
        return self.leaves_on <= timezone.localdate()

    @property
    def is_late(self) -> bool:
        """Whether it was to be there before today, and nobody has said that it is."""
        return self.is_open and self.arrives_on < timezone.localdate()

    @property
    def state(self) -> str:
        """How it stands, in a word or three."""
        if self.ended is not None:
            return self.ended.kind
        if self.is_late:
            return "late"
        return "on its way" if self.has_left else "planned"

    def is_away_during(self, first_day: date, last_day: date) -> bool:
        """Whether it is on the way on any of some days, both ends included."""
        return self.leaves_on <= last_day and self.last_day_away >= first_day


class TransferEnd(Recorded):
    """How a transfer ended: it arrived on a day, or was cancelled for a reason.

    hammer: the one that came with a housing.
    """

    ARRIVED, CANCELLED = "arrived", "cancelled"
    KINDS = {ARRIVED: ARRIVED, CANCELLED: CANCELLED}

    transfer = models.OneToOneField(Transfer, models.PROTECT, related_name="end")
    kind = models.CharField(max_length=10, choices=KINDS)
    ended_on = models.DateField("the day")
    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, null=True, related_name="+")
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-pk"]
        verbose_name = "end of a transfer"
        verbose_name_plural = "ends of transfers"
        constraints = [
            models.CheckConstraint(
                name="transfer_ended_somehow", condition=Q(kind__in=["arrived", "cancelled"])
            ),
            models.CheckConstraint(
                name="transfer_cancelled_for_a_reason",
                condition=Q(kind="arrived") | ~Q(reason=""),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.transfer}: {self.kind}"
