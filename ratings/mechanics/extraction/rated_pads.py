"""The pads that the rating of a unit rests on, as the extraction check takes them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ratings.mechanics.linepull import PadGroup, ProofFactor
from ratings.mechanics.unit_rating import (
    StaleRates,
    UnitInputs,
    pad_groups,
    stiff_groups,
    unknown_stiffness,
)


@dataclass(frozen=True)
class RatedPads:
    """What an entry's rating rests on. lots: all that have a pad fitted, rated or not.

    stiff_groups, unknown_stiffness: what every pad fitted may pull, as a Unit has them.
    drops_stale: whether a rate that goes stale is rated with no more.
    """

    groups: tuple[PadGroup, ...]
    travel_uncertainty_in: float
    confidence: float
    lots: frozenset[str]
    proof: ProofFactor | None = None
    stiff_groups: tuple[PadGroup, ...] = ()
    unknown_stiffness: str | None = None
    drops_stale: bool = False


def rated_pads(inputs: UnitInputs) -> RatedPads:
    """Return the pads that the rating of a unit rests on."""
    # A pad whose rate is stale pulls as before: it counts for the most they may pull.
    stiff, unknown = stiff_groups(inputs), unknown_stiffness(inputs)
    if inputs.policy.stale_rates == StaleRates.DROP:
        inputs = replace(inputs, lots=tuple(rate for rate in inputs.lots if not rate.stale))
    return RatedPads(
        groups=pad_groups(inputs),
        travel_uncertainty_in=inputs.policy.travel_uncertainty_in,
        confidence=inputs.policy.confidence,
        lots=frozenset(each.lot for each in inputs.positions if each.lot is not None),
        proof=inputs.proof,
        stiff_groups=stiff,
        unknown_stiffness=unknown,
        drops_stale=inputs.policy.stale_rates == StaleRates.DROP,
    )
