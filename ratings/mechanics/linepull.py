"""What all sound pads of a housing carry together at its usable travel, and how sure that is.

A lot counts at a stretch only where it was tested that far, and one that is in more doubt than
it pulls counts at the share of its force that adds most: pads only ever pull. So the working
capacity is the largest that any of the pads fitted, at any stretch up to the travel, can be shown
to reach, and no further pad, test or inch of travel ever lowers it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property, partial
from itertools import pairwise, zip_longest

from ratings.mechanics.arguments import count, not_negative, positive, set_checked
from ratings.mechanics.counting import ALIKE_LBF, bound_of, counted
from ratings.mechanics.golden import peak
from ratings.mechanics.load_curve import LinearCurve, LoadCurve, MonotoneCurve
from ratings.mechanics.pad_sums import Bound, Counted, Pad
from ratings.mechanics.uncertainty import coverage_factor


class Limit(StrEnum):
    """What ends the usable travel."""

    TRAVEL = "travel"
    TESTED_STRETCH = "tested stretch"
    CAPACITY = "working capacity, which is largest there"


_FREEDOMS = (
    "degrees_of_freedom",
    "spread_degrees_of_freedom",
    "scatter_degrees_of_freedom",
    "between_degrees_of_freedom",
    "pads_tested",
)
_SHARES = ("between_share", "conditions_share", "gap_share", "kept_share")


@dataclass(frozen=True)
class PadGroup:
    """Sound pads of one lot in a housing.

    count: sound pads. 0 where the lot is fitted but none of its pads is sound.
    rate_lbf_in, tested_stretch_in: what the bench test found of one pad.
    standard_error_lbf_in: standard uncertainty of the rate that all these pads share, and share
        with every lot the stand has rated.
    spread_lbf_in: standard deviation of the rate from pad to pad.
    degrees_of_freedom: of the shared uncertainty.
    spread_degrees_of_freedom: of the spread.
    curve: the load curve in place of rate × stretch, as measured.
    sides: how many of them are on side A and on side B; None where the housing is guided, and
        its sides stretch alike.
    pads_tested: effective number of distinct pads whose mean the rate is; infinite where the
        rate owes nothing to which pads were tested.
    scatter_degrees_of_freedom: of the scatter in the curve's doubt.
    between_share, between_degrees_of_freedom: standard deviation between the lot's tests that
        their own doubts don't explain, as a share of the force.
    conditions_share: standard uncertainty of the force in use for that on the bench (temperature,
        dwell, rate of pull), as a share of it; all lots of a housing share it.
    gap_share: standard uncertainty half-way between two readings, as a share of the rise between
        them.
    kept_share: what is left of the curve's force when the price of a test's shortcuts is off.
    Raises ValueError for a number that can't be.
    """

    count: int
    rate_lbf_in: float
    tested_stretch_in: float
    standard_error_lbf_in: float = 0.0
    spread_lbf_in: float = 0.0
    degrees_of_freedom: float = math.inf
    curve: MonotoneCurve | None = None
    lot: str = ""
    spread_degrees_of_freedom: float = math.inf
    sides: tuple[int, int] | None = None
    pads_tested: float = math.inf
    scatter_degrees_of_freedom: float = math.inf
    between_share: float = 0.0
    between_degrees_of_freedom: float = math.inf
    conditions_share: float = 0.0
    gap_share: float = 0.0
    kept_share: float = 1.0

    def __post_init__(self) -> None:
        standard_error = self.standard_error_lbf_in
        set_checked(
            self,
            count=count("count", self.count, 0),
            rate_lbf_in=positive("rate_lbf_in", self.rate_lbf_in, "lbf/in"),
            tested_stretch_in=positive("tested_stretch_in", self.tested_stretch_in, "in"),
            standard_error_lbf_in=not_negative("standard_error_lbf_in", standard_error, "lbf/in"),
            spread_lbf_in=not_negative("spread_lbf_in", self.spread_lbf_in, "lbf/in"),
        )
        for name in _FREEDOMS:
            freedom = getattr(self, name)
            if freedom != math.inf:
                set_checked(self, **{name: positive(name, freedom, "")})
        for name in _SHARES:
            set_checked(self, **{name: not_negative(name, getattr(self, name), "of the force")})
        if self.kept_share > 1.0:
            raise ValueError(f"kept_share is {self.kept_share:g}: give no more than 1")
        if self.sides is not None:
            sides = tuple(count("sides", each, 0) for each in self.sides)
            if len(sides) != 2 or sum(sides) != self.count:
                raise ValueError(
                    f"sides is {self.sides}: give the pads on side A and on side B, "
                    f"{self.count} together"
                )
            set_checked(self, sides=sides)

    @cached_property
    def load_curve(self) -> LoadCurve:
        """The lot's load curve: rate × stretch where no other is given."""
        return self.curve or LinearCurve(
            self.rate_lbf_in, self.tested_stretch_in, self.standard_error_lbf_in
        )

    def force_lbf(self, stretch_in: float) -> float:
        """Return the force of one pad, prices off, lbf. Raises ValueError beyond its test."""
        return self.kept_share * self.load_curve.force_lbf(stretch_in)


