"""Moves of pads to and from the shelf."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F

from fleet.models import PadLot, StockMove


class NotEnoughInStock(ValidationError):
    """More pads were asked of a lot than lie on the shelf."""

    def __init__(self, lot: PadLot, asked: int) -> None:
        self.lot = lot
        super().__init__(
            f"Lot {lot.mark} has {lot.in_stock} in stock and {asked} "
            f"{'is' if asked == 1 else 'are'} asked for: take fewer, or record what was received."
        )


@transaction.atomic
def move_stock(
    *,
    lot_id: int,
    kind: str,
    change: int,
    occurred_at: datetime,
    by: User,
    note: str = "",
    submission_id: uuid.UUID | None = None,
) -> StockMove:
    """Record one move and the count it leaves. A second copy of a submission changes nothing.

    Raises NotEnoughInStock where the shelf would go below zero.
    """
    lot = PadLot.objects.select_for_update().get(pk=lot_id)
    known = StockMove.objects.filter(submission_id=submission_id).first() if submission_id else None
    if known is not None:
        return known
    if lot.in_stock + change < 0:
        raise NotEnoughInStock(lot, -change)
    PadLot.objects.filter(pk=lot_id).update(in_stock=F("in_stock") + change)
    return StockMove.objects.create(
        lot=lot,
        kind=kind,
        change=change,
        occurred_at=occurred_at,
        recorded_by=by,
        note=note,
        submission_id=submission_id,
    )


@transaction.atomic
def count_shelf(
    *,
    lot_id: int,
    pads: int,
    occurred_at: datetime,
    by: User,
    note: str = "",
    submission_id: uuid.UUID | None = None,
) -> StockMove | None:
    """Record how many pads lie on the shelf, as the move that brings the books to it.

    None where the books say so already. A second copy of a submission changes nothing.
    """
    lot = PadLot.objects.select_for_update().get(pk=lot_id)
    known = StockMove.objects.filter(submission_id=submission_id).first() if submission_id else None
    if known is not None or lot.in_stock == pads:
        return known
    return move_stock(
        lot_id=lot_id,
        kind=StockMove.Kind.COUNTED,
        change=pads - lot.in_stock,
        occurred_at=occurred_at,
        by=by,
        note=note,
        submission_id=submission_id,
    )
