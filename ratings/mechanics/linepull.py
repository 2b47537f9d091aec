"""What all sound pads of a housing carry together at its usable travel, and how sure that is.

A lot counts at a stretch only where it was tested that far, and a pad that would take more by
its doubt than it gives is left uncounted: pads only ever pull. So the working capacity is the
largest that any of the pads fitted, at any stretch up to the travel, can be shown to reach, and
no further pad, test or inch of travel ever lowers it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

from ratings.mechanics.arguments import LARGEST, count, not_negative, positive, set_checked
from ratings.mechanics.load_curve import LinearCurve, LoadCurve, MonotoneCurve
from ratings.mechanics.uncertainty import coverage_factor, degrees_of_freedom_at


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
    """

    group: PadGroup
    force_per_pad_lbf: float
    slope_lbf_in: float
    pull_lbf: float
    counted: int


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


def line_pull(
    groups: Sequence[PadGroup],
    travel_in: float,
    travel_uncertainty_in: float = 0.0,
    confidence: float = 0.95,
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
    its curve, and where that bends sharply seven places between each two of them.

    travel_in, travel_uncertainty_in: taped travel and its standard uncertainty, in.
    confidence: one-sided, between 0.5 and 1.
    Raises ValueError for a number that can't be.
    """
    travel = positive("travel_in", travel_in, "in")
    tape = not_negative("travel_uncertainty_in", travel_uncertainty_in, "in")
    found = _best(groups, travel, tape, confidence)
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
) -> float | None:
    """Return what all pads of the groups pull at a stretch at the most, lbf: P + t·u.

    The other side of line_pull's bound, with every pad and none left out. None beyond the tested
    stretch of any of them: what they do there, nobody has measured. Sides count together: a
    housing that leans stretches one side more and the other less.
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
    bound = _bound([group.count for group in fitted], pads, tape, confidence)
    return bound.sum.pull + bound.factor * bound.sum.uncertainty


@dataclass(frozen=True)
class _Pad:
    """One pad of a group at a stretch: its force and slope, and each part of its doubt, lbf.

    spread: standard deviation from pad to pad. tested: 1 / pads whose mean the rate is.
    times: how often the scatter of the pads fitted counts, see line_pull.
    own: standard uncertainties the lot's pads share, each with its degrees of freedom.
    stand: with every lot of the stand, with stand_freedom. use: with every lot in use.
    """

    force: float
    slope: float
    spread: float
    spread_freedom: float
    tested: float
    times: float
    own: tuple[tuple[float, float], ...]
    stand: float
    stand_freedom: float
    use: float


def _pad(group: PadGroup, stretch_in: float, times: float) -> _Pad:
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
    return _Pad(
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


class _Estimate(NamedTuple):
    """A variance, lbf², its degrees of freedom, and its share of Σ(u_i⁴/ν_i)."""

    variance: float
    freedom: float
    per_freedom: float


@dataclass(frozen=True)
class _Sum:
    """What some pads carry by the best estimate, and the parts of its doubt; lbf.

    estimated: each variance that is known from finitely many readings.
    """

    pull: float
    rate: float
    scatter: float
    lots: float
    stand: float
    use: float
    tape: float
    uncertainty: float
    estimated: tuple[_Estimate, ...]


def _sum(counts: Sequence[int], pads: Sequence[_Pad], tape_in: float) -> _Sum:
    pulls, rates, stands, uses = [], [], [], []
    scatters, lots, estimated, stand_per_freedom = [], [], [], []
    for many, pad in zip(counts, pads, strict=True):
        if not many:
            continue
        pulls.append(many * pad.force)
        rates.append(many * pad.slope)
        stands.append(many * pad.stand)
        uses.append(many * pad.use)
        fitted = pad.times * many * pad.spread * pad.spread
        tested = many * many * pad.tested * pad.spread * pad.spread
        scatters.append(fitted)
        lots.append(tested)
        # The spread of the pads fitted and of those tested is one estimate.
        both = fitted + tested
        estimated.append(_Estimate(both, pad.spread_freedom, both * both / pad.spread_freedom))
        for own, freedom in pad.own:
            variance = (many * own) * (many * own)
            lots.append(variance)
            estimated.append(_Estimate(variance, freedom, variance * variance / freedom))
        stand_per_freedom.append((many * pad.stand) * (many * pad.stand) / pad.stand_freedom)
    # Sums rounded once: the order of the lots changes no digit.
    rate, stand, use = math.fsum(rates), math.fsum(stands), math.fsum(uses)
    scatter, lot, taped = math.fsum(scatters), math.fsum(lots), rate * tape_in
    variance = math.fsum((scatter, lot, stand * stand, use * use, taped * taped))
    shared = math.fsum(stand_per_freedom)
    if shared:
        common = stand * stand
        known = common / shared
        freedom = known if known < LARGEST else math.inf
        estimated.append(_Estimate(common, freedom, common * shared))
    return _Sum(
        pull=math.fsum(pulls),
        rate=rate,
        scatter=math.sqrt(scatter),
        lots=math.sqrt(lot),
        stand=stand,
        use=use,
        tape=taped,
        uncertainty=math.sqrt(variance),
        estimated=tuple(each for each in estimated if each.per_freedom),
    )


@dataclass(frozen=True)
class _Bound:
    """What some pads carry at least: their sum less a factor times its doubt; lbf."""

    sum: _Sum
    freedom: float
    factor: float
    capacity: float


def _bound(
    counts: Sequence[int], pads: Sequence[_Pad], tape_in: float, confidence: float
) -> _Bound:
    found = _sum(counts, pads, tape_in)
    freedom, factor = _coverage(found, confidence)
    return _Bound(found, freedom, factor, max(0.0, found.pull - factor * found.uncertainty))


def _coverage(total: _Sum, confidence: float) -> tuple[float, float]:
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
    freedom = _freedom(total.uncertainty * total.uncertainty, per_freedom)
    factor = coverage_factor(confidence, freedom)
    if not parts:
        return freedom, factor
    whole = factor * total.uncertainty
    # No sum has fewer degrees of freedom than the worst of its parts.
    worst = coverage_factor(confidence, min(each.freedom for each in parts))
    if worst * math.sqrt(math.fsum(each.variance for each in parts)) <= whole:
        return freedom, factor
    largest = max(_expanded(some, confidence) for some in _some(parts))
    if largest <= whole * (1.0 + 1e-4):
        return freedom, factor
    factor = largest / total.uncertainty
    return degrees_of_freedom_at(confidence, factor), factor


def _some(parts: Sequence[_Estimate]) -> Iterator[list[_Estimate]]:
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


def _expanded(parts: Sequence[_Estimate], confidence: float) -> float:
    """Return t·u of some parts by Welch–Satterthwaite, lbf."""
    variance = math.fsum(each.variance for each in parts)
    per_freedom = math.fsum(each.per_freedom for each in parts)
    return coverage_factor(confidence, _freedom(variance, per_freedom)) * math.sqrt(variance)


def _freedom(variance: float, per_freedom: float) -> float:
    if per_freedom > 0.0 and variance * variance / per_freedom < LARGEST:
        return variance * variance / per_freedom
    return math.inf


# So many ways to leave pads uncounted are tried at most; housings come nowhere near it.
_MOST_WAYS = 20_000
# Working capacities within a millionth of a pound are alike: then more pads, further out.
_ALIKE_LBF = 1e-6


def _counted(
    fitted: Sequence[int], pads: Sequence[_Pad], tape_in: float, confidence: float
) -> tuple[tuple[int, ...], _Bound]:
    """Return how many pads of each group to count for the largest working capacity.

    A lot is left whole where even the bound of _Most with one pad less falls short of what all
    pads give. What else could be left uncounted is tried from the most pads down, as far as
    that bound allows, so that the largest is found.
    """
    counts = tuple(fitted)
    found = _bound(counts, pads, tape_in, confidence)
    most = _Most(counts, pads, tape_in, confidence)
    doubtful = [
        place
        for place, many in enumerate(counts)
        if many and most(_with(counts, place, many - 1)) > found.capacity
    ]
    if not doubtful:
        return counts, found
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
        bound = _bound(tried, pads, tape_in, confidence)
        if bound.capacity > found.capacity + _ALIKE_LBF:
            counts, found = tried, bound
    return counts, found


def _with(counts: tuple[int, ...], place: int, many: int) -> tuple[int, ...]:
    return (*counts[:place], many, *counts[place + 1 :])


class _Most:
    """What these pads, or fewer of them, can be proven to carry at the most, lbf.

    P − z·u is at least the working capacity, z the factor at infinite degrees of freedom. A pad
    raises it where f ≥ z·u₁, u₁ the doubt of that pad alone (u is a norm); where every pad does,
    it bounds that of fewer as well. A pad that is in more doubt adds no more than its force.
    """

    def __init__(
        self, fitted: Sequence[int], pads: Sequence[_Pad], tape_in: float, confidence: float
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
        total = _sum(sure, self.pads, self.tape_in)
        return max(0.0, total.pull - self.factor * total.uncertainty) + others


def _alone(pad: _Pad, tape_in: float) -> float:
    """Return the standard uncertainty of a single pad counted, lbf."""
    variance = pad.spread * pad.spread * (pad.times + pad.tested)
    variance += math.fsum(own * own for own, _ in pad.own)
    taped = pad.slope * tape_in
    return math.sqrt(variance + pad.stand * pad.stand + pad.use * pad.use + taped * taped)


@dataclass(frozen=True)
class _Found:
    """The best of the stretches tried."""

    stretch_in: float
    capacity_lbf: float
    pull_lbf: float
    places: tuple[int, ...]
    pads: tuple[_Pad, ...]
    counts: tuple[int, ...]
    bound: _Bound
    side: str


def _best(
    groups: Sequence[PadGroup], travel_in: float, tape_in: float, confidence: float
) -> _Found:
    best = _at(groups, travel_in, tape_in, confidence)
    for stretch in _shorter(groups, travel_in):
        # Nothing is sure to more than it carries, nor to more any shorter.
        if _most_at(groups, stretch) <= best.capacity_lbf:
            break
        tried = _at(groups, stretch, tape_in, confidence)
        if tried.capacity_lbf > best.capacity_lbf + _ALIKE_LBF:
            best = tried
    return best


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


def _at(groups: Sequence[PadGroup], stretch_in: float, tape_in: float, confidence: float) -> _Found:
    places = tuple(
        place for place, group in enumerate(groups) if group.tested_stretch_in >= stretch_in
    )
    times = 2.0 if _has_sides(groups) else 1.0
    pads = tuple(_pad(groups[place], stretch_in, times) for place in places)
    if not _has_sides(groups):
        fitted = [groups[place].count for place in places]
        counts, bound = _counted(fitted, pads, tape_in, confidence)
        return _Found(stretch_in, bound.capacity, bound.sum.pull, places, pads, counts, bound, "")
    sides = []
    for index, side in enumerate("AB"):
        fitted = [_on_side(groups[place], index) for place in places]
        counts, bound = _counted(fitted, pads, tape_in, confidence)
        sides.append((side, counts, bound))
    side, counts, bound = min(sides, key=lambda each: (each[2].capacity, each[2].sum.pull))
    pull = 2.0 * min(each.sum.pull for _, _, each in sides)
    capacity = min(2.0 * bound.capacity, pull)
    return _Found(stretch_in, capacity, pull, places, pads, counts, bound, side)


def _has_sides(groups: Iterable[PadGroup]) -> bool:
    return any(group.sides is not None for group in groups)


def _on_side(group: PadGroup, index: int) -> int:
    return group.sides[index] if group.sides is not None else 0


def _line_pull(groups: Sequence[PadGroup], found: _Found, limit: Limit) -> LinePull:
    times = 2.0 if found.side else 1.0
    bound, total = found.bound, found.bound.sum
    given = [GroupPull(group, 0.0, 0.0, 0.0, 0) for group in groups]
    for place, pad, many in zip(found.places, found.pads, found.counts, strict=True):
        given[place] = GroupPull(
            group=groups[place],
            force_per_pad_lbf=pad.force,
            slope_lbf_in=pad.slope,
            pull_lbf=times * many * pad.force,
            counted=int(times) * many,
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
