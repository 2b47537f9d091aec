"""Moves of pads to and from the shelves of the yards."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import CharField, F, Value
from django.db.models.functions import Coalesce

from fleet.dates import day_words
from fleet.models import PadLot, PadPosition, ShelfCount, StockMove, Yard
from fleet.people.yards import in_yard_of


class NotEnoughInStock(ValidationError):
    """More pads were asked of a lot than lie on the shelf."""

    def __init__(self, lot: PadLot, asked: int, here: int, yard: Yard | None) -> None:
        self.lot = lot
        elsewhere = lot.in_stock - here
        shelf = f" at {yard}" if yard and elsewhere else ""
        more = (
            f" {elsewhere} more lie{'s' if elsewhere == 1 else ''} in other yards: move them first."
            if elsewhere
            else ""
        )
        super().__init__(
            f"Lot {lot.mark} has {here} in stock{shelf} and {asked} "
            f"{'is' if asked == 1 else 'are'} asked for: take fewer, or record what was received."
            f"{more}"
        )


class MayLieHere(ValidationError):
    """More pads are counted on a yard's shelf than are booked there, and some are booked nowhere.

    counted, here, loose: the pads counted, those the books have there, and those in no yard.
    """

    def __init__(self, lot: PadLot, yard: Yard, counted: int, here: int, loose: int) -> None:
        self.waits = (
            f"{counted} pads of lot {lot.mark} are counted at {yard} where the books have {here}, "
            f"and {loose} are booked in no yard"
        )
        super().__init__(
            {"loose": f"{self.waits}: say whether those are among the {counted}, or lie elsewhere."}
        )


@in_yard_of("yard")
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
    yard: Yard | None = None,
) -> StockMove:
    """Record one move and the counts it leaves. A second copy of a submission changes nothing.

    yard: whose shelf; None for the shelf of pads that nobody told apart.
    Raises NotEnoughInStock where the shelf would go below zero, and ValidationError where pads
    would be added to a lot that is out of use.
    """
    lot = PadLot.objects.select_for_update().get(pk=lot_id)
    known = StockMove.objects.filter(submission_id=submission_id).first() if submission_id else None
    if known is not None:
        return known
    return _move(
        lot, yard, change, kind=kind, occurred_at=occurred_at, by=by, note=note, id=submission_id
    )


@in_yard_of("yard")
@transaction.atomic
def fit_from_stock(
    *, lot_id: int, pads: int, yard: Yard, occurred_at: datetime, by: User, note: str
) -> None:
    """Take pads for a housing from its yard's shelf, then from those nobody told apart.

    Raises NotEnoughInStock where the two together hold too few.
    """
    lot = PadLot.objects.select_for_update().get(pk=lot_id)
    here, loose = on_shelf(lot, yard), on_shelf(lot, None)
    if here + loose < pads:
        raise NotEnoughInStock(lot, pads, here + loose, yard)
    for shelf, taken in ((yard, min(pads, here)), (None, pads - min(pads, here))):
        if taken:
            _move(
                lot,
                shelf,
                -taken,
                kind=StockMove.Kind.FITTED,
                occurred_at=occurred_at,
                by=by,
                note=note,
            )


def _left_behind(given: Mapping[str, Any]) -> tuple[Any, ...]:
    """Pads are sent away by who is of the shelf they lie on; from no yard’s, by who gets them."""
    return (given["origin"] or given["goal"],)


@in_yard_of(_left_behind)
@transaction.atomic
def move_between_yards(
    *,
    lot_id: int,
    pads: int,
    origin: Yard | None,
    goal: Yard,
    occurred_at: datetime,
    by: User,
    submission_id: uuid.UUID,
) -> None:
    """Move pads from one yard's shelf to another's. A second copy changes nothing."""
    lot = PadLot.objects.select_for_update().get(pk=lot_id)
    if StockMove.objects.filter(submission_id=submission_id).exists():
        return
    common: dict[str, Any] = {"kind": StockMove.Kind.MOVED, "occurred_at": occurred_at, "by": by}
    _move(lot, origin, -pads, note=f"to {goal}", id=submission_id, **common)
    _move(lot, goal, pads, note=f"from {origin or 'no yard'}", **common)


@in_yard_of("yard")
@transaction.atomic
def count_shelf(
    *,
    lot_id: int,
    pads: int,
    occurred_at: datetime,
    by: User,
    note: str = "",
    submission_id: uuid.UUID | None = None,
    yard: Yard | None = None,
    has_loose: bool | None = None,
) -> StockMove | None:
    """Record how many pads lie on a shelf, as the move that brings the books to it.

    None where the books say so already. A second copy of a submission changes nothing.
    has_loose: whether the pads of the lot that the books have in no yard lie on this yard's shelf
    and were counted too. Raises MayLieHere where more are counted than booked there, pads are in
    no yard, and nobody said; pads of no yard that were counted by themselves at the same moment
    are others.
    """
    lot = PadLot.objects.select_for_update().get(pk=lot_id)
    known = StockMove.objects.filter(submission_id=submission_id).first() if submission_id else None
    if known is not None:
        return known
    if yard is not None and has_loose:
        _bring_in_loose(lot, yard, occurred_at, by, submission_id)
    here = on_shelf(lot, yard)
    if here == pads:
        return None
    loose = on_shelf(lot, None)
    if yard is not None and pads > here and loose and has_loose is None:
        own_count = StockMove.objects.filter(
            lot=lot, yard=None, kind=StockMove.Kind.COUNTED, occurred_at=occurred_at
        )
        if not own_count.exists():
            raise MayLieHere(lot, yard, pads, here, loose)
    return _move(
        lot,
        yard,
        pads - here,
        kind=StockMove.Kind.COUNTED,
        occurred_at=occurred_at,
        by=by,
        note=note,
        id=submission_id,
    )


@in_yard_of("yard")
@transaction.atomic
def take_stock(
    *,
    yard: Yard,
    counts: Mapping[int, int],
    occurred_at: datetime,
    by: User,
    submission_id: uuid.UUID,
    has_loose: bool | None = None,
) -> list[StockMove]:
    """Post what a stock take of one yard found: lots' keys with the pads counted.

    has_loose: as of count_shelf, of every lot. A move for each lot whose books differ, all or
    none. A second copy changes nothing. Raises MayLieHere.
    """
    moves = [
        count_shelf(
            lot_id=lot_id,
            pads=pads,
            occurred_at=occurred_at,
            by=by,
            note=f"stock take at {yard}",
            # One id for each lot of the take, the same whenever it is sent again.
            submission_id=uuid.uuid5(submission_id, str(lot_id)),
            yard=yard,
            has_loose=has_loose,
        )
        for lot_id, pads in sorted(counts.items())
    ]
    return [move for move in moves if move is not None]


def _bring_in_loose(
    lot: PadLot, yard: Yard, occurred_at: datetime, by: User, submission_id: uuid.UUID | None
) -> None:
    loose = on_shelf(lot, None)
    if loose:
        move_between_yards(
            lot_id=lot.pk,
            pads=loose,
            origin=None,
            goal=yard,
            occurred_at=occurred_at,
            by=by,
            # One id for each submission of a count, so that a second copy moves no others.
            submission_id=uuid.uuid5(submission_id or uuid.uuid4(), "loose"),
        )


def on_shelf(lot: PadLot, yard: Yard | None) -> int:
    """Return how many pads of a lot the books have on a yard's shelf."""
    shelf = ShelfCount.objects.filter(lot=lot, yard=yard).first()
    return shelf.pads if shelf else 0


