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
from functools import cached_property
from typing import NamedTuple

from ratings.mechanics.arguments import count, not_negative, positive, set_checked
from ratings.mechanics.counting import ALIKE_LBF, bound_of, counted
from ratings.mechanics.load_curve import Course, LinearCurve, LoadCurve, MonotoneCurve
from ratings.mechanics.pad_sums import Bound, Counted, Pad
from ratings.mechanics.stretches import best_stretch
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


class Proven(NamedTuple):
    """What a unit pulls by a proof pull: the best estimate, its doubt, and the least of it, lbf."""

    pull_lbf: float
    doubt_lbf: float
    freedom: float
    factor: float
    least_lbf: float


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

    def of(self, pads_lbf: float, confidence: float) -> Proven:
        """Return what the unit pulls where its pads should pull so much, lbf."""
        freedom = math.inf if self.degrees_of_freedom is None else self.degrees_of_freedom
        pull_lbf = self.ratio * pads_lbf
        doubt_lbf = pull_lbf * self.standard_share
        factor = coverage_factor(confidence, freedom)
        return Proven(pull_lbf, doubt_lbf, freedom, factor, max(0.0, pull_lbf - factor * doubt_lbf))


# How much to count of the pads of each lot, given how many are fitted, and what they bound: a
# method's own (see counting.py). How sure so many pads are, likewise.
CountPads = Callable[[Sequence[int], Sequence[Pad], float, float], Counted]
BoundPads = Callable[[Sequence[int], Sequence[Pad], float, float], Bound]


