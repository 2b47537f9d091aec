"""What a unit would be rated at if a form not yet signed were signed as it stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from fleet.models import PadLot, SuppressorHousing
from inspections.count.signing import PadSeen
from ratings.ledger.facts import gather, lot_rate
from ratings.mechanics.unit_rating import Position, UnitRating, rate_unit
from ratings.models import LotRating


def preview_rating(
    housing: SuppressorHousing,
    pads: Sequence[PadSeen],
    travel_in: float | None,
) -> UnitRating:
    """Rate a housing with these pads and this travel.

    Positions left out, and a travel of None, are taken as they stand on record.
    """
    facts = gather([housing])[housing.pk]
    inputs, pull = facts.inputs, facts.provenance.get("proof_pull")
    seen = {(pad.side, pad.number): pad for pad in pads}
    lots = PadLot.objects.in_bulk([pad.lot_id for pad in pads if pad.lot_id])
    ratings = LotRating.objects.in_force_by_lot(lots)
    known = {rate.lot: rate for rate in inputs.lots}
    known |= {rating.lot.mark: lot_rate(rating, inputs.policy) for rating in ratings.values()}
    positions = tuple(
        _seen(position, seen[position.side, position.number], lots)
        if (position.side, position.number) in seen
        else position
        for position in inputs.positions
    )
    # A pull that agreed tells only of the pads it was made with, a softness of any.
    is_held = pull is not None and (pull["is_softer"] or positions == inputs.positions)
    return rate_unit(
        replace(
            inputs,
            proof=inputs.proof if is_held else None,
            positions=positions,
            lots=tuple(known.values()),
            travel_in=inputs.travel_in if travel_in is None else travel_in,
        )
    )


def _seen(position: Position, pad: PadSeen, lots: Mapping[int, PadLot]) -> Position:
    lot = lots.get(pad.lot_id) if pad.lot_id else None
    return replace(position, condition=pad.condition, lot=lot.mark if lot else None)
