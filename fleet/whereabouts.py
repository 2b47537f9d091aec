"""Where every pad of a lot is now."""

from __future__ import annotations

from typing import Any

from django.db.models import CharField, F, Value
from django.db.models.functions import Coalesce

from fleet.models import PadLot, PadPosition, ShelfCount

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
