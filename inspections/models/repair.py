from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Self

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from fleet import clock
from fleet.models.machine import OfOneMachine, OfOneMachineQuerySet
from fleet.models.recorded import Recorded
from fleet.models.yard import currency_field
from inspections.models.finding import Finding
from inspections.models.kept_picture import KeptPicture

LONGEST_WHAT = 1000


class RepairOrderQuerySet(OfOneMachineQuerySet["RepairOrder"]):
    """Repair orders, by whether they are still to be done."""

    def open(self) -> Self:
        """Those neither done nor cancelled."""
        return self.filter(closing__isnull=True)

    def by_day(self, day: date) -> Self:
        """Those still to be done and planned for a day or one before it."""
        return self.open().filter(planned_on__lte=day)


class RepairOrder(Recorded, OfOneMachine):
    """A repair to be made at a machine: what, by whom, for when; from a finding or by hand."""

    finding = models.ForeignKey(Finding, models.PROTECT, null=True, related_name="repair_orders")
    what = models.CharField(
        "what is to be done",
        max_length=LONGEST_WHAT,
        help_text="Such as: new hose at the clamp, whip checks on, run it for ten minutes.",
    )
    who = models.CharField("who does it", max_length=80, help_text="A person or a shop.")
    planned_on = models.DateField("planned for")
    parts_needed = models.CharField(
        "parts to have at hand", max_length=500, blank=True, help_text="Blank where none."
    )

    objects = RepairOrderQuerySet.as_manager()

    class Meta:
        default_related_name = "repair_orders"
        ordering = ["-pk"]
        constraints = [
            *OfOneMachine.Meta.constraints,
            models.CheckConstraint(
                name="repair_order_says_what_and_who", condition=~Q(what="") & ~Q(who="")
            ),
        ]

    def __str__(self) -> str:
        return f"repair order {self.pk}"

    @property
    def ended(self) -> RepairClosing | None:
        """How it ended; None while it is still to be done."""
        return getattr(self, "closing", None)

    @property
    def is_late(self) -> bool:
        return self.ended is None and self.planned_on < clock.today()


class RepairLineQuerySet(models.QuerySet["RepairLine"]):
    """Lines of repair orders, by whether they count."""

    def standing(self) -> Self:
        """Those nobody took back."""
        return self.filter(taken_back__isnull=True)


class RepairLine(Recorded):
    """A part used or hours worked in a repair, and what that cost. Never edited."""

    class Kind(models.TextChoices):
        PART = "part", "part"
        LABOUR = "labour", "hours worked"
        OTHER = "other", "bought or hired"

    order = models.ForeignKey(RepairOrder, models.PROTECT, related_name="lines")
    kind = models.CharField("what it is", max_length=6, choices=Kind)
    text = models.CharField(
        "description", max_length=200, help_text="The part and its number, or who worked."
    )
    amount = models.DecimalField(
        "pieces or hours",
        max_digits=8,
        decimal_places=2,
        validators=[MinValueValidator(Decimal("0.01"))],
    )
    price_each = models.DecimalField(
        "price of a piece or an hour",
        max_digits=10,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal(0))],
        help_text="Blank where it is not known: the cost then says that it is not all.",
    )
    currency = currency_field(help_text="Of the yard when it was recorded.")

    objects = RepairLineQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                name="repair_line_known",
                condition=Q(kind__in=["part", "labour", "other"], amount__gt=0) & ~Q(text=""),
            ),
            models.CheckConstraint(
                name="repair_line_priced_in_a_currency",
                condition=Q(price_each__isnull=True) | (Q(price_each__gte=0) & ~Q(currency="")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.text} of {self.order}"

    @property
    def cost(self) -> Decimal | None:
        """What it cost, to the cent; None where no price is known."""
        if self.price_each is None:
            return None
        return (self.amount * self.price_each).quantize(Decimal("0.01"))


class RepairLineTakenBack(Recorded):
    """That a line of a repair was wrong, and why: it counts no more."""

    line = models.OneToOneField(RepairLine, models.PROTECT, related_name="taken_back")
    reason = models.CharField("why", max_length=200)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(name="line_taken_back_for_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.line}, taken back"


class RepairClosing(Recorded):
    """How a repair order ended: done, by whom, or cancelled, why."""

    class Kind(models.TextChoices):
        DONE = "done", "done"
        CANCELLED = "cancelled", "cancelled"

    order = models.OneToOneField(RepairOrder, models.PROTECT, related_name="closing")
    kind = models.CharField(max_length=9, choices=Kind)
    ended_at = models.DateTimeField()
    text = models.CharField(max_length=LONGEST_WHAT, help_text="What was done, or why not.")
    done_by = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="repair_closing_known",
                condition=(Q(kind="done") & ~Q(done_by="")) | Q(kind="cancelled", done_by=""),
            ),
            models.CheckConstraint(name="repair_closing_says_what", condition=~Q(text="")),
        ]

    def __str__(self) -> str:
        return f"{self.order} {self.kind}"


class RepairPhoto(KeptPicture):
    """A photo of a machine before or after a repair, kept whole."""

    class When(models.TextChoices):
        BEFORE = "before", "before"
        AFTER = "after", "after"

    id = models.UUIDField(primary_key=True)
    order = models.ForeignKey(RepairOrder, models.PROTECT, related_name="photos")
    when = models.CharField("taken", max_length=6, choices=When)
    caption = models.CharField(max_length=200, blank=True)
    file = models.FileField(upload_to="repairs/%Y/%m/")

    class Meta:
        ordering = [F("when").desc(), "recorded_at"]
        constraints = [
            models.CheckConstraint(
                name="repair_photo_before_or_after", condition=Q(when__in=["before", "after"])
            ),
        ]

    def __str__(self) -> str:
        return f"photo {self.when} {self.order}"
