"""How entries of format 1 were rated, and answers that rest on them; it never changes again.

Every figure on record recomputes from its own inputs to the last digit, so the first method
stays as it was: the housing stretched as far as the least tested lot fitted, a lot within the
linearity limit rated by rate × stretch, and degrees of freedom those of the part known worst.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from ratings.mechanics.arguments import LARGEST, not_negative, positive
from ratings.mechanics.linepull import GroupPull, Limit, LinePull, PadGroup
from ratings.mechanics.load_curve import MonotoneCurve
from ratings.mechanics.standing import Standing, judge
from ratings.mechanics.uncertainty import coverage_factor, whole_degrees_of_freedom
from ratings.mechanics.unit_rating import (
    SIDES,
    SOUND,
    LotRate,
    Policy,
    StaleRates,
    UnitInputs,
    UnratedPads,
    missing_for_pull,
    sound_pads_of,
    stale_lots,
    unrated_pads,
)


@dataclass(frozen=True)
class LotShare:
    """What the sound pads of one rated lot carry at the usable travel."""

    lot: str
    count: int
    force_per_pad_lbf: float
    slope_lbf_in: float
    pull_lbf: float
    is_linear: bool


@dataclass(frozen=True)
class UnitRating:
    """The figures of a unit. None where an input was missing; `missing` says which."""

    standing: Standing
    missing: tuple[str, ...]
    sound_pads: int
    positions: int
    unrated_pads: tuple[UnratedPads, ...]
    listed_lbf: float | None
    stale_lots: tuple[str, ...] = ()
    is_assumed_spread: bool = False
    pull_lbf: float | None = None
    working_capacity_lbf: float | None = None
    usable_travel_in: float | None = None
    limited_by: str | None = None
    limiting_lots: tuple[str, ...] = ()
    rate_lbf_in: float | None = None
    standard_uncertainty_lbf: float | None = None
    degrees_of_freedom: float | None = None
    coverage_factor: float | None = None
    lots: tuple[LotShare, ...] = ()
    side_a_lbf: float | None = None
    side_b_lbf: float | None = None
    is_out_of_balance: bool = False


def results(inputs: UnitInputs) -> dict[str, Any]:
    """Return the results of a rating by the first method as an entry of format 1 has them."""
    rating = _rate_unit(inputs)
    return asdict(rating) | {"standing": rating.standing.value}


def _rate_unit(inputs: UnitInputs) -> UnitRating:
    stale = stale_lots(inputs)
    if inputs.policy.stale_rates == StaleRates.DROP:
        inputs = replace(inputs, lots=tuple(rate for rate in inputs.lots if not rate.stale))
    missing = missing_for_pull(inputs)
    no_listing = () if inputs.listed_lbf is not None else ("a listed rating",)
    unrated = UnitRating(
        standing=Standing.UNRATED,
        missing=missing + no_listing,
        sound_pads=sum(1 for position in inputs.positions if position.condition == SOUND),
        positions=len(inputs.positions),
        unrated_pads=unrated_pads(inputs),
        listed_lbf=inputs.listed_lbf,
        stale_lots=stale,
        is_assumed_spread=any(
            rate.spread_lbf_in is None and sound_pads_of(inputs, rate.lot) for rate in inputs.lots
        ),
    )
    if missing or inputs.travel_in is None:
        return unrated
    pull = line_pull(
        _pad_groups(inputs),
        inputs.travel_in,
        travel_uncertainty_in=inputs.policy.travel_uncertainty_in,
        confidence=inputs.policy.confidence,
    )
    return _with_figures(unrated, inputs, pull)


def _pad_groups(inputs: UnitInputs) -> tuple[PadGroup, ...]:
    """Return a group for each rated lot fitted; one with no sound pad still limits the stretch."""
    fitted = {position.lot for position in inputs.positions if position.lot is not None}
    return tuple(
        _group(rate, sound_pads_of(inputs, rate.lot), inputs.policy)
        for rate in sorted(inputs.lots, key=lambda rate: rate.lot)
        if rate.lot in fitted
    )


def _is_linear(rate: LotRate, policy: Policy) -> bool:
    """Say whether a lot's load curve is its rate times the stretch under this policy."""
    limit_pct = not_negative("linearity_limit_pct", policy.linearity_limit_pct, "%")
    return not_negative("linearity_error_pct", rate.linearity_error_pct, "%") <= limit_pct


