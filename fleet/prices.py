"""What pads cost: recorded, with its source and lead time."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet import clock
from fleet.dates import day_words
from fleet.models import PadLot, PadPrice, Yard
from fleet.models.measured_fields import measured_field
from fleet.people.places import EVERY_YARD
from fleet.people.yards import in_yard_of

# Beyond it a slip in a year is likelier than a price nobody asked about since.
FURTHEST_BACK = timedelta(days=3660)


Prices = Mapping[tuple[int, int | None], PadPrice]


def price_of(prices: Prices, lot_id: int, yard_id: int | None, currency: str) -> PadPrice | None:
    """Return what a pad of a lot costs a yard, by the prices in force; None where nobody knows.

    The price of the yard before that of all yards; one in another currency than the yard pays in
    is no price of it.
    """
    both = (prices.get((lot_id, yard_id)), prices.get((lot_id, None)))
    return next((each for each in both if each and each.currency == currency), None)


def _where_priced(given: Mapping[str, Any]) -> tuple[Any, ...]:
    """A price of one yard is of that; one of all yards, of them all."""
    return (given.get("yard") or EVERY_YARD,)


@in_yard_of(_where_priced)
@transaction.atomic
def record_price(
    *,
    submission_id: uuid.UUID,
    lot_id: int,
    amount: Decimal,
    valid_from: date,
    source: str,
    lead_days: int,
    by: User,
    yard: Yard | None = None,
) -> PadPrice:
    """Record what a pad of a lot costs from a day on, in the currency of its yard.

    yard: None for all yards, which must then share one currency. A second copy of a submission
    changes nothing. Raises ValidationError, naming the field, for a price below nothing, a day to
    come or too long ago, no source, or a yard without a currency.
    """
    lot = PadLot.objects.select_for_update().get(pk=lot_id)
    known = PadPrice.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    if amount < 0:
        raise ValidationError({"amount": f"“{amount}” won’t do: give 0 or more."})
    today = clock.today()
    if valid_from > today:
        raise ValidationError(
            {"valid_from": f"{day_words(valid_from)} is still to come: record it once it holds."}
        )
    if valid_from < today - FURTHEST_BACK:
        raise ValidationError(
            {"valid_from": f"{day_words(valid_from)} is over ten years ago: is the year right?"}
        )
    if not source.strip():
        raise ValidationError({"source": "This is blank: say where the price stands."})
    measured_field(PadPrice, "lead_days").refuse_out_of_bounds(lead_days)
    price = PadPrice(
        submission_id=submission_id,
        lot=lot,
        yard=yard,
        amount=amount,
        currency=_currency(yard),
        valid_from=valid_from,
        source=source.strip(),
        lead_days=lead_days,
        recorded_by=by,
    )
    price.clean_fields(exclude=["lot", "yard", "recorded_by"])
    price.save()
    return price


def _currency(yard: Yard | None) -> str:
    if yard is not None:
        if not yard.currency:
            raise ValidationError(
                {
                    "yard": f"Yard {yard} has no currency yet: give it one under Set-up, then "
                    "record the price."
                }
            )
        return str(yard.currency)
    in_use = Yard.objects.filter(retired_on__isnull=True).order_by()
    currencies = set(in_use.values_list("currency", flat=True))
    if len(currencies) != 1 or "" in currencies:
        raise ValidationError(
            {
                "yard": "The yards don’t share one currency: choose the yard this price is paid "
                "in, or give every yard its currency under Set-up."
            }
        )
    return str(currencies.pop())