@dataclass(frozen=True)
class GroupPull:
    """What one group gave: force and slope of one pad, and the pull of those counted.

    counted: how many of its pads. All are 0 where the lot was not tested that far.
    share: of their force that is counted; less than all where more would add more doubt than pull.
    """

    group: PadGroup
    force_per_pad_lbf: float
    slope_lbf_in: float
    pull_lbf: float
    counted: int
    share: float = 1.0


@dataclass(frozen=True)
class LinePull:
    """A housing's line pull at its usable travel.

    rate_lbf_in: force per inch of all pads together there.
    scatter_lbf, lots_lbf, shared_lbf, conditions_lbf, tape_lbf: the parts of its standard
    uncertainty: pads that differ from one another, what each lot's own tests leave in doubt,
    what the stand has wrong for all of them, the conditions of use, and the taped travel.
    standard_uncertainty_lbf, degrees_of_freedom, coverage_factor: of the pull.
    working_capacity_lbf: pull less coverage factor times uncertainty, never below 0.
    weaker_side: the side whose pads bound it ("A" or "B"), "" where the housing is guided. Pull
    and parts are then twice those of that side; the pull itself is twice the lesser side's.
    is_by_proof: whether a proof pull, and not the pads, bounds the working capacity.
    """

    usable_travel_in: float
    limited_by: Limit
    pull_lbf: float
    rate_lbf_in: float
    scatter_lbf: float
    lots_lbf: float
    shared_lbf: float
    conditions_lbf: float
    tape_lbf: float
    standard_uncertainty_lbf: float
    degrees_of_freedom: float
    coverage_factor: float
    working_capacity_lbf: float
    groups: tuple[GroupPull, ...]
    weaker_side: str = ""
    is_by_proof: bool = False


@dataclass(frozen=True)
class ProofFactor:
    """What a proof pull of the whole unit found of it, against what its pads should give.

    ratio: force measured over force expected. standard_share, degrees_of_freedom: standard
    uncertainty of that from the pull alone, as a share of it; None for infinite ones.
    pulled_on: the day, as 2026-03-01.
    Raises ValueError for a number that can't be.
    """

    ratio: float
    pulled_on: str
    standard_share: float = 0.0
    degrees_of_freedom: float | None = None

    def __post_init__(self) -> None:
        share = not_negative("standard_share", self.standard_share, "of the force")
        set_checked(self, ratio=positive("ratio", self.ratio, ""), standard_share=share)

    def bound(self, found: LinePull, confidence: float) -> LinePull:
        """Return a line pull held to the proof pull: the lower of the two, in estimate and bound.

        The unit's own measured share of what its pads should give, and that less its own doubt.
        """
        freedom = math.inf if self.degrees_of_freedom is None else self.degrees_of_freedom
        proven_lbf = self.ratio * found.pull_lbf
        doubt_lbf = proven_lbf * self.standard_share
        factor = coverage_factor(confidence, freedom)
        least_lbf = max(0.0, proven_lbf - factor * doubt_lbf)
        held = replace(found, pull_lbf=min(found.pull_lbf, proven_lbf))
        if least_lbf >= found.working_capacity_lbf:
            return held
        return replace(
            held,
            working_capacity_lbf=min(least_lbf, held.pull_lbf),
            standard_uncertainty_lbf=doubt_lbf,
            degrees_of_freedom=freedom,
            coverage_factor=factor,
            is_by_proof=True,
        )


