from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from fleet.models.measured_fields import CountField
from fleet.models.recorded import Recorded
from fleet.models.yard import currency_field

# Common practice: what suppliers ask changes once a year.
OLD = timedelta(days=365)


class PadPriceQuerySet(models.QuerySet["PadPrice"]):
    """Prices of pads, by what holds on a day."""

    def in_force(self, day: date) -> dict[tuple[int, int | None], PadPrice]:
        """Return the price of each lot in each yard on a day, by their keys; None for all yards.

        The one valid from the latest day, of two from one day the one recorded last.
        """
        rows = self.filter(valid_from__lte=day).order_by("valid_from", "pk")
        return {(each.lot_id, each.yard_id): each for each in rows}


class PadPrice(Recorded):
    """What a pad of a lot costs a yard from some day on, and how long it takes to come.

    Never edited: a wrong one is put right by a later one valid from the same day.
    yard: None for all yards. currency: of the yard when it was recorded.
    """

    lot = models.ForeignKey("fleet.PadLot", models.PROTECT, related_name="prices")
    yard = models.ForeignKey("fleet.Yard", models.PROTECT, null=True, related_name="pad_prices")
    amount = models.DecimalField(
        "price of one pad",
        max_digits=10,
        decimal_places=2,
        validators=[MinValueValidator(Decimal(0))],
    )
    currency = currency_field()
    valid_from = models.DateField("valid from")
    source = models.CharField(max_length=200, help_text="The offer, bill or list it stands in.")
    lead_days = CountField(
        "days until pads come",
        least=0,
        most=730,
        example="21",
        help_text="From the order to the shelf.",
    )

    objects = PadPriceQuerySet.as_manager()

    class Meta:
        ordering = ["-valid_from", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="pad_price_known", condition=Q(amount__gte=0) & ~Q(currency="") & ~Q(source="")
            ),
            models.CheckConstraint(
                name="pad_price_comes_in_two_years", condition=Q(lead_days__range=(0, 730))
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} {self.currency} for a pad of {self.lot}"

    def is_old(self, day: date) -> bool:
        """Whether it is of over a year before a day: to be asked for anew before it is paid."""
        return self.valid_from < day - OLD
