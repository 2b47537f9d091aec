"""Orders made from the lines of a season's list, all of them or none."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet import clock
from fleet.dates import day_words
from fleet.models import PadOrder, Yard
from fleet.pad_orders import order_pads
from fleet.people.places import EVERY_YARD
from fleet.people.yards import in_yard_of
from fleet.roles import who_words
from inspections.buying.season import Line, season


class ListChanged(ValidationError):
    """The list that was seen is not the one that holds."""


def _yard_or_all(given: Mapping[str, Any]) -> tuple[Any, ...]:
    return (given["yard"] or EVERY_YARD,)


@in_yard_of(_yard_or_all)
@transaction.atomic
def order_lines(
    *,
    submission_id: uuid.UUID,
    yard: Yard | None,
    until: date,
    goal: str,
    seen: str,
    pads: Mapping[str, int],
    by: User,
) -> list[PadOrder]:
    """Order pads of some lines of a season's list, at the price on record and by its lead time.

    The list is worked out again with its yards held, so that of two who order by the same list
    one does. pads: by the names of lines. seen: the digest of the list that was shown. A second
    copy of a submission changes nothing. Raises ListChanged where what was shown holds no more,
    or some of these lines were ordered by it and others not; ValidationError where no line is
    chosen or one can't be ordered without asking, and as `season` does.
    """
    held = Yard.objects.select_for_update().order_by("pk")
    list(held if yard is None else held.filter(pk=yard.pk))
    ids = {name: uuid.uuid5(submission_id, name) for name in pads}
    known = list(PadOrder.objects.filter(submission_id__in=ids.values()).order_by("pk"))
    if known and len(known) == len(ids):
        return known
    if known:
        ordered = {each.submission_id for each in known}
        left = ", ".join(f"{pads[name]} pads" for name in sorted(ids) if ids[name] not in ordered)
        raise ListChanged(
            f"Nothing more is ordered: this list was sent before, and made order "
            f"{', '.join(str(each.pk) for each in known)}. The lines ticked since ({left}) are "
            "not ordered: tick them on the list as it is now."
        )
    if not pads:
        raise ValidationError("No line is chosen: tick those to order.")
    found = season(yard, until, goal)
    if seen != found.digest:
        raise ListChanged(
            "Nothing is ordered: what is to be bought, or a price, changed since it was shown. "
            "Look again."
        )
    lines = {each.name: each for each in found.to_buy}
    if unknown := sorted(set(pads) - set(lines)):
        raise ValidationError(f"{unknown[0]} is no line of this list: look again.")
    return [_order(lines[name], number, ids[name], by) for name, number in sorted(pads.items())]


def _order(line: Line, pads: int, submission_id: uuid.UUID, by: User) -> PadOrder:
    price, lot, today = line.price, line.lot, clock.today()
    if price is None:
        raise ValidationError(
            f"Lot {lot} has no price on record for {line.yard}: record one, or order it by hand."
        )
    if line.is_old_price:
        raise ValidationError(
            f"The price of lot {lot} is of {day_words(price.valid_from)}, over a year old: ask the "
            "supplier and record what holds now, or order it by hand."
        )
    if not lot.supplier:
        raise ValidationError(
            f"Who sells lot {lot} is not on record: order it by hand, and name the supplier."
        )
    return order_pads(
        submission_id=submission_id,
        yard=line.yard,
        what=lot,
        pads=pads,
        price_each=price.amount,
        currency=price.currency,
        supplier=lot.supplier,
        supplier_words=(
            f"At the price of {day_words(price.valid_from)}, {price.source}; the day is by its "
            f"lead time, nobody promised it"
        )[:200],
        ordered_on=today,
        promised_on=today + timedelta(days=price.lead_days),
        ordered_by=who_words(by)[:80],
        by=by,
        # The list counts what is under way.
        is_more=True,
    )
