"""How far the rubber of each lot in a unit is strained, whether the lot was tested or not."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fleet.models import PadLot, SuppressorHousing
from ratings.mechanics.plausibility import strain_pct
from ratings.mechanics.unit_rating import Policy
from ratings.models import LedgerEntry


@dataclass(frozen=True)
class LotStrain:
    """A lot with pads in a unit. usable_pct, full_pct: at the usable travel and at the stops.

    None where the travel, or how thick the rubber is, is not on record.
    largest_pct: the policy's limit, None where it sets none.
    """

    lot: PadLot
    usable_pct: float | None
    full_pct: float | None
    largest_pct: float | None

    @property
    def is_past_limit(self) -> bool:
        """Whether the stops let the rubber be strained further than the policy allows."""
        if self.largest_pct is None or self.full_pct is None:
            return False
        return self.full_pct > self.largest_pct


def strains(
    housing: SuppressorHousing,
    lots: Iterable[PadLot],
    head: LedgerEntry | None,
    policy: Policy,
) -> list[LotStrain]:
    """Return each lot fitted in a housing with how far its rubber is strained."""
    largest_pct = policy.largest_strain_pct
    usable_in = head.usable_travel_in if head else None
    return [
        LotStrain(
            lot,
            _pct(usable_in, lot.rubber_thickness_in),
            _pct(housing.travel_in, lot.rubber_thickness_in),
            largest_pct,
        )
        for lot in lots
    ]


def _pct(stretch_in: float | None, thickness_in: float | None) -> float | None:
    if stretch_in is None or thickness_in is None:
        return None
    return strain_pct(stretch_in, thickness_in)
