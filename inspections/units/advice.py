"""What would change a unit's figures: better tests, travel, missing facts.

Which pads would is answered by the plans of inspections.restoring.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ratings.lot_pools import stored_rate_if_marked
from ratings.mechanics.standing import Standing
from ratings.mechanics.unit_rating import UnitInputs, rate_unit
from ratings.mechanics.what_if import (
    Price,
    TestFurther,
    lots_to_test_further,
    prices,
    travel_to_meet,
)
from ratings.models import LotRating


@dataclass(frozen=True)
class Advice:
    """What a flagged unit lacks: facts, or so much working capacity, or travel."""

    missing: tuple[str, ...] = ()
    travel_in: float | None = None
    short_lbf: float | None = None


@dataclass(frozen=True)
class BetterTests:
    """What testing the lots fitted better would add to the working capacity, dearest first.

    further: tested to the full travel. prices: without what the tests left out.
    """

    further: tuple[TestFurther, ...]
    prices: tuple[Price, ...]


def better_tests(inputs: UnitInputs, ratings: Iterable[LotRating]) -> BetterTests:
    """Return what better bench tests of the lots fitted would add; ratings: in force, of those."""
    rates = {rate.lot: rate for rate in inputs.lots}
    if_marked = (stored_rate_if_marked(each, rates[each.lot.mark]) for each in ratings)
    return BetterTests(
        lots_to_test_further(inputs),
        prices(inputs, [rate for rate in if_marked if rate is not None]),
    )


def advise(inputs: UnitInputs) -> Advice | None:
    """Return what a unit lacks of its listing, None where it meets it already."""
    rating = rate_unit(inputs)
    if rating.standing is Standing.MEETS_LISTING:
        return None
    if rating.working_capacity_lbf is None or rating.listed_lbf is None:
        return Advice(missing=rating.missing)
    return Advice(
        travel_in=travel_to_meet(inputs),
        short_lbf=rating.listed_lbf - rating.working_capacity_lbf,
    )
