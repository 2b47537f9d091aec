"""Words the sections of the report share."""

from __future__ import annotations

from fleet.quantities import Quantity
from ratings.models import LedgerEntry


def usable_words(entry: LedgerEntry, system: str) -> str:
    limit = entry.results["limited_by"]
    if entry.usable_travel_in is None:
        return "–"
    words = length_words(entry.usable_travel_in, system)
    return f"{words}, limited by {limit}" if limit else words


def length_words(value: float | None, system: str) -> str:
    return "not taped" if value is None else Quantity.LENGTH.words(value, system)
