"""What would bring a flagged unit up to its listing: pads of a lot, or travel."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ratings.mechanics.arguments import count, positive
from ratings.mechanics.standing import Standing
from ratings.mechanics.unit_rating import (
    SIDES,
    SOUND,
    LotRate,
    Position,
    UnitInputs,
    UnitRating,
    pad_groups,
    rate_unit,
)


@dataclass(frozen=True)
class PadsToFit:
    """So many pads of one lot in these positions, and the rating that would give."""

    lot: str
    positions: tuple[Position, ...]
    rating: UnitRating

    @property
    def count(self) -> int:
        """How many pads."""
        return len(self.positions)

    @property
    def meets_listing(self) -> bool:
        """Whether the unit would meet its listing with them."""
        return self.rating.standing is Standing.MEETS_LISTING


def pads_to_fit(inputs: UnitInputs, lot: LotRate, most: int) -> PadsToFit | None:
    """Return the fewest pads of `lot`, `most` at the most, that bring the unit to its listing.

    Empty and unsound positions are filled, the weaker side first. Where no number meets the
    listing the number that gives the highest working capacity is returned; None where no pad
    would raise it. Raises ValueError for `most` below 0 and an impossible input.
    """
    count("most", most, 0)
    best: PadsToFit | None = None
    # Pads of this lot that are fitted already count by this rate too.
    inputs = with_sound_pads(inputs, (), lot)
    rating = rate_unit(inputs)
    best_capacity_lbf = rating.working_capacity_lbf or 0.0
    filled: tuple[Position, ...] = ()
    while len(filled) < most and (place := _next_place(inputs, rating)) is not None:
        filled += (place,)
        inputs = with_sound_pads(inputs, (place,), lot)
        rating = rate_unit(inputs)
        if rating.working_capacity_lbf is None:
            continue
        tried = PadsToFit(lot.lot, filled, rating)
        if tried.meets_listing:
            return tried
        if rating.working_capacity_lbf > best_capacity_lbf:
            best, best_capacity_lbf = tried, rating.working_capacity_lbf
    return best


def pads_to_swap(inputs: UnitInputs, lot: LotRate, most: int) -> PadsToFit | None:
    """Return what pads of `lot` in place of those that limit the stretch would give.

    For a unit limited by the tested stretch of some lot fitted. None where it isn't, where
    more than `most` pads would be needed, or where the working capacity wouldn't rise.
    Raises ValueError for `most` below 0 and an impossible input.
    """
    count("most", most, 0)
    now = rate_unit(inputs)
    places = tuple(each for each in inputs.positions if each.lot in now.limiting_lots)
    if not places or len(places) > most or lot.lot in now.limiting_lots:
        return None
    swapped = PadsToFit(lot.lot, places, rate_unit(with_sound_pads(inputs, places, lot)))
    capacity_lbf = swapped.rating.working_capacity_lbf
    if capacity_lbf is None or capacity_lbf <= (now.working_capacity_lbf or 0.0):
        return None
    return swapped


def travel_to_meet(inputs: UnitInputs) -> float | None:
    """Return the least travel, in, at which the pads as fitted would meet the listing.

    Rounded up to the tape's resolution. None where a fact is missing, or where no travel up
    to the tested stretch is enough. Raises ValueError for an impossible input.
    """
    groups = [group for group in pad_groups(inputs) if group.count]
    if inputs.listed_lbf is None or not groups:
        return None
    longest_in = min(group.tested_stretch_in for group in pad_groups(inputs))
    if not _meets_at(inputs, longest_in):
        return None
    resolution_in = positive("tape_resolution_in", inputs.policy.tape_resolution_in, "in")
    # Search the tape's own divisions, so that the travel returned is one that was judged.
    divisions = range(1, math.ceil(longest_in / resolution_in))
    short = bisect_left(divisions, True, key=lambda many: _meets_at(inputs, many * resolution_in))
    return min((short + 1) * resolution_in, longest_in)


def with_sound_pads(inputs: UnitInputs, positions: Sequence[Position], lot: LotRate) -> UnitInputs:
    """Return the inputs of a unit with sound pads of a lot in these positions.

    A rate of that lot which is among the inputs already stays.
    """
    places = {(each.side, each.number) for each in positions}
    is_known = any(rate.lot == lot.lot for rate in inputs.lots)
    return replace(
        inputs,
        lots=inputs.lots if is_known else (*inputs.lots, lot),
        positions=tuple(
            replace(each, condition=SOUND, lot=lot.lot)
            if (each.side, each.number) in places
            else each
            for each in inputs.positions
        ),
    )


def _meets_at(inputs: UnitInputs, travel_in: float) -> bool:
    return rate_unit(replace(inputs, travel_in=travel_in)).standing is Standing.MEETS_LISTING


def _next_place(inputs: UnitInputs, rating: UnitRating) -> Position | None:
    pull_lbf = {"A": rating.side_a_lbf or 0.0, "B": rating.side_b_lbf or 0.0}
    sound = dict.fromkeys(SIDES, 0)
    for position in inputs.positions:
        sound[position.side] += position.condition == SOUND
    places = [position for position in inputs.positions if position.condition != SOUND]
    return min(
        places,
        key=lambda each: (pull_lbf[each.side], sound[each.side], each.side, each.number),
        default=None,
    )
