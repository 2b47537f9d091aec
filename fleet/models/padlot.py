from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.characters import check_name
from fleet.models.recorded import RecordedBy
from fleet.models.yard import named_once


class PadLot(models.Model):
    """Pads bought and rated together."""

    mark = models.CharField("lot mark", max_length=40, unique=True, validators=[check_name])
    supplier = models.CharField(max_length=80, blank=True)
    hardness_shore_a = models.FloatField("hardness, Shore A", null=True, blank=True)
    bonded_area_in2 = models.FloatField("bonded area of one pad, in²", null=True, blank=True)
    rubber_thickness_in = models.FloatField("rubber between plates, in", null=True, blank=True)
    note = models.TextField(blank=True)
    reorder_point = models.PositiveIntegerField(
        null=True, blank=True, help_text="Order more when so many or fewer are in stock."
    )
    use_by = models.DateField(
        "use by", null=True, blank=True, help_text="When the rubber on the shelf is too old."
    )

    # The sum of the lot's stock moves; kept in the same transaction as each of them.
    in_stock = models.PositiveIntegerField(default=0, editable=False)

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
    change = models.IntegerField(help_text="Pads added to the shelf; negative when they leave it.")
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
    pads = models.PositiveIntegerField(default=0)

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
