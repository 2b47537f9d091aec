"""What all sound pads of a housing carry together at its usable travel, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from ratings.mechanics.arguments import LARGEST, count, not_negative, positive, set_checked
from ratings.mechanics.load_curve import LinearCurve, LoadCurve, MonotoneCurve
from ratings.mechanics.uncertainty import coverage_factor, whole_degrees_of_freedom


class Limit(StrEnum):
    """What ends the usable travel."""

    TRAVEL = "travel"
    TESTED_STRETCH = "tested stretch"


@dataclass(frozen=True)
class PadGroup:
    """Sound pads of one lot in a housing.

    count: sound pads. 0 where the lot is fitted but none of its pads is sound: it gives
    nothing, and being stretched with the rest it still limits the stretch.
    rate_lbf_in, tested_stretch_in: what the bench test found of one pad.
    standard_error_lbf_in: standard uncertainty of the rate that all these pads share.
    spread_lbf_in: standard deviation of the rate from pad to pad.
    degrees_of_freedom: of the shared uncertainty.
    spread_degrees_of_freedom: of the spread; infinite where it is assumed.
    curve: the load curve in place of rate × stretch, where the lot is not linear.
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
        for name in ("degrees_of_freedom", "spread_degrees_of_freedom"):
            freedom = getattr(self, name)
            if freedom != math.inf:
                set_checked(self, **{name: positive(name, freedom, "")})

    @cached_property
    def load_curve(self) -> LoadCurve:
        """The lot's load curve: rate × stretch where no other is given."""
        return self.curve or LinearCurve(
            self.rate_lbf_in, self.tested_stretch_in, self.standard_error_lbf_in
        )


@dataclass(frozen=True)
class GroupPull:
    """What one group gave: force and slope of one pad, and the pull of them all."""

    group: PadGroup
    force_per_pad_lbf: float
    slope_lbf_in: float
    pull_lbf: float


@dataclass(frozen=True)
class LinePull:
    """A housing's line pull at its usable travel.

    rate_lbf_in: force per inch of all pads together there.
    scatter_lbf, shared_lbf, tape_lbf: the three parts of its standard uncertainty: pads that
    differ from one another, what the stand has wrong for all of them, and the taped travel.
    standard_uncertainty_lbf, degrees_of_freedom, coverage_factor: of the pull.
    working_capacity_lbf: pull less coverage factor times uncertainty, never below 0.
    """

    usable_travel_in: float
    limited_by: Limit
    pull_lbf: float
    rate_lbf_in: float
    scatter_lbf: float
    shared_lbf: float
    tape_lbf: float
    standard_uncertainty_lbf: float
    degrees_of_freedom: float
    coverage_factor: float
    working_capacity_lbf: float
    groups: tuple[GroupPull, ...]


@dataclass(frozen=True)
class _Rounding:
    """How sums and a squared product round; records are held to the last digit of it."""

    add: Callable[[Iterable[float]], float]
    square: Callable[[float, float], float]


def _in_turn(values: Iterable[float]) -> float:
    total = 0.0
    for value in values:
        total += value
    return total


# Entries of the ledger and answers to jobs were written with sums that round apart in the last
# digit. Both are recomputed to that digit, so each keeps its own.
_OF_ENTRIES = _Rounding(math.fsum, lambda a, b: a * b * a * b)
_OF_ANSWERS = _Rounding(_in_turn, lambda a, b: (a * b) * (a * b))


def line_pull(
    groups: Sequence[PadGroup],
    travel_in: float,
    travel_uncertainty_in: float = 0.0,
    confidence: float = 0.95,
) -> LinePull:
    """Return the line pull of groups of pads that share one stretch.

    P(s) = Σ N·f(s) at s = min(travel, tested stretch of every lot fitted), with
    u² = Σ N·(σ·s)² + (Σ N·u_common·s)² + (K·u_s)²: pads scatter each for itself, what the
    stand has wrong they share, and the tape has its own. Degrees of freedom by
    Welch–Satterthwaite (GUM G.4.1), with a measured spread no more than that spread's own.

    With few degrees of freedom that rule gives a smaller coverage factor as scatter or tape
    come to outweigh the shared error, so there more scatter can give a higher working capacity.
    More shared error, or more of anything at infinite degrees of freedom, never does.

    travel_in, travel_uncertainty_in: taped travel and its standard uncertainty, in.
    confidence: one-sided, between 0.5 and 1.
    Raises ValueError for a number that can't be.
    """
    travel = positive("travel_in", travel_in, "in")
    tape = not_negative("travel_uncertainty_in", travel_uncertainty_in, "in")
    stretch = min([travel, *(group.tested_stretch_in for group in groups)])
    limit = Limit.TRAVEL if stretch == travel else Limit.TESTED_STRETCH
    return _pull(groups, stretch, limit, tape, confidence, _OF_ENTRIES)


