from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Self

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q

from fleet.characters import check_name
from fleet.dates import day_words
from fleet.models.measured_fields import ChangeField, LargeCountField, MeasuredField
from fleet.models.recorded import Recorded, RecordedBy
from fleet.models.retirable import Retirable
from fleet.models.yard import named_once
from fleet.quantities import Quantity

MOST_PADS_MOVED = 10_000
# A year: what is older was typed wrong.
EARLIEST_USE_BY = 1950


def pads_field(name: str, *, least: int, example: str, **kwargs: Any) -> LargeCountField:
    """Return a field of pads on a shelf, or moved to or from one."""
    return LargeCountField(name, least=least, most=MOST_PADS_MOVED, example=example, **kwargs)


def hardness_field(name: str = "hardness, Shore A") -> MeasuredField:
    """Return a field of how hard rubber is."""
    return MeasuredField(name, least=0, most=100, example="60", null=True)


def bonded_area_field(name: str = "bonded area of one pad", **kwargs: Any) -> MeasuredField:
    """Return a field of all rubber of one pad that is sheared side by side."""
    return MeasuredField(
        name,
        quantity=Quantity.AREA,
        least=0,
        above_least=True,
        most=2000,
        example="48",
        null=True,
        **kwargs,
    )


def thickness_field(name: str = "rubber between plates") -> MeasuredField:
    """Return a field of how thick the rubber is between the plates it is bonded to."""
    return MeasuredField(
        name,
        quantity=Quantity.LENGTH,
        least=0,
        above_least=True,
        most=24,
        example="2.5",
        null=True,
    )


def _rubber_possible(
    hardness: str = "hardness_shore_a",
    area: str = "bonded_area_in2",
    thickness: str = "rubber_thickness_in",
) -> Q:
    """Say that what is on record of rubber can be; each may be missing."""
    return (
        (Q(**{f"{hardness}__isnull": True}) | Q(**{f"{hardness}__range": (0, 100)}))
        & (Q(**{f"{area}__isnull": True}) | Q(**{f"{area}__gt": 0}))
        & (Q(**{f"{thickness}__isnull": True}) | Q(**{f"{thickness}__gt": 0}))
    )


class PadLotQuerySet(models.QuerySet["PadLot"]):
    """Pad lots."""

    def in_use(self) -> Self:
        """Those that are not put out of use, used up or thrown away."""
        return self.filter(retired_on__isnull=True)

    def in_yards(self, yards: Iterable[Any]) -> Self:
        """Those of which pads are in one of some yards: on a shelf, or in a housing in use."""
        on_shelves = Q(shelves__yard__in=yards, shelves__pads__gt=0)
        fitted = Q(positions__housing__yard__in=yards, positions__housing__retired_on=None)
        found = self.model._default_manager.filter(on_shelves | fitted)
        return self.filter(pk__in=found.order_by().values("pk"))

    def to_choose(self) -> Self:
        """Those a pad found in a housing may be of: in use, or on record in one all the same."""
        positions = self.model._meta.apps.get_model("fleet", "PadPosition").objects
        fitted = models.Exists(positions.filter(lot=models.OuterRef("pk")))
        return self.filter(Q(retired_on__isnull=True) | fitted)


class PadLot(Retirable):
    """Pads bought and rated together.

    What is on record of its rubber is changed by a LotCorrection alone. One of which no pad is
    left can be put out of use.
    """

    mark = models.CharField("lot mark", max_length=40, unique=True, validators=[check_name])
    supplier = models.CharField(max_length=80, blank=True)
    hardness_shore_a = hardness_field()
    bonded_area_in2 = bonded_area_field(
        help_text="With hardness and thickness it tells whether a tested rate is plausible."
    )
    rubber_thickness_in = thickness_field()
    note = models.TextField(blank=True)
    reorder_point = pads_field(
        "order more at",
        least=0,
        example="12",
        null=True,
        help_text="When so many or fewer are in stock, the lot is flagged.",
    )
    use_by = models.DateField(
        "use by",
        null=True,
        blank=True,
        help_text="When rubber on the shelf is too old, by its supplier or the yard’s own rule.",
    )

    # The sum of the lot's stock moves; kept in the same transaction as each of them.
    in_stock = models.PositiveIntegerField(default=0, editable=False)

    objects = PadLotQuerySet.as_manager()

    class Meta:
        ordering = ["mark"]
        constraints = [
            named_once("mark", "pad_lot_marked_once"),
            models.CheckConstraint(
                name="pad_lot_stock_not_below_zero", condition=Q(in_stock__gte=0)
            ),
            models.CheckConstraint(
                name="pad_lot_rubber_possible",
                condition=(Q(bonded_area_in2__isnull=True) | Q(bonded_area_in2__gt=0))
                & (Q(rubber_thickness_in__isnull=True) | Q(rubber_thickness_in__gt=0)),
            ),
            models.CheckConstraint(
                name="pad_lot_hardness_in_range",
                condition=Q(hardness_shore_a__isnull=True)
                | Q(hardness_shore_a__gte=0, hardness_shore_a__lte=100),
            ),
        ]

    def __str__(self) -> str:
        return self.mark

    def clean(self) -> None:
        if self.use_by is not None and self.use_by.year < EARLIEST_USE_BY:
            raise ValidationError(
                {"use_by": f"{day_words(self.use_by)} is too long ago: give a day to come."}
            )

    @property
    def needs_reorder(self) -> bool:
        """Whether so few pads are in stock that more are to be ordered."""
        is_short = self.reorder_point is not None and self.in_stock <= self.reorder_point
        return is_short and self.retired_on is None


