"""How entries of format 2 were rated, and answers that rest on them; it never changes again.

Every figure on record recomputes from its own inputs to the last digit, so what the second method
made of a sum stays as it was: pads that cost more by their doubt than they give were left
uncounted, each whole or not at all, the stand's doubt was one part however many lots share it, and
no stretch between those of the list was tried. All else of it is the third's.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from functools import partial
from typing import Any

from ratings.mechanics import format_3, linepull
from ratings.mechanics.pad_sums import (
    Bound,
    Counted,
    Estimate,
    Pad,
    Sum,
    effective_freedom,
    expanded,
    sum_of,
)
from ratings.mechanics.uncertainty import coverage_factor, degrees_of_freedom_at
from ratings.mechanics.unit_rating import UnitInputs, rate_unit


def results(inputs: UnitInputs) -> dict[str, Any]:
    """Return the results of a rating by the second method as an entry of format 2 has them."""
    rating = rate_unit(inputs, line_pull)
    found = asdict(rating) | {"standing": rating.standing.value}
    for share in found["lots"]:
        del share["share"]
    return found


def bound_of(
    counts: Sequence[int], pads: Sequence[Pad], tape_in: float, confidence: float
) -> Bound:
    """Return what so many pads of each lot carried at least by the second method."""
    found = sum_of(counts, pads, tape_in)
    freedom, factor = _coverage(found, confidence)
    return Bound(found, freedom, factor, max(0.0, found.pull - factor * found.uncertainty))


def _coverage(total: Sum, confidence: float) -> tuple[float, float]:
    """Return degrees of freedom and the coverage factor of a sum.

    Welch–Satterthwaite over all its parts; but no part is in more doubt than the whole. Where
    some that are known from few readings come by themselves to a larger t·u than all together,
    that larger one holds: there the formula covers less than it says (8 % missed for 5 where
    one degree of freedom meets a fourth of its doubt known well: Monte Carlo in the tests), and
    less doubt elsewhere would lower what is proven. Degrees of freedom are then those at which
    Student's factor is as large.
    """
    parts = total.estimated
    per_freedom = math.fsum(each.per_freedom for each in parts)
    freedom = effective_freedom(total.uncertainty * total.uncertainty, per_freedom)
    factor = coverage_factor(confidence, freedom)
    if not parts:
        return freedom, factor
    whole = factor * total.uncertainty
    # No sum has fewer degrees of freedom than the worst of its parts.
    worst = coverage_factor(confidence, min(each.freedom for each in parts))
    if worst * math.sqrt(math.fsum(each.variance for each in parts)) <= whole:
        return freedom, factor
    largest = max(expanded(some, confidence) for some in _some(parts))
    if largest <= whole * (1.0 + 1e-4):
        return freedom, factor
    factor = largest / total.uncertainty
    return degrees_of_freedom_at(confidence, factor), factor


def _some(parts: Sequence[Estimate]) -> Iterator[list[Estimate]]:
    """Yield the parts of which some t·u may be the largest.

    Each alone, and as many as one likes of those known worst, of the largest, and of those whose
    variance is largest for its degrees of freedom. No other choice was ever found to be larger
    (every choice of up to six parts, in the tests).
    """
    for each in parts:
        yield [each]
    for worst_first in (
        sorted(parts, key=lambda each: (each.freedom, -each.variance)),
        sorted(parts, key=lambda each: (-each.variance, each.freedom)),
        sorted(parts, key=lambda each: (-each.variance / each.freedom, each.freedom)),
    ):
        for many in range(2, len(parts) + 1):
            yield worst_first[:many]


# So many ways to leave pads uncounted are tried at most; housings come nowhere near it.
_MOST_WAYS = 20_000
# Working capacities within a millionth of a pound are alike: then more pads, further out.
_ALIKE_LBF = 1e-6


def counted(
    fitted: Sequence[int], pads: Sequence[Pad], tape_in: float, confidence: float
) -> Counted:
    """Return how many pads of each group were counted for the largest working capacity.

    A lot is left whole where even the bound of _Most with one pad less falls short of what all
    pads give. What else could be left uncounted is tried from the most pads down, as far as
    that bound allows, so that the largest is found.
    """
    counts = tuple(fitted)
    found = bound_of(counts, pads, tape_in, confidence)
    most = _Most(counts, pads, tape_in, confidence)
    doubtful = [
        place
        for place, many in enumerate(counts)
        if many and most(_with(counts, place, many - 1)) > found.capacity
    ]
    if not doubtful:
        return _whole(counts, found)
    # Not by the order the lots are given in, which must change nothing.
    doubtful.sort(key=lambda place: (pads[place].force, pads[place].spread, counts[place]))
    tries, waiting = 0, [(counts, 0)]
    while waiting and tries < _MOST_WAYS:
        tried, decided = waiting.pop()
        if most(tried) <= found.capacity + _ALIKE_LBF:
            continue
        if decided < len(doubtful):
            place = doubtful[decided]
            waiting += [
                (_with(tried, place, many), decided + 1) for many in range(tried[place] + 1)
            ]
            continue
        tries += 1
        bound = bound_of(tried, pads, tape_in, confidence)
        if bound.capacity > found.capacity + _ALIKE_LBF:
            counts, found = tried, bound
    return _whole(counts, found)


def _whole(counts: tuple[int, ...], found: Bound) -> Counted:
    return Counted(counts, (1.0,) * len(counts), found)


def _with(counts: tuple[int, ...], place: int, many: int) -> tuple[int, ...]:
    return (*counts[:place], many, *counts[place + 1 :])


class _Most:
    """What these pads, or fewer of them, can be proven to carry at the most, lbf.

    P − z·u is at least the working capacity, z the factor at infinite degrees of freedom. A pad
    raises it where f ≥ z·u₁, u₁ the doubt of that pad alone (u is a norm); where every pad does,
    it bounds that of fewer as well. A pad that is in more doubt adds no more than its force.
    """

    def __init__(
        self, fitted: Sequence[int], pads: Sequence[Pad], tape_in: float, confidence: float
    ) -> None:
        self.pads, self.tape_in = pads, tape_in
        self.factor = coverage_factor(confidence, math.inf)
        self.is_sure = [
            not many or pad.force >= self.factor * _alone(pad, tape_in)
            for many, pad in zip(fitted, pads, strict=True)
        ]

    def __call__(self, counts: Sequence[int]) -> float:
        sure = [many * is_sure for many, is_sure in zip(counts, self.is_sure, strict=True)]
        others = math.fsum(
            (many - of_sure) * pad.force
            for many, of_sure, pad in zip(counts, sure, self.pads, strict=True)
        )
        total = sum_of(sure, self.pads, self.tape_in)
        return max(0.0, total.pull - self.factor * total.uncertainty) + others


def _alone(pad: Pad, tape_in: float) -> float:
    """Return the standard uncertainty of a single pad counted, lbf."""
    variance = pad.spread * pad.spread * (pad.times + pad.tested)
    variance += math.fsum(own * own for own, _ in pad.own)
    taped = pad.slope * tape_in
    return math.sqrt(variance + pad.stand * pad.stand + pad.use * pad.use + taped * taped)


line_pull = partial(format_3.line_pull, count_pads=counted, is_between_too=False)
most_pull_at = partial(linepull.most_pull_at, bound_pads=bound_of)