def capacity_at(
    groups: Sequence[PadGroup],
    stretch_in: float,
    travel_uncertainty_in: float = 0.0,
    confidence: float = 0.95,
) -> float:
    """Return the working capacity at any stretch that is in reach, lbf, as answers state it.

    As line_pull, but at this very stretch, which may be 0. Raises ValueError for a number that
    can't be, and beyond a tested stretch.
    """
    at = _within_tested(groups, stretch_in)
    tape = not_negative("travel_uncertainty_in", travel_uncertainty_in, "in")
    return _pull(groups, at, Limit.TRAVEL, tape, confidence, _OF_ANSWERS).working_capacity_lbf


def pull_at(groups: Sequence[PadGroup], stretch_in: float) -> float:
    """Return what the groups carry at a stretch, lbf. Raises ValueError beyond a tested stretch."""
    at = _within_tested(groups, stretch_in)
    return math.fsum(group.count * group.load_curve.force_lbf(at) for group in groups)


def _within_tested(groups: Sequence[PadGroup], stretch_in: float) -> float:
    # A lot's curve may go further than the stretch its rate was tested to.
    at = not_negative("stretch_in", stretch_in, "in")
    for group in groups:
        if at > group.tested_stretch_in:
            raise ValueError(
                f"stretch_in is {at:g}: give no more than the tested stretch of "
                f"{group.tested_stretch_in:g} in"
            )
    return at


def _pull(
    groups: Sequence[PadGroup],
    stretch: float,
    limit: Limit,
    tape: float,
    confidence: float,
    rounding: _Rounding,
) -> LinePull:
    given = tuple(_group_pull(group, stretch) for group in groups)
    pull = rounding.add(each.pull_lbf for each in given)
    rate = rounding.add(each.group.count * each.slope_lbf_in for each in given)
    shared = [_shared_lbf(group, stretch) for group in groups]
    whole_shared = rounding.add(shared)
    scatter = [_scatter_squared(each) for each in given]
    own = rounding.add([*scatter, rounding.square(rate, tape)])
    uncertainty = math.sqrt(own + whole_shared * whole_shared)
    freedom = _degrees_of_freedom(groups, shared, scatter, whole_shared, uncertainty)
    factor = coverage_factor(confidence, freedom)
    return LinePull(
        usable_travel_in=stretch,
        limited_by=limit,
        pull_lbf=pull,
        rate_lbf_in=rate,
        scatter_lbf=math.sqrt(rounding.add(scatter)),
        shared_lbf=whole_shared,
        tape_lbf=rate * tape,
        standard_uncertainty_lbf=uncertainty,
        degrees_of_freedom=freedom,
        coverage_factor=factor,
        working_capacity_lbf=max(0.0, pull - factor * uncertainty),
        groups=given,
    )


def _group_pull(group: PadGroup, stretch_in: float) -> GroupPull:
    curve = group.load_curve
    force = curve.force_lbf(stretch_in)
    return GroupPull(group, force, curve.slope_lbf_in(stretch_in), group.count * force)


def _shared_lbf(group: PadGroup, stretch_in: float) -> float:
    """Return what all pads of a group have wrong together at a stretch, lbf.

    N·u_common·s, or N·u of the curve where that is larger. Raises ValueError beyond the tested
    stretch of a curve.
    """
    of_rate = group.count * group.standard_error_lbf_in * stretch_in
    if group.curve is None:
        return of_rate
    return max(of_rate, group.count * group.curve.standard_uncertainty_lbf(stretch_in))


def _scatter_squared(given: GroupPull) -> float:
    """Return the variance that a group's pads give by differing from one another, lbf²."""
    # As a share of the pad's force, which for a straight load curve is σ·s.
    group = given.group
    scatter = group.spread_lbf_in / group.rate_lbf_in * given.force_per_pad_lbf
    return group.count * scatter * scatter


def _degrees_of_freedom(
    groups: Sequence[PadGroup],
    shared: Sequence[float],
    scatter: Sequence[float],
    whole: float,
    uncertainty_lbf: float,
) -> float:
    """Welch–Satterthwaite, truncated to a whole number as GUM G.4.1 has it.

    shared, scatter: of each group, lbf and lbf². whole: of the shared parts, lbf.
    uncertainty_lbf: standard uncertainty of the pull. With a measured spread no more than that
    spread's own: the shared part rests on the same few pads, so the two can't be taken as found
    apart, and Welch–Satterthwaite then covers less than it says (Monte Carlo in the tests).
    """
    # The shared parts add straight, as one error; the group known worst speaks for it, the
    # cautious choice.
    worst = min(
        (group.degrees_of_freedom for group, part in zip(groups, shared, strict=True) if part),
        default=math.inf,
    )
    of_spread = min(
        (
            group.spread_degrees_of_freedom
            for group, part in zip(groups, scatter, strict=True)
            if part
        ),
        default=math.inf,
    )
    of_shared = math.inf
    if whole != 0.0 and worst != math.inf:
        ratio = uncertainty_lbf / whole
        of_shared = worst * (ratio * ratio) * (ratio * ratio)
    effective = min(of_shared, of_spread)
    return whole_degrees_of_freedom(effective) if effective < LARGEST else math.inf
