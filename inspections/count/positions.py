"""Pads named at a signing, held against the housing: on it, each once, of a lot on record."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from fleet.models import PadLot, SuppressorHousing


class PadNamed(Protocol):
    """A pad at a position, seen or fitted there."""

    @property
    def side(self) -> str: ...
    @property
    def number(self) -> int: ...
    @property
    def lot_id(self) -> int | None: ...


def positions_trouble(housing: SuppressorHousing, pads: Sequence[PadNamed]) -> str:
    """Return what is wrong with the positions given; "" where each is on the housing, and once."""
    given = [(pad.side, pad.number) for pad in pads]
    twice = sorted({key for key in given if given.count(key) > 1})
    if twice:
        return f"Position {position_name(twice[0])} is given twice: give each position once."
    known = set(housing.position_keys)
    for key in given:
        if key not in known:
            return (
                f"Position {position_name(key)} is not on housing {housing}: it has "
                f"{housing.positions_per_side} on each side."
            )
    return ""


def lots_trouble(pads: Sequence[PadNamed]) -> str:
    """Return what is wrong with the lots given; "" where each is on record."""
    given = {pad.lot_id for pad in pads if pad.lot_id is not None}
    unknown = given - set(PadLot.objects.filter(pk__in=given).values_list("pk", flat=True))
    for pad in pads:
        if pad.lot_id in unknown:
            name = position_name((pad.side, pad.number))
            return f"The lot given at {name} is not on record: choose it again."
    return ""


def position_name(key: tuple[str, int]) -> str:
    """Return how a position is called, such as "A1"."""
    return f"{key[0]}{key[1]}"
