"""What would change a unit's standing: pads from stock, travel, or the facts that are missing."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.models import PadLot, SuppressorHousing
from ratings.ledger.facts import gather, lot_rate
from ratings.mechanics.standing import Standing
from ratings.mechanics.unit_rating import rate_unit
from ratings.mechanics.what_if import PadsToFit, pads_to_fit, pads_to_swap, travel_to_meet
from ratings.models import LotRating

# A store of many lots has as many ways, and nobody reads past the best.
MOST_WAYS = 10


@dataclass(frozen=True)
class Advice:
    """What a flagged unit lacks. `pads` has the best ways, those that reach the listing first."""

    missing: tuple[str, ...] = ()
    pads: tuple[PadsToFit, ...] = ()
    travel_in: float | None = None
    short_lbf: float | None = None


def stale_lots(housing: SuppressorHousing) -> list[str]:
    """Return the lots whose rate is stale today, whether the ledger says so yet or not."""
    inputs = gather([housing])[housing.pk].inputs
    return sorted(rate.lot for rate in inputs.lots if rate.stale)


def advise(housing: SuppressorHousing) -> Advice | None:
    """Return what would bring a unit to its listing, None where it meets it already."""
    inputs = gather([housing])[housing.pk].inputs
    rating = rate_unit(inputs)
    if rating.standing is Standing.MEETS_LISTING:
        return None
    if rating.working_capacity_lbf is None or rating.listed_lbf is None:
        return Advice(missing=rating.missing)
    stocked = PadLot.objects.filter(in_stock__gt=0)
    ratings = LotRating.objects.in_force_by_lot(stocked.values_list("pk", flat=True))
    ways = [
        way(inputs, lot_rate(ratings[lot.pk], inputs.policy), lot.in_stock)
        for lot in stocked
        if lot.pk in ratings
        for way in (pads_to_fit, pads_to_swap)
    ]
    return Advice(
        pads=tuple(
            sorted(
                (way for way in ways if way is not None),
                key=lambda way: (not way.meets_listing, way.count, way.lot),
            )[:MOST_WAYS]
        ),
        travel_in=travel_to_meet(inputs),
        short_lbf=rating.listed_lbf - rating.working_capacity_lbf,
    )