# How much to count of the pads of each lot, given how many are fitted, and what they bound: a
# method's own (see counting.py). How sure so many pads are, likewise.
CountPads = Callable[[Sequence[int], Sequence[Pad], float, float], Counted]
BoundPads = Callable[[Sequence[int], Sequence[Pad], float, float], Bound]


def line_pull(
    groups: Sequence[PadGroup],
    travel_in: float,
    travel_uncertainty_in: float = 0.0,
    confidence: float = 0.95,
    count_pads: CountPads = counted,
    is_between_too: bool = True,
) -> LinePull:
    """Return the line pull of groups of pads that share one stretch.

    P(s) = Σ N·f(s) over the lots tested to at least s, at the s ≤ travel where the working
    capacity W = P − t·u is largest, with
    u² = Σ N·(σ·f)² + Σ N²·(u_lot)² + (Σ N·u_stand)² + (Σ N·u_use)² + (K·u_s)²: pads scatter each
    for itself, what a lot's own tests leave in doubt (its readings, and which pads were tested)
    its pads share, what the stand has wrong and how the rubber is used all pads share, and the
    tape has its own. Degrees of freedom by Welch–Satterthwaite, ν = u⁴ / Σ(u_i⁴/ν_i) (GUM G.4.1),
    not truncated, over each group's spread (fitted and tested pads together: one estimate), each
    lot's own parts, and the stand's, which add straight: ν = S² / Σ(c²/ν). No part is in more
    doubt than the whole: where t·u of some known from few readings is larger, that holds.

    Where any group says which side its pads are on, the housing isn't guided: the weaker side
    reaches its stop first, and the pull is at most twice that side's. Of two sides alike the one
    that turns out weaker lies below the mean of both, so there the scatter of the pads fitted
    counts twice: the difference of two sides has twice the variance of one (Monte Carlo in the
    tests shows that it does).

    The stretches tried are the travel and, below it, every lot's tested stretch, every reading of
    its curve, and where that bends sharply seven places between each two of them; then, beside
    those that come near the largest, whatever lies between them.

    travel_in, travel_uncertainty_in: taped travel and its standard uncertainty, in.
    confidence: one-sided, between 0.5 and 1.
    count_pads: how much to count of each lot, by today's method unless given. is_between_too:
    whether stretches between those tried are tried too; the second method didn't.
    Raises ValueError for a number that can't be.
    """
    travel = positive("travel_in", travel_in, "in")
    tape = not_negative("travel_uncertainty_in", travel_uncertainty_in, "in")
    at = partial(_at, groups, tape_in=tape, confidence=confidence, count_pads=count_pads)
    shorter = _shorter(groups, travel)
    tried = _tried(groups, travel, shorter, at)
    found = _first_best(tried)
    if is_between_too:
        surely_rises = partial(_rises, groups, tape_in=tape, confidence=confidence)
        found = _between(tried, [*shorter, 0.0], at, surely_rises)
    stretch = found.stretch_in
    tested = {group.tested_stretch_in for group in groups}
    if stretch == travel:
        limit = Limit.TRAVEL
    else:
        limit = Limit.TESTED_STRETCH if stretch in tested else Limit.CAPACITY
    return _line_pull(groups, found, limit)


