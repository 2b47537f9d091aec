"""How much of each lot the working capacity counts, and how sure the pads counted are.

A lot that is proven to carry anything by itself counts whole: t·u, as taken here, is a norm of the
doubts (more of any doubt is never less, and of two lots together never more than of each alone;
the tests draw it), so such a lot never takes from the others. Of the lots that are in more doubt
than they pull, the one that adds most counts at the share of its force that adds most, and the
others add nothing. Since pads only ever pull, what a share of them carries the whole carries.

So a pad, a better test, or a share of the force given back never lowers what is proven: a lot
scaled up by any of them can be counted at the smaller share that it was counted at before.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from itertools import accumulate, combinations

from ratings.mechanics.golden import peak
from ratings.mechanics.pad_sums import (
    Bound,
    Counted,
    Estimate,
    Pad,
    Sum,
    effective_freedom,
    of_stand,
    sum_of,
)
from ratings.mechanics.uncertainty import coverage_factor, degrees_of_freedom_at

# Working capacities within a millionth of a pound are alike: then more pads, further out.
ALIKE_LBF = 1e-6


def counted(
    fitted: Sequence[int], pads: Sequence[Pad], tape_in: float, confidence: float
) -> Counted:
    """Return what to count of each lot, all of whose pads fitted are given."""
    counts, whole = tuple(fitted), (1.0,) * len(fitted)

    def bound(shares: Sequence[float]) -> Bound:
        return bound_of(counts, pads, tape_in, confidence, shares)

    def alone(place: int) -> bool:
        """Say whether a lot by itself is proven to carry anything."""
        return bound([float(each == place) for each in range(len(counts))]).capacity > 0.0

    def of_one(place: int, share: float) -> float:
        """Return what the sure lots carry at least with a share of another, lbf."""
        return bound(_with(sure, place, share)).capacity

    everything = bound(whole)
    fitted_places = [place for place, many in enumerate(counts) if many]
    if len(fitted_places) < 2:
        return Counted(counts, whole, everything)
    doubtful = [place for place in fitted_places if not alone(place)]
    if not doubtful:
        return Counted(counts, whole, everything)
    sure = tuple(float(place not in doubtful) for place in range(len(counts)))
    # Not by the order the lots are given in, which must change nothing.
    doubtful.sort(key=lambda place: (-pads[place].force, pads[place].spread, counts[place]))
    shares, found = sure, bound(sure)
    if len(doubtful) < len(fitted_places):
        for place in doubtful:
            share = _best_share(partial(of_one, place))
            tried = bound(_with(sure, place, share))
            if tried.capacity > found.capacity + ALIKE_LBF:
                shares, found = _with(sure, place, share), tried
    if abs(everything.capacity - found.capacity) <= ALIKE_LBF:
        return Counted(counts, whole, everything)
    kept = tuple(many if share else 0 for many, share in zip(counts, shares, strict=True))
    return Counted(kept, shares, found)


def _with(shares: tuple[float, ...], place: int, share: float) -> tuple[float, ...]:
    return (*shares[:place], share, *shares[place + 1 :])


def _best_share(capacity: Callable[[float], float]) -> float:
    """Return the share, 0 to 1 and to six decimals, at which a capacity is largest."""
    return max((1.0, round(peak(capacity, 0.0, 1.0), 6)), key=capacity)


def bound_of(
    counts: Sequence[int],
    pads: Sequence[Pad],
    tape_in: float,
    confidence: float,
    shares: Sequence[float] = (),
) -> Bound:
    """Return what so many pads of each lot, at a share of their force, carry at least."""
    found = sum_of(counts, pads, tape_in, shares)
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
    fewest = min(
        *(each.freedom for each in parts), *(freedom for _, freedom in total.stands), math.inf
    )
    worst = coverage_factor(confidence, fewest)
    if worst * math.sqrt(math.fsum(each.variance for each in parts)) <= whole:
        return freedom, factor
    largest = _largest(total, whole, confidence)
    if largest <= whole:
        return freedom, factor
    factor = largest / total.uncertainty
    if largest <= whole * (1.0 + 1e-4):
        return freedom, factor
    return degrees_of_freedom_at(confidence, factor), factor


def _largest(total: Sum, whole: float, confidence: float) -> float:
    """Return the largest t·u of some of the parts, or that of all, lbf."""
    largest, factors = whole, dict[float, float]()
    for known in _of_stand(total):
        factors |= {each.freedom: coverage_factor(confidence, each.freedom) for each in known}
        # No t is larger than that of the part known worst, and no u than that of all these.
        most = math.sqrt(math.fsum(each.variance for each in known))
        if max(factors[each.freedom] for each in known) * most <= largest:
            continue
        for some in _some(known):
            root = math.sqrt(some.variance)
            if factors[some.freedom] * root > largest:
                freedom = effective_freedom(some.variance, some.per_freedom)
                largest = max(largest, coverage_factor(confidence, freedom) * root)
    return largest


# Of the stand's doubt of so many lots every choice is tried: of four 15, of seven 127.
_EVERY = 7


def _of_stand(total: Sum) -> Iterator[tuple[Estimate, ...]]:
    """Yield the parts with the stand's doubt of all lots, and of some of them.

    What a stand has wrong adds straight from lot to lot. Less of it from a lot known well leaves
    the others as they are, and must not raise the doubt of all. No order of the lots has the
    largest doubt among its first few, so every choice is tried; of more lots than any housing
    has, as many as one likes of those known worst and of those with most doubt for that.
    """
    yield total.estimated
    stands = total.stands
    if len(stands) < 2 or all(freedom == math.inf for _, freedom in stands):
        return
    # Where any is known from finitely many readings the stand's estimate is the last.
    others = total.estimated[:-1]
    for some in _choices(stands):
        whole = math.fsum(each for each, _ in some)
        shared = math.fsum(each * each / freedom for each, freedom in some)
        if shared:
            yield (*others, of_stand(whole, shared))


def _choices(stands: Sequence[tuple[float, float]]) -> Iterator[Sequence[tuple[float, float]]]:
    if len(stands) <= _EVERY:
        for many in range(1, len(stands)):
            yield from combinations(stands, many)
        return
    for worst_first in (
        sorted(stands, key=lambda each: (each[1], -each[0])),
        sorted(stands, key=lambda each: (-each[0] / each[1], each[1])),
    ):
        for many in range(1, len(stands)):
            yield worst_first[:many]


def _some(parts: Sequence[Estimate]) -> Iterator[Estimate]:
    """Yield sums of the parts of which some t·u may be the largest, with the fewest freedoms.

    As many as one likes of those known worst, of the largest, and of those whose variance is
    largest for its degrees of freedom; and each alone. No other choice was ever found to be larger
    (every choice of up to six parts, in the tests).
    """
    yield from parts
    for worst_first in (
        sorted(parts, key=lambda each: (each.freedom, -each.variance)),
        sorted(parts, key=lambda each: (-each.variance, each.freedom)),
        sorted(parts, key=lambda each: (-each.variance / each.freedom, each.freedom)),
    ):
        yield from accumulate(worst_first, _both)


def _both(one: Estimate, other: Estimate) -> Estimate:
    return Estimate(
        one.variance + other.variance,
        min(one.freedom, other.freedom),
        one.per_freedom + other.per_freedom,
    )
