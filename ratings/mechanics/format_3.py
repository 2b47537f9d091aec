"""How entries of format 3 were rated, and answers that rest on them; it never changes again.

The stretches tried were those of a list and, beside those that came near the largest working
capacity, the peak between them: of a curve that flattens, known no better than its stand, it could
miss that. A proof pull bounded what was found at that one stretch, by what the pads counted there
pull. All else of it is today's.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace
from functools import partial
from itertools import pairwise, zip_longest
from typing import Any

from ratings.mechanics.arguments import not_negative, positive
from ratings.mechanics.counting import ALIKE_LBF, counted
from ratings.mechanics.golden import peak
from ratings.mechanics.linepull import (
    CountPads,
    Found,
    LinePull,
    PadGroup,
    ProofFactor,
    at_stretch,
    first_best,
    line_pull_found,
    most_at,
)
from ratings.mechanics.uncertainty import coverage_factor
from ratings.mechanics.unit_rating import UnitInputs, rate_unit


def results(inputs: UnitInputs) -> dict[str, Any]:
    """Return the results of a rating by the third method as an entry of format 3 has them."""
    rating = rate_unit(inputs, line_pull)
    return asdict(rating) | {"standing": rating.standing.value}


def line_pull(
    groups: Sequence[PadGroup],
    travel_in: float,
    travel_uncertainty_in: float = 0.0,
    confidence: float = 0.95,
    proof: ProofFactor | None = None,
    count_pads: CountPads = counted,
    is_between_too: bool = True,
) -> LinePull:
    """Return the line pull of groups of pads that share one stretch, as today's does but for above.

    count_pads: how much to count of each lot. is_between_too: whether stretches between those of
    the list were tried too; the second method didn't.
    Raises ValueError for a number that can't be.
    """
    travel = positive("travel_in", travel_in, "in")
    tape = not_negative("travel_uncertainty_in", travel_uncertainty_in, "in")
    at = partial(at_stretch, groups, tape_in=tape, confidence=confidence, count_pads=count_pads)
    shorter = _shorter(groups, travel)
    tried = _tried(groups, travel, shorter, at)
    best = first_best(tried)
    if is_between_too:
        surely_rises = partial(_rises, groups, tape_in=tape, confidence=confidence)
        best = _between(tried, [*shorter, 0.0], at, surely_rises)
    found = line_pull_found(groups, best, travel)
    return bounded(found, proof, confidence) if proof else found


def bounded(found: LinePull, proof: ProofFactor, confidence: float) -> LinePull:
    """Return a line pull held to a proof pull: the lower of the two, in estimate and bound.

    The unit's own measured share of what its pads should give, and that less its own doubt.
    """
    held = proof.of(found.pull_lbf, confidence)
    lesser = replace(found, pull_lbf=min(found.pull_lbf, held.pull_lbf))
    if held.least_lbf >= found.working_capacity_lbf:
        return lesser
    return replace(
        lesser,
        working_capacity_lbf=min(held.least_lbf, lesser.pull_lbf),
        standard_uncertainty_lbf=held.doubt_lbf,
        degrees_of_freedom=held.freedom,
        coverage_factor=held.factor,
        is_by_proof=True,
    )


def _tried(
    groups: Sequence[PadGroup],
    travel_in: float,
    shorter: Sequence[float],
    at: Callable[[float], Found],
) -> list[Found]:
    """Return what holds at the travel and at each shorter stretch that may be better."""
    tried = [at(travel_in)]
    most = tried[0].capacity_lbf
    for stretch in shorter:
        # Nothing is sure to more than it carries, nor to more any shorter.
        if most_at(groups, stretch) <= most:
            break
        tried.append(at(stretch))
        most = max(most, tried[-1].capacity_lbf)
    return tried


# Between stretches that leave less than this share of the largest no other may be larger.
_NEAR = 0.99
# So far from the one tried towards the next it is seen whether the working capacity rises.
_STEP = 1.0 / 64.0


def _between(
    tried: Sequence[Found],
    below: Sequence[float],
    at: Callable[[float], Found],
    surely_rises: Callable[[Found], bool],
) -> Found:
    """Return the best of the stretches tried, and of all between those that come near it.

    below: next to each stretch tried, the one below it.
    """
    best = first_best(tried)
    near = _NEAR * best.capacity_lbf

    def rises_from(one: Found, other_in: float) -> bool:
        closer = at(one.stretch_in + _STEP * (other_in - one.stretch_in))
        return closer.capacity_lbf > one.capacity_lbf

    for upper, lower, low_in in zip_longest(tried, tried[1:], below[: len(tried)]):
        ends = [each for each in (upper, lower) if each is not None]
        if all(each.capacity_lbf <= near for each in ends) or surely_rises(upper):
            continue
        high_in = upper.stretch_in
        if rises_from(upper, low_in) or (lower is not None and rises_from(lower, high_in)):
            # Rounded, so that the figure shown is the figure used.
            peak_in = round(peak(lambda stretch: at(stretch).capacity_lbf, low_in, high_in), 6)
            found = at(min(max(peak_in, low_in), high_in))
            if found.capacity_lbf > best.capacity_lbf + ALIKE_LBF:
                best = found
    return best


def _rises(groups: Sequence[PadGroup], found: Found, tape_in: float, confidence: float) -> bool:
    """Say whether the working capacity surely rises up to where it was found.

    By bounds alone, so that it costs little. t·u is a norm of its parts. Those that are a share of
    the force grow with it, by no more than the lot that grows fastest for its force; what grows
    faster is the doubt of the stretch where the curve steepens, and that between readings.
    """
    factor = coverage_factor(confidence, math.inf)
    rise, growth, fastest = [], [], 0.0
    of_lots = zip(found.places, found.pads, found.counted.counts, found.counted.shares, strict=True)
    for place, pad, pads, share in of_lots:
        group, many = groups[place], pads * share
        if not many:
            continue
        if pad.force <= 0.0:
            return False
        rise.append(many * pad.slope)
        fastest = max(fastest, pad.slope / pad.force)
        if group.curve is None:
            continue
        kept = many * group.kept_share
        stretch_in = group.curve.doubt.stretch_in
        if tape_in or stretch_in:
            steepens = max(0.0, group.curve.steepens_lbf_in2(found.stretch_in))
            of_stand = coverage_factor(confidence, group.degrees_of_freedom)
            growth.append(kept * (factor * tape_in + of_stand * stretch_in) * steepens)
        if group.gap_share:
            widens = max(0.0, group.curve.gap_slope_lbf_in(found.stretch_in))
            growth.append(kept * factor * group.gap_share * widens)
    bound = found.counted.bound
    doubt = bound.sum.pull - bound.capacity
    return math.fsum(rise) > fastest * doubt + math.fsum(growth)


# Where a curve bends sharply its doubt may be less a little before a reading: of one whose slope
# doubles somewhere, so many pieces between two readings are tried.
_PIECES = 8
_SHARP = 2.0


def _shorter(groups: Sequence[PadGroup], travel_in: float) -> list[float]:
    """Return the stretches to try below the travel, longest first."""
    stretches = {group.tested_stretch_in for group in groups}
    for group in groups:
        if group.curve is None:
            continue
        knots = group.curve.knots
        stretches |= {min(knot.stretch_in, group.tested_stretch_in) for knot in knots[1:]}
        slopes = [knot.slope_lbf_in for knot in knots]
        if max(slopes) > _SHARP * min(slopes):
            for left, right in pairwise(knots):
                piece = (right.stretch_in - left.stretch_in) / _PIECES
                stretches |= {left.stretch_in + number * piece for number in range(1, _PIECES)}
    return sorted((each for each in stretches if each < travel_in), reverse=True)