def pull_at(groups: Sequence[PadGroup], stretch_in: float) -> float:
    """Return what the groups carry at a stretch, lbf, by the best estimate.

    Lots tested that far count, and twice the lesser side where the housing isn't guided.
    Raises ValueError for a stretch below 0.
    """
    at = not_negative("stretch_in", stretch_in, "in")
    sides = [(0.0, 0.0)]
    for group in groups:
        if group.tested_stretch_in >= at:
            force = group.force_lbf(at)
            on_a, on_b = group.sides or (0, 0)
            sides.append((on_a * force, on_b * force) if group.sides else (group.count * force, 0))
    whole_a, whole_b = (math.fsum(each) for each in zip(*sides, strict=True))
    return 2.0 * min(whole_a, whole_b) if _has_sides(groups) else whole_a + whole_b


def most_pull_at(
    groups: Sequence[PadGroup],
    stretch_in: float,
    travel_uncertainty_in: float = 0.0,
    confidence: float = 0.95,
    bound_pads: BoundPads = bound_of,
) -> float | None:
    """Return what all pads of the groups pull at a stretch at the most, lbf: P + t·u.

    The other side of line_pull's bound, with every pad and none left out. None beyond the tested
    stretch of any of them: what they do there, nobody has measured. Sides count together: a
    housing that leans stretches one side more and the other less.
    bound_pads: how sure so many pads are, by today's method unless given.
    Raises ValueError for a number that can't be.
    """
    at = not_negative("stretch_in", stretch_in, "in")
    tape = not_negative("travel_uncertainty_in", travel_uncertainty_in, "in")
    fitted = [group for group in groups if group.count]
    if any(group.tested_stretch_in < at for group in fitted):
        return None
    if not fitted or at == 0.0:
        return 0.0
    pads = tuple(_pad(group, at, 1.0) for group in fitted)
    bound = bound_pads([group.count for group in fitted], pads, tape, confidence)
    return bound.sum.pull + bound.factor * bound.sum.uncertainty


def _pad(group: PadGroup, stretch_in: float, times: float) -> Pad:
    curve, kept = group.load_curve, group.kept_share
    force = kept * curve.force_lbf(stretch_in)
    share = group.spread_lbf_in / group.rate_lbf_in
    stand, own = kept * group.standard_error_lbf_in * stretch_in, []
    if group.curve is not None:
        stand = max(stand, kept * group.curve.stand_uncertainty_lbf(stretch_in))
        own += [
            (kept * group.curve.doubt.scatter_lbf, group.scatter_degrees_of_freedom),
            (kept * group.gap_share * group.curve.gap_lbf(stretch_in), math.inf),
        ]
    own.append((group.between_share * force, group.between_degrees_of_freedom))
    return Pad(
        force=force,
        slope=kept * curve.slope_lbf_in(stretch_in),
        # As a share of the pad's force, which for a straight load curve is σ·s.
        spread=share * force,
        spread_freedom=group.spread_degrees_of_freedom,
        tested=1.0 / group.pads_tested,
        times=times,
        own=tuple(each for each in own if each[0]),
        stand=stand,
        stand_freedom=group.degrees_of_freedom,
        use=group.conditions_share * force,
    )


@dataclass(frozen=True)
class _Found:
    """The best of the stretches tried."""

    stretch_in: float
    capacity_lbf: float
    pull_lbf: float
    places: tuple[int, ...]
    pads: tuple[Pad, ...]
    counted: Counted
    side: str


def _tried(
    groups: Sequence[PadGroup],
    travel_in: float,
    shorter: Sequence[float],
    at: Callable[[float], _Found],
) -> list[_Found]:
    """Return what holds at the travel and at each shorter stretch that may be better."""
    tried = [at(travel_in)]
    most = tried[0].capacity_lbf
    for stretch in shorter:
        # Nothing is sure to more than it carries, nor to more any shorter.
        if _most_at(groups, stretch) <= most:
            break
        tried.append(at(stretch))
        most = max(most, tried[-1].capacity_lbf)
    return tried


def _first_best(tried: Sequence[_Found]) -> _Found:
    """Return the one of the largest working capacity, of those alike the first."""
    best = tried[0]
    for each in tried[1:]:
        if each.capacity_lbf > best.capacity_lbf + ALIKE_LBF:
            best = each
    return best