class LotCorrection(Recorded):
    """What is on record of a lot's rubber, put right: as it was, as it is, and why. Never edited.

    None where a figure was not on record, or is said not to be known after all.
    """

    lot = models.ForeignKey(PadLot, models.PROTECT, related_name="corrections")
    hardness_before = hardness_field("hardness before, Shore A")
    bonded_area_before_in2 = bonded_area_field("bonded area before")
    thickness_before_in = thickness_field("rubber between plates before")
    hardness_shore_a = hardness_field()
    bonded_area_in2 = bonded_area_field()
    rubber_thickness_in = thickness_field()
    reason = models.CharField("why", max_length=200)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="lot_corrected_for_a_reason",
                condition=~Q(reason=""),
            ),
            models.CheckConstraint(
                name="lot_corrected_to_what_can_be", condition=_rubber_possible()
            ),
            models.CheckConstraint(
                name="lot_corrected_from_what_can_be",
                condition=_rubber_possible(
                    "hardness_before", "bonded_area_before_in2", "thickness_before_in"
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"correction {self.pk} of lot {self.lot}"


class StockMove(RecordedBy):
    """Pads of a lot that came to the shelf or left it. Never edited."""

    class Kind(models.TextChoices):
        RECEIVED = "received", "received"
        FITTED = "fitted", "fitted"
        SCRAPPED = "scrapped", "scrapped"
        TESTED = "tested", "tested and not returned"
        COUNTED = "counted", "counted on the shelf"
        MOVED = "moved", "moved to or from another yard"

    lot = models.ForeignKey(PadLot, models.PROTECT, related_name="moves")
    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="stock_moves", null=True)
    kind = models.CharField(max_length=10, choices=Kind)
    change = ChangeField(
        "pads added",
        least=-MOST_PADS_MOVED,
        most=MOST_PADS_MOVED,
        example="12",
        help_text="To the shelf; negative when they leave it.",
    )
    occurred_at = models.DateTimeField()
    note = models.CharField(max_length=200, blank=True)
    submission_id = models.UUIDField(
        null=True, unique=True, help_text="Of the form that made it; none where a signing did."
    )

    class Meta:
        ordering = ["-occurred_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="stock_move_kind_and_direction",
                condition=Q(kind="received", change__gt=0)
                | Q(kind__in=["fitted", "scrapped", "tested"], change__lt=0)
                | (Q(kind__in=["counted", "moved"]) & ~Q(change=0)),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot} {self.kind} {self.change:+d}"


class ShelfCount(models.Model):
    """How many pads of a lot lie on one yard's shelf; kept with every move.

    yard: none for pads received before shelves were told apart.
    """

    lot = models.ForeignKey(PadLot, models.PROTECT, related_name="shelves")
    yard = models.ForeignKey("fleet.Yard", models.PROTECT, null=True, related_name="shelves")
    pads = pads_field("pads", least=0, example="24", default=0)

    class Meta:
        ordering = ["lot", "yard"]
        constraints = [
            models.UniqueConstraint(name="one_shelf_of_a_lot_in_a_yard", fields=["lot", "yard"]),
            models.UniqueConstraint(
                name="one_shelf_of_a_lot_in_no_yard", fields=["lot"], condition=Q(yard=None)
            ),
            models.CheckConstraint(name="shelf_not_below_zero", condition=Q(pads__gte=0)),
        ]

    def __str__(self) -> str:
        return f"{self.pads} of {self.lot} in {self.yard}"
