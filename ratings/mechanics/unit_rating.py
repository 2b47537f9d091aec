"""From what is in a housing to what it can pull, and how that stands against its listing."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from enum import StrEnum

from ratings.mechanics.arguments import not_negative, positive
from ratings.mechanics.linepull import Limit, LinePull, PadGroup, line_pull, pull_at
from ratings.mechanics.load_curve import CurveDoubt, Knot, MonotoneCurve
from ratings.mechanics.standing import Standing, judge
from ratings.mechanics.uncertainty import resolution

SOUND = "sound"
SIDES = ("A", "B")


class StaleRates(StrEnum):
    """What a stale rate counts for: its figure, flagged, or nothing until tested again."""

    KEEP = "keep"
    DROP = "drop"


# What a unit is missing until every position of it was counted.
NO_COUNT = "a pad count"


@dataclass(frozen=True)
class Position:
    """A pad position: its condition ("" when never counted) and the lot of the pad in it."""

    side: str
    number: int
    condition: str
    lot: str | None


@dataclass(frozen=True)
class LotRate:
    """What bench tests found of one lot.

    standard_error_lbf_in: standard uncertainty of the rate that all pads of the lot share, and
        its degrees of freedom, None where infinite.
    curve, curve_doubt: the knots of the lot's monotone load curve and what it isn't sure of.
    spread_lbf_in: measured standard deviation from pad to pad and its degrees of freedom, None
        where the policy's spread stands in.
    stale: why the rate is stale, "" where it isn't.
    """

    lot: str
    rate_lbf_in: float
    standard_error_lbf_in: float
    degrees_of_freedom: float | None
    linearity_error_pct: float
    tested_stretch_in: float
    curve: tuple[Knot, ...]
    spread_lbf_in: float | None = None
    spread_degrees_of_freedom: float | None = None
    stale: str = ""
    curve_doubt: CurveDoubt = field(default_factory=CurveDoubt)


@dataclass(frozen=True)
class Policy:
    """How the yard rates.

    confidence: one-sided level of the working capacity.
    pad_spread_pct: assumed pad-to-pad standard deviation of the rate, % of the rate.
    linearity_limit_pct: linearity error beyond which a lot's load curve is used, % full scale.
    tape_resolution_in: the finest division the travel is read to.
    rate_valid_days: how long a rate holds after its newest test.
    coldest_f, warmest_f: rubber temperatures a test may have been made at, °F.
    stale_rates: one of StaleRates, by its value.
    """

    confidence: float = 0.95
    pad_spread_pct: float = 5.0
    linearity_limit_pct: float = 5.0
    tape_resolution_in: float = 0.125
    rate_valid_days: int = 730
    coldest_f: float = 40.0
    warmest_f: float = 100.0
    stale_rates: str = StaleRates.KEEP.value

    @property
    def travel_uncertainty_in(self) -> float:
        """Standard uncertainty of a reading rounded to the resolution (GUM 4.3.7, F.2.2.1)."""
        return resolution(not_negative("tape_resolution_in", self.tape_resolution_in, "in"))


@dataclass(frozen=True)
class UnitInputs:
    """Everything the rating of one unit rests on. None where a fact is missing.

    Raises ValueError for a side other than A and B, and for a position or a lot given twice.
    """

    positions: tuple[Position, ...]
    lots: tuple[LotRate, ...]
    travel_in: float | None
    listed_lbf: float | None
    policy: Policy = field(default_factory=Policy)

    def __post_init__(self) -> None:
        for position in self.positions:
            if position.side not in SIDES:
                raise ValueError(f"positions has side {position.side!r}: give 'A' or 'B'")
        _refuse_twice("positions", [f"{each.side}{each.number}" for each in self.positions])
        _refuse_twice("lots", [rate.lot for rate in self.lots])


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
class UnratedPads:
    """Sound pads that add nothing, since their lot is unrated, or unknown (None)."""

    lot: str | None
    count: int


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


def rate_unit(inputs: UnitInputs) -> UnitRating:
    """Rate one unit: DESIGN's line pull, working capacity, side balance and standing.

    A missing input leaves the figures it bears on None and is named in `missing`. Raises
    ValueError where an input is impossible.
    """
    stale_lots = _stale_lots(inputs)
    if inputs.policy.stale_rates == StaleRates.DROP:
        inputs = replace(inputs, lots=tuple(rate for rate in inputs.lots if not rate.stale))
    missing = _missing_for_pull(inputs)
    no_listing = () if inputs.listed_lbf is not None else ("a listed rating",)
    unrated = UnitRating(
        standing=Standing.UNRATED,
        missing=missing + no_listing,
        sound_pads=sum(1 for position in inputs.positions if position.condition == SOUND),
        positions=len(inputs.positions),
        unrated_pads=_unrated_pads(inputs),
        listed_lbf=inputs.listed_lbf,
        stale_lots=stale_lots,
        is_assumed_spread=any(
            rate.spread_lbf_in is None and _sound_pads_of(inputs, rate.lot) for rate in inputs.lots
        ),
    )
    if missing or inputs.travel_in is None:
        return unrated
    pull = line_pull(
        pad_groups(inputs),
        inputs.travel_in,
        travel_uncertainty_in=inputs.policy.travel_uncertainty_in,
        confidence=inputs.policy.confidence,
    )
    return _with_figures(unrated, inputs, pull)


def _stale_lots(inputs: UnitInputs) -> tuple[str, ...]:
    return tuple(
        sorted(rate.lot for rate in inputs.lots if rate.stale and _sound_pads_of(inputs, rate.lot))
    )


def pad_groups(inputs: UnitInputs) -> tuple[PadGroup, ...]:
    """Return a group for each rated lot fitted; one with no sound pad still limits the stretch."""
    fitted = {position.lot for position in inputs.positions if position.lot is not None}
    return tuple(
        _group(rate, _sound_pads_of(inputs, rate.lot), inputs.policy)
        for rate in sorted(inputs.lots, key=lambda rate: rate.lot)
        if rate.lot in fitted
    )


def load_line(inputs: UnitInputs, usable_travel_in: float) -> tuple[tuple[float, float], ...]:
    """Return (stretch in, line pull lbf) from rest to the usable travel, for a drawing.

    Two points where every lot is linear, else enough of them to show the bend.
    """
    groups = pad_groups(inputs)
    pieces = 1 if all(group.curve is None for group in groups) else 24
    # Rounding must not take the last point a hair beyond a tested stretch.
    stretches = [
        min(usable_travel_in * piece / pieces, usable_travel_in) for piece in range(pieces + 1)
    ]
    return tuple((stretch_in, pull_at(groups, stretch_in)) for stretch_in in stretches)


def _refuse_twice(name: str, marks: list[str]) -> None:
    for mark in marks:
        if marks.count(mark) > 1:
            raise ValueError(f"{name} has {mark!r} twice: give it once")


def is_linear(rate: LotRate, policy: Policy) -> bool:
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
        curve=None if is_linear(rate, policy) else MonotoneCurve(rate.curve, rate.curve_doubt),
        lot=rate.lot,
    )


def _freedom(given: float | None) -> float:
    return math.inf if given is None else positive("degrees_of_freedom", given, "")


def _sound_pads_of(inputs: UnitInputs, lot: str, sides: Iterable[str] = SIDES) -> int:
    return sum(
        1
        for position in inputs.positions
        if position.condition == SOUND and position.lot == lot and position.side in sides
    )


def _missing_for_pull(inputs: UnitInputs) -> tuple[str, ...]:
    missing = []
    if not inputs.positions or any(not position.condition for position in inputs.positions):
        missing.append(NO_COUNT)
    if inputs.travel_in is None:
        missing.append("a taped travel")
    sound = [position for position in inputs.positions if position.condition == SOUND]
    rated = {rate.lot for rate in inputs.lots}
    if sound and not any(position.lot in rated for position in sound):
        missing.append("an approved rate of any lot that has a sound pad fitted")
    return tuple(missing)


def _unrated_pads(inputs: UnitInputs) -> tuple[UnratedPads, ...]:
    rated = {rate.lot for rate in inputs.lots}
    counts: dict[str | None, int] = {}
    for position in inputs.positions:
        if position.condition == SOUND and position.lot not in rated:
            counts[position.lot] = counts.get(position.lot, 0) + 1
    # Pads of no known lot first, then by the lot's mark, whatever order they were seen in.
    return tuple(UnratedPads(lot, counts[lot]) for lot in sorted(counts, key=lambda lot: lot or ""))


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
        _sound_pads_of(inputs, share.lot, (side,)) * share.force_per_pad_lbf for share in shares
    )