# Between stretches that leave less than this share of the largest no other may be larger.
_NEAR = 0.99
# So far from the one tried towards the next it is seen whether the working capacity rises.
_STEP = 1.0 / 64.0


def _between(
    tried: Sequence[_Found],
    below: Sequence[float],
    at: Callable[[float], _Found],
    surely_rises: Callable[[_Found], bool],
) -> _Found:
    """Return the best of the stretches tried, and of all between those that come near it.

    below: next to each stretch tried, the one below it.
    """
    best = _first_best(tried)
    near = _NEAR * best.capacity_lbf

    def rises_from(one: _Found, other_in: float) -> bool:
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


def _rises(groups: Sequence[PadGroup], found: _Found, tape_in: float, confidence: float) -> bool:
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


def _most_at(groups: Sequence[PadGroup], stretch_in: float) -> float:
    """Return more than any of the pads carry at a stretch or a shorter one, lbf."""
    return math.fsum(
        group.count * group.force_lbf(min(stretch_in, group.tested_stretch_in)) for group in groups
    )


def _at(
    groups: Sequence[PadGroup],
    stretch_in: float,
    tape_in: float,
    confidence: float,
    count_pads: CountPads,
) -> _Found:
    places = tuple(
        place for place, group in enumerate(groups) if group.tested_stretch_in >= stretch_in
    )
    times = 2.0 if _has_sides(groups) else 1.0
    pads = tuple(_pad(groups[place], stretch_in, times) for place in places)
    if not _has_sides(groups):
        fitted = [groups[place].count for place in places]
        whole = count_pads(fitted, pads, tape_in, confidence)
        bound = whole.bound
        return _Found(stretch_in, bound.capacity, bound.sum.pull, places, pads, whole, "")
    sides = []
    for index, side in enumerate("AB"):
        fitted = [_on_side(groups[place], index) for place in places]
        sides.append((side, count_pads(fitted, pads, tape_in, confidence)))
    side, weaker = min(sides, key=lambda each: (each[1].bound.capacity, each[1].bound.sum.pull))
    pull = 2.0 * min(each.bound.sum.pull for _, each in sides)
    capacity = min(2.0 * weaker.bound.capacity, pull)
    return _Found(stretch_in, capacity, pull, places, pads, weaker, side)


def _has_sides(groups: Iterable[PadGroup]) -> bool:
    return any(group.sides is not None for group in groups)


def _on_side(group: PadGroup, index: int) -> int:
    return group.sides[index] if group.sides is not None else 0


def _line_pull(groups: Sequence[PadGroup], found: _Found, limit: Limit) -> LinePull:
    times = 2.0 if found.side else 1.0
    bound, total = found.counted.bound, found.counted.bound.sum
    given = [GroupPull(group, 0.0, 0.0, 0.0, 0) for group in groups]
    of_lots = zip(found.places, found.pads, found.counted.counts, found.counted.shares, strict=True)
    for place, pad, many, share in of_lots:
        given[place] = GroupPull(
            group=groups[place],
            force_per_pad_lbf=pad.force,
            slope_lbf_in=pad.slope,
            pull_lbf=times * (many * share) * pad.force,
            counted=int(times) * many,
            share=share if many else 1.0,
        )
    return LinePull(
        usable_travel_in=found.stretch_in,
        limited_by=limit,
        pull_lbf=found.pull_lbf,
        rate_lbf_in=times * total.rate,
        scatter_lbf=times * total.scatter,
        lots_lbf=times * total.lots,
        shared_lbf=times * total.stand,
        conditions_lbf=times * total.use,
        tape_lbf=times * total.tape,
        standard_uncertainty_lbf=times * total.uncertainty,
        degrees_of_freedom=bound.freedom,
        coverage_factor=bound.factor,
        working_capacity_lbf=found.capacity_lbf,
        groups=tuple(given),
        weaker_side=found.side,
    )
