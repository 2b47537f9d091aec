"""Where every pad of a lot is now."""

from __future__ import annotations

from typing import Any

from django.db.models import CharField, Count, F, Value
from django.db.models.functions import Coalesce

from fleet.models import PadLot, PadPosition, ShelfCount

NO_YARD = "no yard"


def whereabouts(lot: PadLot) -> list[dict[str, Any]]:
    """Return, in one query, {kind, place, state, housing, pads}: shelves first, then housings.

    kind: "shelf" or "housing". state: the condition of pads in a housing, "" on a shelf.
    """
    shelves = (
        ShelfCount.objects.filter(lot=lot, pads__gt=0)
        .annotate(
            kind=Value("shelf", CharField()),
            place=Coalesce(F("yard__name"), Value(NO_YARD), output_field=CharField()),
            state=Value("", CharField()),
            key=Value(0),
            many=F("pads"),
        )
        .order_by()
        .values_list("kind", "place", "state", "key", "many")
    )
    fitted = (
        PadPosition.objects.filter(lot=lot)
        .order_by()
        .values(place=F("housing__mark"), state=F("condition"), key=F("housing_id"))
        .annotate(many=Count("pk"), kind=Value("housing", CharField()))
        .values_list("kind", "place", "state", "key", "many")
    )
    names = ("kind", "place", "state", "housing", "pads")
    found = [dict(zip(names, row, strict=True)) for row in shelves.union(fitted, all=True)]
    return sorted(found, key=lambda row: (row["kind"] == "housing", row["place"], row["state"]))
