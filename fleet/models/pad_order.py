from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any, Self

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Coalesce

from fleet import clock
from fleet.models.pad_lot import (
    MOST_PADS_MOVED,
    bonded_area_field,
    hardness_field,
    pads_field,
    thickness_field,
)
from fleet.models.recorded import Recorded
from fleet.models.yard import currency_field


class PadOrderQuerySet(models.QuerySet["PadOrder"]):
    """Orders of pads, by how they stand."""

    def with_state(self) -> Self:
        """Each with how many of its pads came, and the day they were last promised for."""
        came = (
            PadReceipt.objects.standing()
            .filter(order=OuterRef("pk"))
            .order_by()
            .values("order")
            .annotate(sum=Sum("pads"))
            .values("sum")
        )
        promised = PadOrderPromise.objects.filter(order=OuterRef("pk")).order_by("-pk")
        return self.select_related("cancellation").annotate(
            received=Coalesce(Subquery(came), 0),
            due_on=Coalesce(Subquery(promised.values("promised_on")[:1]), F("promised_on")),
        )

    def open(self) -> Self:
        """Those of which pads are still to come."""
        return self.with_state().filter(cancellation__isnull=True, received__lt=F("pads"))

    def late(self, day: date) -> Self:
        """Those of which pads should have come before a day."""
        return self.open().filter(due_on__lt=day)


class PadOrder(Recorded):
    """Pads ordered for a yard: of a lot, or of a kind that is in no yard yet. Never edited.

    kind: in words, where no lot is named, with what is known of its rubber. price_each: in
    currency, that of the yard when it was recorded. received, due_on: by `with_state`.
    """

    received: int
    due_on: date

    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="pad_orders")
    lot = models.ForeignKey("fleet.PadLot", models.PROTECT, null=True, related_name="orders")
    kind = models.CharField(
        "kind of pad",
        max_length=200,
        blank=True,
        help_text="Where it is of no lot of the yard: what its supplier calls it.",
    )
    hardness_shore_a = hardness_field()
    bonded_area_in2 = bonded_area_field()
    rubber_thickness_in = thickness_field()
    pads = pads_field("pads ordered", least=1, example="24")
    price_each = models.DecimalField(
        "price of one pad",
        max_digits=10,
        decimal_places=2,
        validators=[MinValueValidator(Decimal(0))],
    )
    currency = currency_field()
    supplier = models.CharField(max_length=80)
    supplier_words = models.CharField(
        "what the supplier wrote",
        max_length=200,
        blank=True,
        help_text="The number of the order or the offer, and anything agreed on.",
    )
    ordered_on = models.DateField("ordered on")
    promised_on = models.DateField("promised for")
    ordered_by = models.CharField("who ordered", max_length=80)

    objects = PadOrderQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="pad_order_of_a_lot_or_a_kind",
                condition=Q(lot__isnull=False, kind="") | (Q(lot__isnull=True) & ~Q(kind="")),
            ),
            models.CheckConstraint(
                name="pad_order_of_pads", condition=Q(pads__range=(1, MOST_PADS_MOVED))
            ),
            models.CheckConstraint(
                name="pad_order_priced", condition=Q(price_each__gte=0) & ~Q(currency="")
            ),
            models.CheckConstraint(
                name="pad_order_says_of_whom_and_who",
                condition=~Q(supplier="") & ~Q(ordered_by=""),
            ),
            models.CheckConstraint(
                name="pad_order_promised_after_ordered",
                condition=Q(promised_on__gte=F("ordered_on")),
            ),
            models.CheckConstraint(
                name="pad_order_rubber_possible",
                condition=(Q(hardness_shore_a__isnull=True) | Q(hardness_shore_a__range=(0, 100)))
                & (Q(bonded_area_in2__isnull=True) | Q(bonded_area_in2__gt=0))
                & (Q(rubber_thickness_in__isnull=True) | Q(rubber_thickness_in__gt=0)),
            ),
        ]

    def __str__(self) -> str:
        return f"order {self.pk}"

    @property
    def what(self) -> str:
        """What was ordered, in words."""
        return f"lot {self.lot}" if self.lot is not None else f"{self.kind} (no lot yet)"

    @property
    def cost(self) -> Decimal:
        cost: Decimal = self.price_each * self.pads
        return cost

    @property
    def left(self) -> int:
        """How many pads are still to come; none of what was cancelled."""
        return 0 if self.cancelled is not None else max(0, self.pads - self.received)

    @property
    def cancelled(self) -> PadOrderCancellation | None:
        """That it was cancelled, and why; None where it was not."""
        return getattr(self, "cancellation", None)

    @property
    def is_late(self) -> bool:
        return self.left > 0 and self.due_on < clock.today()


class PadOrderPromise(Recorded):
    """Another day that a supplier promised pads for, and their words. The last one holds."""

    order = models.ForeignKey(PadOrder, models.PROTECT, related_name="promises")
    promised_on = models.DateField("promised for")
    words = models.CharField(
        "what the supplier said", max_length=200, help_text="Who said so, and why."
    )

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(name="pad_promise_in_words", condition=~Q(words="")),
        ]

    def __str__(self) -> str:
        return f"{self.order} promised for {self.promised_on}"


class PadOrderCancellation(Recorded):
    """That the pads of an order still to come are not wanted or not to be had, and why."""

    order = models.OneToOneField(PadOrder, models.PROTECT, related_name="cancellation")
    reason = models.CharField("why", max_length=200)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="pad_order_cancelled_for_a_reason", condition=~Q(reason="")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.order}, cancelled"


class PadReceiptQuerySet(models.QuerySet["PadReceipt"]):
    """Pads that came of orders."""

    def standing(self) -> Self:
        """Those nobody took back."""
        return self.filter(taken_back__isnull=True)


class PadReceipt(Recorded):
    """Pads of an order that came, the lot they are of, and the move that put them on the shelf.

    more_reason: why more came than were ordered, where they did.
    """

    order = models.ForeignKey(PadOrder, models.PROTECT, related_name="receipts")
    lot = models.ForeignKey("fleet.PadLot", models.PROTECT, related_name="receipts")
    pads = pads_field("pads that came", least=1, example="12")
    received_at = models.DateTimeField("came at")
    move = models.OneToOneField("fleet.StockMove", models.PROTECT, related_name="receipt")
    more_reason = models.CharField(
        "why more came than were ordered",
        max_length=200,
        blank=True,
        help_text="Blank where no more did.",
    )
    note = models.CharField(max_length=200, blank=True)

    objects = PadReceiptQuerySet.as_manager()

    class Meta:
        ordering = ["-received_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="pad_receipt_of_pads", condition=Q(pads__range=(1, MOST_PADS_MOVED))
            ),
        ]

    def __str__(self) -> str:
        return f"{self.pads} pads of {self.order}"

    @property
    def ended(self) -> Any:
        """That it was taken back; None where it stands."""
        return getattr(self, "taken_back", None)


class PadReceiptTakenBack(Recorded):
    """That pads said to have come did not, or not so, and why: they left the shelf again."""

    receipt = models.OneToOneField(PadReceipt, models.PROTECT, related_name="taken_back")
    move = models.OneToOneField("fleet.StockMove", models.PROTECT, related_name="taken_back")
    reason = models.CharField("why", max_length=200)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="pad_receipt_taken_back_for_a_reason", condition=~Q(reason="")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.receipt}, taken back"
