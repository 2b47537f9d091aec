"""What would change a unit's figures: better tests, pads from stock, travel, missing facts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fleet.models import PadLot, SuppressorHousing
from inspections.count.sets import filled_form
from ratings.ledger.facts import lot_rate
from ratings.lot_pools import stored_rate_if_marked
from ratings.mechanics.standing import Standing
from ratings.mechanics.unit_rating import UnitInputs, rate_unit
from ratings.mechanics.what_if import (
    PadsToFit,
    Price,
    TestFurther,
    lots_to_test_further,
    pads_to_fit,
    pads_to_swap,
    prices,
    travel_to_meet,
)
from ratings.models import LotRating

# A store of many lots has as many ways, and nobody reads past the best.
MOST_WAYS = 10


@dataclass(frozen=True)
class Advice:
    """What a flagged unit lacks.

    pads: the best ways to fit pads of one lot, those that reach the listing first, each with the
    address of the form of a replacement filled by it.
    """

    missing: tuple[str, ...] = ()
    pads: tuple[tuple[PadsToFit, str], ...] = ()
    travel_in: float | None = None
    short_lbf: float | None = None


@dataclass(frozen=True)
class BetterTests:
    """What testing the lots fitted better would add to the working capacity, dearest first.

    further: tested to the full travel. prices: without what the tests left out.
    """

    further: tuple[TestFurther, ...]
    prices: tuple[Price, ...]


def better_tests(inputs: UnitInputs, lots: Iterable[PadLot]) -> BetterTests:
    """Return what better bench tests of the lots fitted would add."""
    rates = {rate.lot: rate for rate in inputs.lots}
    rated = [lot.pk for lot in lots if lot.mark in rates]
    if_marked = (
        stored_rate_if_marked(rating, rates[rating.lot.mark])
        for rating in LotRating.objects.in_force_by_lot(rated).values()
    )
    return BetterTests(
        lots_to_test_further(inputs),
        prices(inputs, [rate for rate in if_marked if rate is not None]),
    )


def advise(housing: SuppressorHousing, inputs: UnitInputs) -> Advice | None:
    """Return what would bring a unit to its listing, None where it meets it already."""
    rating = rate_unit(inputs)
    if rating.standing is Standing.MEETS_LISTING:
        return None
    if rating.working_capacity_lbf is None or rating.listed_lbf is None:
        return Advice(missing=rating.missing)
    stocked = list(PadLot.objects.filter(in_stock__gt=0))
    keys = {lot.mark: lot.pk for lot in stocked}
    ratings = LotRating.objects.in_force_by_lot(keys.values())
    ways = [
        way(inputs, lot_rate(ratings[lot.pk], inputs.policy), lot.in_stock)
        for lot in stocked
        if lot.pk in ratings
        for way in (pads_to_fit, pads_to_swap)
    ]
    return Advice(
        pads=tuple(
            (
                way,
                filled_form(
                    housing.pk, [(at.side, at.number, keys[way.lot]) for at in way.positions]
                ),
            )
            for way in sorted(
                (way for way in ways if way is not None),
                key=lambda way: (not way.meets_listing, way.count, way.lot),
            )[:MOST_WAYS]
        ),
        travel_in=travel_to_meet(inputs),
        short_lbf=rating.listed_lbf - rating.working_capacity_lbf,
    )
