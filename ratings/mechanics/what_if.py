"""What would raise a unit's figures: a fuller test of a lot, pads of a lot, or travel."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from ratings.mechanics.arguments import count, positive
from ratings.mechanics.load_curve import Knot, MonotoneCurve
from ratings.mechanics.shortcuts import ENOUGH_STRETCHES, Shortcut
from ratings.mechanics.standing import Standing
from ratings.mechanics.unit_rating import (
    SIDES,
    SOUND,
    LotRate,
    Policy,
    Position,
    UnitInputs,
    UnitRating,
    pad_groups,
    rate_unit,
    sound_pads_of,
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
    """Return what pads of `lot` in place of those of lots not tested far enough would give.

    None where every lot was, where more than `most` pads would be needed, or where the working
    capacity wouldn't rise. Raises ValueError for `most` below 0 and an impossible input.
    """
    count("most", most, 0)
    now = rate_unit(inputs)
    short = (*now.limiting_lots, *now.short_lots)
    places = tuple(each for each in inputs.positions if each.lot in short)
    if not places or len(places) > most or lot.lot in short:
        return None
    swapped = PadsToFit(lot.lot, places, rate_unit(with_sound_pads(inputs, places, lot)))
    capacity_lbf = swapped.rating.working_capacity_lbf
    if capacity_lbf is None or capacity_lbf <= (now.working_capacity_lbf or 0.0):
        return None
    return swapped


@dataclass(frozen=True)
class TestFurther:
    """What testing a lot to the full travel would add, were it as sure and as stiff there.

    gain_lbf: of the working capacity. rating: the unit's then.
    """

    __test__ = False  # Something a yard may do, not a test for pytest to collect.

    lot: str
    tested_stretch_in: float
    gain_lbf: float
    rating: UnitRating


def lots_to_test_further(inputs: UnitInputs) -> tuple[TestFurther, ...]:
    """Return the lots fitted that would add to the unit if tested to its travel, best first.

    Beyond its last reading a lot is taken to rise as it did last, which a test must show.
    """
    now = rate_unit(inputs)
    if inputs.travel_in is None or now.working_capacity_lbf is None:
        return ()
    found = []
    for rate in inputs.lots:
        if rate.tested_stretch_in >= inputs.travel_in or not sound_pads_of(inputs, rate.lot):
            continue
        others = [each for each in inputs.lots if each.lot != rate.lot]
        further = _tested_to(rate, inputs.travel_in)
        rating = rate_unit(replace(inputs, lots=(*others, further)))
        gain_lbf = (rating.working_capacity_lbf or 0.0) - now.working_capacity_lbf
        if gain_lbf > 0.0:
            found.append(TestFurther(rate.lot, rate.tested_stretch_in, gain_lbf, rating))
    return tuple(sorted(found, key=lambda each: (-each.gain_lbf, each.lot)))


def _tested_to(rate: LotRate, stretch_in: float) -> LotRate:
    before, last = rate.curve[-2], rate.curve[-1]
    rise = (last.force_lbf - before.force_lbf) / (last.stretch_in - before.stretch_in)
    slope = min(rise, last.slope_lbf_in)
    force_lbf = last.force_lbf + slope * (stretch_in - last.stretch_in)
    return replace(
        rate,
        tested_stretch_in=stretch_in,
        curve=(
            *rate.curve[:-1],
            replace(last, slope_lbf_in=slope),
            Knot(stretch_in, force_lbf, slope),
        ),
    )


@dataclass(frozen=True)
class Price:
    """What a shortcut in the tests of a lot costs a unit: gain_lbf of working capacity."""

    lot: str
    shortcut: Shortcut
    gain_lbf: float


def prices(inputs: UnitInputs, if_marked: Sequence[LotRate] = ()) -> tuple[Price, ...]:
    """Return what each shortcut in the tests of the lots fitted costs, the dearest first.

    By rating the unit again as if the tests had not taken it, all else alike: unloading read,
    pads conditioned, temperature read, one stretch more read between each two, and every pad
    marked. if_marked: the rates of lots some of whose pads tested bore no mark, as they would be
    with marks; one test of a lot has none to gain by them.
    """
    now = rate_unit(inputs).working_capacity_lbf
    if now is None:
        return ()
    found = []
    for rate in inputs.lots:
        if not sound_pads_of(inputs, rate.lot):
            continue
        others = tuple(each for each in inputs.lots if each.lot != rate.lot)
        marked = [(Shortcut.UNMARKED_PADS, each) for each in if_marked if each.lot == rate.lot]
        for shortcut, without in (*_without_shortcuts(rate), *marked):
            rating = rate_unit(replace(inputs, lots=(*others, without)))
            gain_lbf = (rating.working_capacity_lbf or 0.0) - now
            if gain_lbf > 0.0:
                found.append(Price(rate.lot, shortcut, gain_lbf))
    return tuple(sorted(found, key=lambda each: (-each.gain_lbf, each.lot, each.shortcut)))


def travel_to_meet(inputs: UnitInputs) -> float | None:
    """Return the least travel, in, at which the pads as fitted would meet the listing.

    Rounded up to the tape's resolution. None where a fact is missing, or where no travel up
    to the tested stretch is enough. Raises ValueError for an impossible input.
    """
    groups = [group for group in pad_groups(inputs) if group.count]
    if inputs.listed_lbf is None or not groups:
        return None
    longest_in = max(group.tested_stretch_in for group in groups)
    if not _meets_at(inputs, longest_in):
        return None
    resolution_in = positive("tape_resolution_in", inputs.policy.tape_resolution_in, "in")
    # Search the tape's own divisions, so that the travel returned is one that was judged.
    divisions = range(1, math.ceil(longest_in / resolution_in))
    short = bisect_left(divisions, True, key=lambda many: _meets_at(inputs, many * resolution_in))
    return min((short + 1) * resolution_in, longest_in)


def _without_shortcuts(rate: LotRate) -> Iterator[tuple[Shortcut, LotRate]]:
    """Yield each shortcut that some test of a lot took, and the lot's rate without it."""
    if rate.loading_only_share:
        yield Shortcut.LOADING_ONLY, replace(rate, loading_only_share=0.0)
    if rate.not_conditioned_share:
        yield Shortcut.NOT_CONDITIONED, replace(rate, not_conditioned_share=0.0)
    if rate.temperature_unknown_share:
        yield Shortcut.TEMPERATURE_UNKNOWN, replace(rate, temperature_unknown_share=0.0)
    if 1 < len(rate.curve) <= ENOUGH_STRETCHES:
        yield Shortcut.FEW_STRETCHES, replace(rate, curve=_read_between(rate.curve))


def _read_between(curve: tuple[Knot, ...]) -> tuple[Knot, ...]:
    """Return the knots of a curve with one more half-way between each two, on the curve."""
    whole, knots = MonotoneCurve(curve), [curve[0]]
    for left, right in pairwise(curve):
        half = (left.stretch_in + right.stretch_in) / 2.0
        knots += [Knot(half, whole.force_lbf(half), whole.slope_lbf_in(half)), right]
    return tuple(knots)


# Sound pads of a housing of middling size, to say what something comes to where no unit is meant.
EXAMPLE_PADS = 20


def example_unit(rate: LotRate, policy: Policy) -> UnitInputs:
    """Return a guided housing of twenty sound pads of a lot, with the travel it was tested to."""
    positions = tuple(
        Position(side, number, SOUND, rate.lot)
        for side in SIDES
        for number in range(1, EXAMPLE_PADS // 2 + 1)
    )
    return UnitInputs(positions, (rate,), rate.tested_stretch_in, None, policy, is_guided=True)


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
