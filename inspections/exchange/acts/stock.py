"""Pads on shelves: moved, and counted."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError

from fleet.models import PadLot, StockMove, Yard
from fleet.stock import count_shelf, move_stock
from inspections.exchange.acts.lookup import KNOWN, NEW, one, submission_id
from inspections.exchange.rows import Row

LEAVING = (StockMove.Kind.SCRAPPED, StockMove.Kind.TESTED)


def stock_move(row: Row, by: User) -> str:
    """Post a move of pads."""
    values = row.values
    lot = one(PadLot, "mark", values["lot"], "lot")
    yard = one(Yard, "name", values["yard"], "yard") if values["yard"] else None
    same = {name: values[name] for name in ("kind", "change", "occurred_at")}
    _check_direction(values["kind"], values["change"])
    if StockMove.objects.filter(lot=lot, yard=yard, **same).exists():
        return KNOWN
    move_stock(
        lot_id=lot.pk, yard=yard, by=by, note=values["note"], submission_id=submission_id(row),
        **same,
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
    values = row.values
    lot = one(PadLot, "mark", values["lot"], "lot")
    yard = one(Yard, "name", values["yard"], "yard") if values["yard"] else None
    moves = StockMove.objects.filter(lot=lot, yard=yard)
    if moves.filter(submission_id=submission_id(row)).exists():
        return KNOWN
    if moves.filter(occurred_at__gt=values["counted_at"]).exists():
        raise ValidationError(
            f"pads of lot “{lot}” moved on this shelf since it was counted: count it again"
        )
    posted = count_shelf(
        lot_id=lot.pk,
        yard=yard,
        pads=values["pads"],
        occurred_at=values["counted_at"],
        by=by,
        note=values["note"],
        submission_id=submission_id(row),
    )
    return NEW if posted else KNOWN
