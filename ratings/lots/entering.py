"""Enter a lot, and say when to order more of it and until when it may lie on a shelf."""

from __future__ import annotations

from datetime import date

from django.contrib.auth.models import User
from django.db import transaction

from fleet.models import PadLot
from fleet.people.yards import in_no_yard, in_yard_of

# What of a lot is kept by the shelf, and no fact of its rubber.
KEPT = ("reorder_point", "use_by")


@in_no_yard("a new lot has no pads yet, on no yard’s shelf and in no housing")
@transaction.atomic
def enter_lot(*, lot: PadLot, by: User) -> PadLot:
    """Put a new lot on record. Raises ValidationError naming the field of what can't be."""
    lot.full_clean()
    lot.save(force_insert=True)
    return lot


@in_yard_of("lot_id")
@transaction.atomic
def keep_lot(*, lot_id: int, reorder_point: int | None, use_by: date | None, by: User) -> PadLot:
    """Say when to order more of a lot, and until when it may lie on a shelf; None for never.

    Raises ValidationError naming the field of what can't be.
    """
    lot = PadLot.objects.select_for_update().get(pk=lot_id)
    lot.reorder_point, lot.use_by = reorder_point, use_by
    lot.clean_fields(exclude={each.name for each in PadLot._meta.fields} - set(KEPT))
    lot.clean()
    # Only these: a move posted this moment may be changing the stock.
    lot.save(update_fields=KEPT)
    return lot