def _group(rate: LotRate, count: int, policy: Policy) -> PadGroup:
    rate_lbf_in = positive("rate_lbf_in", rate.rate_lbf_in, "lbf/in")
    spread_pct = not_negative("pad_spread_pct", policy.pad_spread_pct, "%")
    spread_lbf_in = rate.spread_lbf_in
    if spread_lbf_in is None:
        spread_lbf_in = rate_lbf_in * spread_pct / 100.0
    return PadGroup(
        count=count,
        rate_lbf_in=rate_lbf_in,
        tested_stretch_in=rate.tested_stretch_in,
        standard_error_lbf_in=rate.standard_error_lbf_in,
        spread_lbf_in=spread_lbf_in,
        degrees_of_freedom=_freedom(rate.degrees_of_freedom),
        spread_degrees_of_freedom=_freedom(rate.spread_degrees_of_freedom),
        curve=None if _is_linear(rate, policy) else MonotoneCurve(rate.curve, rate.curve_doubt),
        lot=rate.lot,
    )


def _freedom(given: float | None) -> float:
    return math.inf if given is None else positive("degrees_of_freedom", given, "")


def _with_figures(unrated: UnitRating, inputs: UnitInputs, pull: LinePull) -> UnitRating:
    shares = _shares(pull)
    side_a_lbf, side_b_lbf = (_side_pull(inputs, shares, side) for side in SIDES)
    one_pad_lbf = max((share.force_per_pad_lbf for share in shares if share.count), default=0.0)
    freedom = pull.degrees_of_freedom
    return replace(
        unrated,
        standing=judge(pull.pull_lbf, pull.working_capacity_lbf, inputs.listed_lbf),
        pull_lbf=pull.pull_lbf,
        working_capacity_lbf=pull.working_capacity_lbf,
        usable_travel_in=pull.usable_travel_in,
        limited_by=pull.limited_by.value,
        limiting_lots=_limiting_lots(pull),
        rate_lbf_in=pull.rate_lbf_in,
        standard_uncertainty_lbf=pull.standard_uncertainty_lbf,
        # JSON has no infinity.
        degrees_of_freedom=None if math.isinf(freedom) else freedom,
        coverage_factor=pull.coverage_factor,
        lots=shares,
        side_a_lbf=side_a_lbf,
        side_b_lbf=side_b_lbf,
        # A hair of leave: eleven pads less ten pads need not come to one pad in the last bit.
        is_out_of_balance=abs(side_a_lbf - side_b_lbf) > one_pad_lbf * (1.0 + 1e-9),
    )


def _limiting_lots(pull: LinePull) -> tuple[str, ...]:
    if pull.limited_by is Limit.TRAVEL:
        return ()
    return tuple(
        given.group.lot
        for given in pull.groups
        if given.group.tested_stretch_in == pull.usable_travel_in
    )


def _shares(pull: LinePull) -> tuple[LotShare, ...]:
    return tuple(
        LotShare(
            lot=given.group.lot,
            count=given.group.count,
            force_per_pad_lbf=given.force_per_pad_lbf,
            slope_lbf_in=given.slope_lbf_in,
            pull_lbf=given.pull_lbf,
            is_linear=given.group.curve is None,
        )
        for given in pull.groups
    )


def _side_pull(inputs: UnitInputs, shares: tuple[LotShare, ...], side: str) -> float:
    return math.fsum(
        sound_pads_of(inputs, share.lot, (side,)) * share.force_per_pad_lbf for share in shares
    )


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
        lots_lbf=0.0,
        shared_lbf=whole_shared,
        conditions_lbf=0.0,
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
    return GroupPull(group, force, curve.slope_lbf_in(stretch_in), group.count * force, group.count)


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