def _move(
    lot: PadLot,
    yard: Yard | None,
    change: int,
    *,
    kind: str,
    occurred_at: datetime,
    by: User,
    note: str = "",
    id: uuid.UUID | None = None,
) -> StockMove:
    """The caller holds the lock on the lot, and so on all its shelves."""
    here = on_shelf(lot, yard)
    if here + change < 0:
        raise NotEnoughInStock(lot, -change, here, yard)
    if change > 0 and lot.retired_on is not None:
        raise ValidationError(
            f"Lot {lot.mark} is out of use since {day_words(lot.retired_on)}, used up or thrown "
            "away: choose another, or bring it back into use first."
        )
    ShelfCount.objects.update_or_create(lot=lot, yard=yard, defaults={"pads": here + change})
    PadLot.objects.filter(pk=lot.pk).update(in_stock=F("in_stock") + change)
    lot.in_stock += change
    return StockMove.objects.create(
        lot=lot,
        yard=yard,
        kind=kind,
        change=change,
        occurred_at=occurred_at,
        recorded_by=by,
        note=note,
        submission_id=id,
    )


NO_YARD = "no yard"


def whereabouts(lot: PadLot) -> list[dict[str, Any]]:
    """Return, in one query, {kind, place, state, housing, pads, positions}: shelves, then housings.

    kind: "shelf" or "housing". state: the condition of pads in a housing, "" on a shelf.
    positions: those the pads are in, such as "A1 to A4, B2", "" on a shelf.
    """
    shelves = (
        ShelfCount.objects.filter(lot=lot, pads__gt=0)
        .annotate(
            kind=Value("shelf", CharField()),
            place=Coalesce(F("yard__name"), Value(NO_YARD), output_field=CharField()),
            state=Value("", CharField()),
            key=Value(0),
            side_there=Value("", CharField()),
            many=F("pads"),
        )
        .order_by()
        .values_list("kind", "place", "state", "key", "side_there", "many")
    )
    # Of a shelf the number is its pads, of a housing the position of one.
    fitted = (
        PadPosition.objects.filter(lot=lot)
        .order_by()
        .annotate(kind=Value("housing", CharField()))
        .values_list("kind", "housing__mark", "condition", "housing_id", "side", "number")
    )
    found: dict[tuple[str, str, str], dict[str, Any]] = {}
    for kind, place, state, key, side, number in sorted(
        shelves.union(fitted, all=True), key=_order
    ):
        row = found.setdefault((kind, place, state), _empty(kind, place, state, key))
        row["pads"] += 1 if side else number
        row["there"] += [(side, number)] if side else []
    return [row | {"positions": _runs(row.pop("there"))} for row in found.values()]


def _runs(positions: list[tuple[str, int]]) -> str:
    """Name positions, those one below the other together."""
    runs: list[tuple[str, int, int]] = []
    for side, number in positions:
        if runs and runs[-1][0] == side and runs[-1][2] == number - 1:
            runs[-1] = (side, runs[-1][1], number)
        else:
            runs.append((side, number, number))
    return ", ".join(
        f"{side}{first}" if first == last else f"{side}{first} to {side}{last}"
        for side, first, last in runs
    )


def _empty(kind: str, place: str, state: str, housing: int) -> dict[str, Any]:
    return {
        "kind": kind,
        "place": place,
        "state": state,
        "housing": housing,
        "pads": 0,
        "there": [],
    }


def _order(row: tuple[Any, ...]) -> tuple[Any, ...]:
    kind, place, state, _key, side, number = row
    return kind == "housing", place, state, side, number
