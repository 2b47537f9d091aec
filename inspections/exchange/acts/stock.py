"""Pads on shelves: moved, and counted."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db.models import Sum

from fleet.models import PadLot, StockMove, Yard
from fleet.stock import count_shelf, move_stock, on_shelf
from inspections.exchange.acts.lookup import KNOWN, NEW, one, submission_id
from inspections.exchange.rows import Row

LEAVING = (StockMove.Kind.SCRAPPED, StockMove.Kind.TESTED)


def stock_move(row: Row, by: User) -> str:
    """Post a move of pads."""
    values = row.values
    lot = one(PadLot, "mark", values["lot"], "lot")
    yard = one(Yard, "name", values["yard"], "yard") if values["yard"] else None
    same = {name: values[name] for name in ("kind", "change", "occurred_at", "note")}
    _check_direction(values["kind"], values["change"])
    if StockMove.objects.filter(lot=lot, yard=yard, **same).exists():
        return KNOWN
    move_stock(
        lot_id=lot.pk, yard=yard, by=by, submission_id=submission_id(row), **same
    )  # fmt: skip
    return NEW


def _check_direction(kind: str, change: int) -> None:
    wanted = "a number other than 0"
    is_right = change != 0
    if kind == StockMove.Kind.RECEIVED:
        wanted, is_right = "pads that came, more than 0", change > 0
    elif kind in LEAVING:
        wanted, is_right = "pads that left, less than 0", change < 0
    if not is_right:
        raise ValidationError(f"change is {change} of pads {kind}: give {wanted}")


def shelf_count(row: Row, by: User) -> str:
    """Bring the books of a shelf to what was counted on it."""
    lot, yard, pads, counted_at = _shelf(row)
    moves = StockMove.objects.filter(lot=lot, yard=yard)
    since = moves.filter(occurred_at__gt=counted_at).aggregate(pads=Sum("change"))["pads"]
    is_on_record = moves.filter(submission_id=submission_id(row)).exists()
    if is_on_record or on_shelf(lot, yard) - (since or 0) == pads:
        return KNOWN
    if since is not None:
        raise ValidationError(
            f"pads of lot “{lot}” moved on this shelf since it was counted: count it again"
        )
    _count(row, by, submission_id(row))
    return NEW


def recount(row: Row, by: User) -> None:
    """Bring a shelf to its count once more, after pads left it that the count did not see."""
    lot, yard, _pads, counted_at = _shelf(row)
    later = StockMove.objects.filter(lot=lot, yard=yard, occurred_at__gt=counted_at)
    if not later.exists():
        _count(row, by, uuid.uuid5(submission_id(row), "again"))


def _count(row: Row, by: User, move_id: uuid.UUID) -> None:
    lot, yard, pads, counted_at = _shelf(row)
    count_shelf(
        lot_id=lot.pk,
        yard=yard,
        pads=pads,
        occurred_at=counted_at,
        by=by,
        note=row.values["note"],
        submission_id=move_id,
    )


def _shelf(row: Row) -> tuple[PadLot, Yard | None, int, datetime]:
    values = row.values
    lot = one(PadLot, "mark", values["lot"], "lot")
    yard = one(Yard, "name", values["yard"], "yard") if values["yard"] else None
    return lot, yard, values["pads"], values["counted_at"]