def line_pull(
    groups: Sequence[PadGroup],
    travel_in: float,
    travel_uncertainty_in: float = 0.0,
    confidence: float = 0.95,
    proof: ProofFactor | None = None,
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

    Where a proof pull tells, the unit pulls at each stretch the lower of what its pads are proven
    to carry there and of its own measured share of what all of them should, less its own doubt.

    Every stretch up to the travel is tried: see best_stretch.

    travel_in, travel_uncertainty_in: taped travel and its standard uncertainty, in.
    confidence: one-sided, between 0.5 and 1. proof: what a proof pull of the unit found.
    Raises ValueError for a number that can't be.
    """
    travel = positive("travel_in", travel_in, "in")
    tape = not_negative("travel_uncertainty_in", travel_uncertainty_in, "in")
    housing = _Housing(groups, tape, confidence, proof)
    best = best_stretch(_breaks(groups, travel), housing)
    return line_pull_found(groups, best, travel)


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
    """Return one pad of a lot at a stretch."""
    curve = group.load_curve
    gap_lbf = 0.0 if group.curve is None else group.curve.gap_lbf(stretch_in)
    force_lbf, slope_lbf_in = curve.force_lbf(stretch_in), curve.slope_lbf_in(stretch_in)
    return _pad_of(group, stretch_in, force_lbf, slope_lbf_in, gap_lbf, times)


def _pad_of(
    group: PadGroup,
    stretch_in: float,
    force_lbf: float,
    slope_lbf_in: float,
    gap_lbf: float,
    times: float,
) -> Pad:
    """Return one pad of a lot whose load curve is at this force and slope, and so far unseen."""
    kept = group.kept_share
    force = kept * force_lbf
    share = group.spread_lbf_in / group.rate_lbf_in
    stand, own = kept * group.standard_error_lbf_in * stretch_in, []
    if group.curve is not None:
        doubt = group.curve.doubt
        stand = max(stand, kept * doubt.of_stand_lbf(force_lbf, slope_lbf_in))
        own += [
            (kept * doubt.scatter_lbf, group.scatter_degrees_of_freedom),
            (kept * group.gap_share * gap_lbf, math.inf),
        ]
    own.append((group.between_share * force, group.between_degrees_of_freedom))
    return Pad(
        force=force,
        slope=kept * slope_lbf_in,
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
class Found:
    """What holds at one stretch.

    places, pads, counted: of the groups that count there, all of the housing or of its weaker
    side. held: what a proof pull found, where there was one. is_by_proof: whether that is less.
    """

    stretch_in: float
    capacity_lbf: float
    pull_lbf: float
    places: tuple[int, ...]
    pads: tuple[Pad, ...]
    counted: Counted
    side: str
    held: Proven | None = None
    is_by_proof: bool = False

    @property
    def doubt_lbf(self) -> float:
        """The standard uncertainty of the pull by the pads, lbf."""
        times = 2.0 if self.side else 1.0
        return times * self.counted.bound.sum.uncertainty


def first_best(tried: Sequence[Found]) -> Found:
    """Return the one of the largest working capacity, of those alike the first."""
    best = tried[0]
    for each in tried[1:]:
        if each.capacity_lbf > best.capacity_lbf + ALIKE_LBF:
            best = each
    return best


def _breaks(groups: Sequence[PadGroup], travel_in: float) -> list[float]:
    """Return the travel, every reading and every tested stretch below it, and rest, longest first.

    Between two of them each curve is one piece, and the same lots count.
    """
    stretches = {group.tested_stretch_in for group in groups}
    for group in groups:
        if group.curve is not None:
            stretches |= {knot.stretch_in for knot in group.curve.knots}
    return sorted({0.0, travel_in} | {each for each in stretches if each < travel_in}, reverse=True)


def most_at(groups: Sequence[PadGroup], stretch_in: float) -> float:
    """Return more than any of the pads carry at a stretch or a shorter one, lbf."""
    return math.fsum(
        group.count * group.force_lbf(min(stretch_in, group.tested_stretch_in)) for group in groups
    )


@dataclass(frozen=True)
class _Between:
    """Bounds on one pad of a lot between two stretches.

    best: its largest force with the least of each doubt. worst: its least force with the most.
    rise_lbf_in: what its force grows by per inch at the least. fastest: how fast each doubt that
    is a share of force or stretch grows at the most, as a share of it per inch. growth: what else
    of its doubt grows per inch, times its factor.
    """

    best: Pad
    worst: Pad
    rise_lbf_in: float
    fastest: float
    growth: float


def _bounds_of(
    group: PadGroup, low_in: float, high_in: float, times: float, tape_in: float, confidence: float
) -> _Between:
    """Return bounds on one pad of a lot between two stretches within one piece of its curve."""
    kept, curve = group.kept_share, group.curve
    least_lbf, most_lbf = (group.load_curve.force_lbf(each) for each in (low_in, high_in))
    if curve is None:
        course = Course(group.rate_lbf_in, group.rate_lbf_in)
        growth = 0.0
    else:
        course = curve.course(low_in, high_in)
        normal = coverage_factor(confidence, math.inf)
        of_stand = coverage_factor(confidence, group.degrees_of_freedom)
        stretch_in = normal * tape_in + of_stand * curve.doubt.stretch_in
        growth = stretch_in * course.steepens_lbf_in2
        growth += normal * group.gap_share * course.widens_lbf_in
    best = _pad_of(group, low_in, least_lbf, course.least_slope_lbf_in, course.least_gap_lbf, times)
    worst = _pad_of(group, high_in, most_lbf, course.most_slope_lbf_in, course.most_gap_lbf, times)
    fastest = course.most_slope_lbf_in / least_lbf if least_lbf else math.inf
    if group.standard_error_lbf_in:
        fastest = max(fastest, 1.0 / low_in if low_in else math.inf)
    return _Between(
        best=replace(best, force=worst.force),
        worst=replace(worst, force=best.force),
        rise_lbf_in=kept * course.least_slope_lbf_in,
        fastest=fastest,
        growth=kept * growth,
    )


def _surely_rises(
    counts: Sequence[int], bounds: Sequence[_Between], tape_in: float, confidence: float
) -> bool:
    """Say whether what so many pads of each lot are proven to carry rises all the way.

    t·u is a norm of its parts. Those that are a share of force or stretch grow by no more than the
    one that grows fastest; what grows faster is the doubt of the stretch where a curve steepens,
    and that between readings. Only where every lot surely counts whole: of shares it isn't said.
    """
    worst = [each.worst for each in bounds]
    fitted = [place for place, many in enumerate(counts) if many]
    for place in fitted:
        alone = [many * (each == place) for each, many in enumerate(counts)]
        if len(fitted) > 1 and not bound_of(alone, worst, tape_in, confidence).capacity:
            return False
    bound = bound_of(counts, worst, tape_in, confidence)
    rise = math.fsum(counts[place] * bounds[place].rise_lbf_in for place in fitted)
    growth = math.fsum(counts[place] * bounds[place].growth for place in fitted)
    fastest = max((bounds[place].fastest for place in fitted), default=math.inf)
    doubt = bound.factor * bound.sum.uncertainty
    return rise >= (fastest * doubt if doubt else 0.0) + growth


@dataclass(frozen=True)
class _Housing:
    """The groups of pads of a housing, and what its tape and a proof pull leave in doubt."""

    groups: Sequence[PadGroup]
    tape_in: float
    confidence: float
    proof: ProofFactor | None

    def at(self, stretch_in: float) -> Found:
        """Return what holds at a stretch."""
        found = at_stretch(self.groups, stretch_in, self.tape_in, self.confidence)
        if self.proof is None:
            return found
        counting = self._counting(stretch_in)
        # Of all its pads: what of a lot in great doubt isn't counted above pulled at the proof too.
        held = self.proof.of(pull_at(counting, stretch_in), self.confidence)
        if held.least_lbf >= found.capacity_lbf:
            return replace(found, held=held)
        return replace(found, capacity_lbf=held.least_lbf, held=held, is_by_proof=True)

    def most_at(self, stretch_in: float) -> float:
        """Return more than any of the pads carry at a stretch or a shorter one, lbf."""
        return most_at(self.groups, stretch_in)

    def may_beat(self, enough_lbf: float, low_in: float, high_in: float) -> bool:
        """Say whether more than enough may hold anywhere beyond the one and up to the other."""
        if self.proof is not None:
            held = self.proof.of(pull_at(self._counting(high_in), high_in), self.confidence)
            if held.least_lbf <= enough_lbf:
                return False
        best = [each.best for each in self._bounds(low_in, high_in)]
        return all(
            self._times * counted(counts, best, self.tape_in, self.confidence).bound.capacity
            > enough_lbf
            for counts in self._fitted(high_in)
        )

    def surely_rises(self, low_in: float, high_in: float) -> bool:
        """Say whether what holds surely rises all the way from the one to the other stretch."""
        bounds = self._bounds(low_in, high_in)
        return all(
            _surely_rises(counts, bounds, self.tape_in, self.confidence)
            for counts in self._fitted(high_in)
        )

    @property
    def _times(self) -> float:
        return 2.0 if _has_sides(self.groups) else 1.0

    def _counting(self, stretch_in: float) -> list[PadGroup]:
        return [each for each in self.groups if each.tested_stretch_in >= stretch_in]

    def _fitted(self, stretch_in: float) -> list[list[int]]:
        """Return how many pads of each group that counts are fitted, on each side where told."""
        counting = self._counting(stretch_in)
        if not _has_sides(self.groups):
            return [[each.count for each in counting]]
        on_a, on_b = ([_on_side(each, index) for each in counting] for index in (0, 1))
        return [on_a] if on_a == on_b else [on_a, on_b]

    def _bounds(self, low_in: float, high_in: float) -> list[_Between]:
        """Return bounds on one pad of each group that counts between two stretches."""
        return [
            _bounds_of(each, low_in, high_in, self._times, self.tape_in, self.confidence)
            for each in self._counting(high_in)
        ]


def at_stretch(
    groups: Sequence[PadGroup],
    stretch_in: float,
    tape_in: float,
    confidence: float,
    count_pads: CountPads = counted,
) -> Found:
    """Return what the pads of a housing carry at a stretch, and are proven to.

    count_pads: how much to count of each lot, by today's method unless given.
    """
    places = tuple(
        place for place, group in enumerate(groups) if group.tested_stretch_in >= stretch_in
    )
    times = 2.0 if _has_sides(groups) else 1.0
    pads = tuple(_pad(groups[place], stretch_in, times) for place in places)
    if not _has_sides(groups):
        fitted = [groups[place].count for place in places]
        whole = count_pads(fitted, pads, tape_in, confidence)
        bound = whole.bound
        return Found(stretch_in, bound.capacity, bound.sum.pull, places, pads, whole, "")
    sides = []
    for index, side in enumerate("AB"):
        fitted = [_on_side(groups[place], index) for place in places]
        sides.append((side, count_pads(fitted, pads, tape_in, confidence)))
    side, weaker = min(sides, key=lambda each: (each[1].bound.capacity, each[1].bound.sum.pull))
    pull = 2.0 * min(each.bound.sum.pull for _, each in sides)
    capacity = min(2.0 * weaker.bound.capacity, pull)
    return Found(stretch_in, capacity, pull, places, pads, weaker, side)


def _has_sides(groups: Iterable[PadGroup]) -> bool:
    return any(group.sides is not None for group in groups)


def _on_side(group: PadGroup, index: int) -> int:
    return group.sides[index] if group.sides is not None else 0


def line_pull_found(groups: Sequence[PadGroup], found: Found, travel_in: float) -> LinePull:
    """Return the line pull of what was found best up to a travel."""
    if found.stretch_in == travel_in:
        limit = Limit.TRAVEL
    elif any(group.tested_stretch_in == found.stretch_in for group in groups):
        limit = Limit.TESTED_STRETCH
    else:
        limit = Limit.CAPACITY
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
    by_pads = LinePull(
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
    held = found.held
    if held is None:
        return by_pads
    lesser = replace(by_pads, pull_lbf=min(by_pads.pull_lbf, held.pull_lbf))
    if not found.is_by_proof:
        return lesser
    return replace(
        lesser,
        standard_uncertainty_lbf=held.doubt_lbf,
        degrees_of_freedom=held.freedom,
        coverage_factor=held.factor,
        is_by_proof=True,
    )
