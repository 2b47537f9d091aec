"""From what is in a housing to what it can pull, and how that stands against its listing."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from enum import StrEnum

from ratings.mechanics.arguments import not_negative, positive
from ratings.mechanics.linepull import Limit, LinePull, PadGroup, ProofFactor, line_pull, pull_at
from ratings.mechanics.load_curve import CurveDoubt, Knot, MonotoneCurve
from ratings.mechanics.shortcuts import Shortcut
from ratings.mechanics.standing import Standing, judge
from ratings.mechanics.uncertainty import rectangular, resolution, updated_spread

SOUND = "sound"
SIDES = ("A", "B")
MISSING = "missing"


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

    standard_error_lbf_in: standard uncertainty of the rate that the stand puts on every pad it
        has rated, and its degrees of freedom, None where infinite.
    curve, curve_doubt: the knots of the lot's monotone load curve, as measured and with no price
        off, and what it isn't sure of; rate × stretch where there are no knots.
    scatter_degrees_of_freedom: of the scatter in that doubt.
    linearity_error_pct: the largest departure from rate × stretch, % of full scale. A word about
        the lot: it rates nothing.
    spread_lbf_in, spread_degrees_of_freedom: standard deviation among single marked pads tested,
        and one less than they are; None where there were fewer than two.
    pads_tested: effective number of distinct pads whose mean the rate is; None where the rate
        owes nothing to which pads were tested.
    between_share, between_degrees_of_freedom: standard deviation between the lot's tests that
        their own doubts don't explain, as a share of the rate.
    loading_only_share, not_conditioned_share, temperature_unknown_share: weight, from 0 to 1, of
        the tests that read no unloading, were not conditioned, or read no rubber temperature.
    conditions_pct: how far the force in use may lie from that on the bench, ± %, where it was
        measured; None where the policy's stands in.
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
    pads_tested: float | None = None
    scatter_degrees_of_freedom: float | None = None
    between_share: float = 0.0
    between_degrees_of_freedom: float | None = None
    loading_only_share: float = 0.0
    not_conditioned_share: float = 0.0
    temperature_unknown_share: float = 0.0
    conditions_pct: float | None = None


@dataclass(frozen=True)
class Policy:
    """How the yard rates.

    confidence: one-sided level of the working capacity.
    pad_spread_pct, pad_spread_degrees_of_freedom: assumed pad-to-pad standard deviation of the
        rate, % of the rate, and how many degrees of freedom that assumption is worth against
        what single pads show.
    linearity_limit_pct: departure from a straight line beyond which a lot is called bent, %.
    tape_resolution_in: the finest division the travel is read to.
    rate_valid_days: how long a rate holds after its newest test, and how far back tests count.
    coldest_f, warmest_f: rubber temperatures a test may have been made at, °F.
    stale_rates: one of StaleRates, by its value.
    conditions_pct: how far the force in use may lie from that on the bench (temperature, dwell,
        rate of pull), ± %, anything within alike.
    unknown_temperature_pct: what is added to it where the rubber's temperature was not read.
    seal_friction_pct: what is taken off a load curve read on the loading branch alone.
    first_stretch_pct: what is taken off that of pads stretched fewer than conditioning_cycles
        times before they were read.
    gap_band_pct: how far the force may lie off the curve half-way between two readings, ± % of
        the rise between them.
    largest_strain_pct: stretch over rubber thickness no pad may pass, %; None for no limit.
    refused_shortcuts: each a Shortcut, by its value, that makes a test rate nothing.
    """

    confidence: float = 0.95
    pad_spread_pct: float = 5.0
    linearity_limit_pct: float = 5.0
    tape_resolution_in: float = 0.125
    rate_valid_days: int = 730
    coldest_f: float = 40.0
    warmest_f: float = 100.0
    stale_rates: str = StaleRates.KEEP.value
    pad_spread_degrees_of_freedom: float = 8.0
    conditions_pct: float = 5.0
    unknown_temperature_pct: float = 3.0
    seal_friction_pct: float = 3.0
    first_stretch_pct: float = 10.0
    conditioning_cycles: int = 3
    gap_band_pct: float = 5.0
    largest_strain_pct: float | None = None
    refused_shortcuts: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        # As JSON and forms give them: a list, in any order.
        refused = tuple(sorted(Shortcut(each).value for each in self.refused_shortcuts))
        object.__setattr__(self, "refused_shortcuts", refused)

    @property
    def travel_uncertainty_in(self) -> float:
        """Standard uncertainty of a reading rounded to the resolution (GUM 4.3.7, F.2.2.1)."""
        return resolution(not_negative("tape_resolution_in", self.tape_resolution_in, "in"))


@dataclass(frozen=True)
class LotRubber:
    """How thick a lot's rubber is between its plates, in; of a lot fitted, rated or not."""

    lot: str
    thickness_in: float


@dataclass(frozen=True)
class UnitInputs:
    """Everything the rating of one unit rests on. None where a fact is missing.

    is_guided: whether the housing is kept level, so that both sides stretch alike.
    rubber: of every lot fitted whose rubber is on record.
    proof: what the last proof pull that still tells found of the unit.

    Raises ValueError for a side other than A and B, and for a position or a lot given twice.
    """

    positions: tuple[Position, ...]
    lots: tuple[LotRate, ...]
    travel_in: float | None
    listed_lbf: float | None
    policy: Policy = field(default_factory=Policy)
    is_guided: bool = False
    rubber: tuple[LotRubber, ...] = ()
    proof: ProofFactor | None = None

    def __post_init__(self) -> None:
        for position in self.positions:
            if position.side not in SIDES:
                raise ValueError(f"positions has side {position.side!r}: give 'A' or 'B'")
        _refuse_twice("positions", [f"{each.side}{each.number}" for each in self.positions])
        _refuse_twice("lots", [rate.lot for rate in self.lots])


@dataclass(frozen=True)
class LotShare:
    """What the sound pads of one rated lot carry at the usable travel.

    counted: how many of them the line pull counts, twice the weaker side's where the housing is
    not guided. None count, and the force is 0, where the lot was not tested that far.
    tested_stretch_in: how far it was.
    share: of the force of those counted that is counted; less than all where the lot is in more
    doubt than it pulls, and more of it would add more doubt than pull.
    """

    lot: str
    count: int
    counted: int
    force_per_pad_lbf: float
    slope_lbf_in: float
    pull_lbf: float
    tested_stretch_in: float
    share: float = 1.0


@dataclass(frozen=True)
class UnratedPads:
    """Sound pads that add nothing, since their lot is unrated, or unknown (None)."""

    lot: str | None
    count: int


@dataclass(frozen=True)
class UnitRating:
    """The figures of a unit. None where an input was missing; `missing` says which.

    limiting_lots: those whose tested stretch ends the usable travel. short_lots: those whose
    sound pads add nothing there, since they were not tested that far.
    weaker_side: whose pads bound the pull, "" where the housing is guided.
    scatter_lbf, lots_lbf, shared_lbf, conditions_lbf, tape_lbf: parts of the standard
    uncertainty, as LinePull has them. proof_ratio: what a proof pull found of what the pads should
    give; is_by_proof: whether it bounds the working capacity.
    """

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
    short_lots: tuple[str, ...] = ()
    rate_lbf_in: float | None = None
    standard_uncertainty_lbf: float | None = None
    degrees_of_freedom: float | None = None
    coverage_factor: float | None = None
    lots: tuple[LotShare, ...] = ()
    side_a_lbf: float | None = None
    side_b_lbf: float | None = None
    is_out_of_balance: bool = False
    weaker_side: str = ""
    scatter_lbf: float | None = None
    lots_lbf: float | None = None
    shared_lbf: float | None = None
    conditions_lbf: float | None = None
    tape_lbf: float | None = None
    proof_ratio: float | None = None
    is_by_proof: bool = False


def rate_unit(inputs: UnitInputs, line_pull_of: Callable[..., LinePull] = line_pull) -> UnitRating:
    """Rate one unit: DESIGN's line pull, working capacity, side balance and standing.

    line_pull_of: line_pull by the method to rate by, today's unless given.

    A missing input leaves the figures it bears on None and is named in `missing`. Raises
    ValueError where an input is impossible.
    """
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
    pull = line_pull_of(
        pad_groups(inputs),
        min(positive("travel_in", inputs.travel_in, "in"), strain_limit_in(inputs)),
        travel_uncertainty_in=inputs.policy.travel_uncertainty_in,
        confidence=inputs.policy.confidence,
        proof=inputs.proof,
    )
    return _with_figures(unrated, inputs, pull)


def stale_lots(inputs: UnitInputs) -> tuple[str, ...]:
    """Return the lots with a sound pad fitted whose rate is stale."""
    return tuple(
        sorted(rate.lot for rate in inputs.lots if rate.stale and sound_pads_of(inputs, rate.lot))
    )


def strain_limit_in(inputs: UnitInputs) -> float:
    """Return the stretch beyond which some sound pad fitted is strained past the policy's limit.

    In inches; infinite where the policy sets none. It bounds every lot, tested or not: rubber
    torn by one pad's stretch is torn whatever the others bear. A lot whose rubber isn't on
    record is not held to it.
    """
    limits = (
        strain_limit_of(each.thickness_in, inputs.policy)
        for each in inputs.rubber
        if sound_pads_of(inputs, each.lot)
    )
    return min((each for each in limits if each is not None), default=math.inf)


def strain_limit_of(thickness_in: float | None, policy: Policy) -> float | None:
    """Return the stretch at which rubber so thick is at the policy's limit, in.

    None where the policy sets none, or the rubber isn't on record.
    """
    if policy.largest_strain_pct is None or thickness_in is None:
        return None
    return positive("largest_strain_pct", policy.largest_strain_pct, "%") / 100.0 * thickness_in


def pad_groups(inputs: UnitInputs) -> tuple[PadGroup, ...]:
    """Return a group for each rated lot fitted, its sides told apart unless they stretch alike."""
    fitted = {position.lot for position in inputs.positions if position.lot is not None}
    return tuple(
        _group(rate, inputs)
        for rate in sorted(inputs.lots, key=lambda rate: rate.lot)
        if rate.lot in fitted
    )


def stiff_groups(inputs: UnitInputs) -> tuple[PadGroup, ...]:
    """Return a group for each rated lot fitted, for the most that all pads may pull.

    Every pad fitted pulls, whatever its condition, and so does one never counted; with its whole
    measured force, for what is taken off for the shortcuts of a test is taken off to be sure of
    the least. Sides are left together: what the hook feels is both.
    """
    found = []
    for rate in sorted(inputs.lots, key=lambda rate: rate.lot):
        many = sum(
            1
            for position in inputs.positions
            if position.lot == rate.lot and position.condition != MISSING
        )
        if many:
            group = _group(rate, inputs)
            found.append(replace(group, count=many, sides=None, kept_share=1.0))
    return tuple(found)


def unknown_stiffness(inputs: UnitInputs) -> str:
    """Return which pads fitted have no rate, in words; "" where every one has."""
    if not inputs.positions:
        return "no pad was ever counted"
    rated, counts = {rate.lot for rate in inputs.lots}, dict[str, int]()
    for position in inputs.positions:
        if position.condition != MISSING and position.lot not in rated:
            lot = position.lot or "no known lot"
            counts[lot] = counts.get(lot, 0) + 1
    return ", ".join(
        f"{many} pad{'' if many == 1 else 's'} of {lot}" for lot, many in sorted(counts.items())
    )


def load_line(inputs: UnitInputs, usable_travel_in: float) -> tuple[tuple[float, float], ...]:
    """Return (stretch in, line pull lbf) from rest to the usable travel, for a drawing.

    Of the lots that count there; enough points to show a bend.
    """
    groups = [each for each in pad_groups(inputs) if each.tested_stretch_in >= usable_travel_in]
    ratio = min(1.0, inputs.proof.ratio) if inputs.proof else 1.0
    pieces = 24
    # Rounding must not take the last point a hair beyond a tested stretch.
    stretches = [
        min(usable_travel_in * piece / pieces, usable_travel_in) for piece in range(pieces + 1)
    ]
    return tuple((stretch_in, ratio * pull_at(groups, stretch_in)) for stretch_in in stretches)


def _refuse_twice(name: str, marks: list[str]) -> None:
    for mark in marks:
        if marks.count(mark) > 1:
            raise ValueError(f"{name} has {mark!r} twice: give it once")


def _group(rate: LotRate, inputs: UnitInputs) -> PadGroup:
    policy = inputs.policy
    rate_lbf_in = positive("rate_lbf_in", rate.rate_lbf_in, "lbf/in")
    spread_pct = not_negative("pad_spread_pct", policy.pad_spread_pct, "%")
    spread_lbf_in, spread_freedom = updated_spread(
        rate_lbf_in * spread_pct / 100.0,
        positive("pad_spread_degrees_of_freedom", policy.pad_spread_degrees_of_freedom, ""),
        rate.spread_lbf_in or 0.0,
        0.0 if rate.spread_lbf_in is None else rate.spread_degrees_of_freedom or 0.0,
    )
    # Where single pads differ by more than assumed, the assumption doesn't dilute what they show:
    # a lot truly twice as uneven as assumed is then still covered from four singles on.
    spread_lbf_in = max(spread_lbf_in, rate.spread_lbf_in or 0.0)
    side_a, side_b = (sound_pads_of(inputs, rate.lot, (side,)) for side in SIDES)
    kept, in_use_pct = kept_share(rate, policy), conditions_pct(rate, policy)
    return PadGroup(
        count=side_a + side_b,
        rate_lbf_in=rate_lbf_in,
        tested_stretch_in=rate.tested_stretch_in,
        standard_error_lbf_in=rate.standard_error_lbf_in,
        spread_lbf_in=spread_lbf_in,
        degrees_of_freedom=_freedom(rate.degrees_of_freedom),
        spread_degrees_of_freedom=spread_freedom,
        curve=MonotoneCurve(rate.curve, rate.curve_doubt) if rate.curve else None,
        lot=rate.lot,
        sides=None if inputs.is_guided else (side_a, side_b),
        pads_tested=_freedom(rate.pads_tested),
        scatter_degrees_of_freedom=_freedom(rate.scatter_degrees_of_freedom),
        between_share=rate.between_share,
        between_degrees_of_freedom=_freedom(rate.between_degrees_of_freedom),
        # What is taken off for the seals is itself anything from nothing to twice.
        conditions_share=math.hypot(
            rectangular(in_use_pct),
            rectangular(policy.seal_friction_pct * rate.loading_only_share),
        )
        / 100.0,
        gap_share=rectangular(not_negative("gap_band_pct", policy.gap_band_pct, "%")) / 100.0,
        kept_share=kept,
    )


def conditions_pct(rate: LotRate, policy: Policy) -> float:
    """Return how far a lot's force in use may lie from that on the bench, ± %.

    Raises ValueError for a number that can't be.
    """
    measured = rate.conditions_pct
    known_pct = policy.conditions_pct if measured is None else measured
    unknown = _share("temperature_unknown_share", rate.temperature_unknown_share)
    return (
        not_negative("conditions_pct", known_pct, "%")
        + not_negative("unknown_temperature_pct", policy.unknown_temperature_pct, "%") * unknown
    )


def kept_share(rate: LotRate, policy: Policy) -> float:
    """Return what is left of a lot's load curve with the price of its tests' shortcuts off.

    Raises ValueError for a number that can't be.
    """
    loading_only = _share("loading_only_share", rate.loading_only_share)
    not_conditioned = _share("not_conditioned_share", rate.not_conditioned_share)
    friction = _share("seal_friction_pct", policy.seal_friction_pct, 100.0, "%") / 100.0
    first_stretch = _share("first_stretch_pct", policy.first_stretch_pct, 100.0, "%") / 100.0
    return (1.0 - friction * loading_only) * (1.0 - first_stretch * not_conditioned)


def _share(name: str, value: float, whole: float = 1.0, symbol: str = "") -> float:
    """Return a number between nothing and the whole. Raises ValueError for another."""
    share = not_negative(name, value, symbol)
    if share > whole:
        raise ValueError(f"{name} is {share:g}: give no more than {whole:g} {symbol}".rstrip())
    return share


def _freedom(given: float | None) -> float:
    return math.inf if given is None else positive("degrees_of_freedom", given, "")


def sound_pads_of(inputs: UnitInputs, lot: str, sides: Iterable[str] = SIDES) -> int:
    """Return how many sound pads of a lot are fitted on these sides."""
    return sum(
        1
        for position in inputs.positions
        if position.condition == SOUND and position.lot == lot and position.side in sides
    )


def missing_for_pull(inputs: UnitInputs) -> tuple[str, ...]:
    """Return which facts a line pull needs and hasn't got."""
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


def unrated_pads(inputs: UnitInputs) -> tuple[UnratedPads, ...]:
    """Return the sound pads that add nothing, by lot."""
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
        limited_by=_limited_by(inputs, pull),
        limiting_lots=_limiting_lots(pull),
        short_lots=tuple(
            share.lot
            for share in shares
            if share.count and share.tested_stretch_in < pull.usable_travel_in
        ),
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
        weaker_side=pull.weaker_side,
        scatter_lbf=pull.scatter_lbf,
        lots_lbf=pull.lots_lbf,
        shared_lbf=pull.shared_lbf,
        conditions_lbf=pull.conditions_lbf,
        tape_lbf=pull.tape_lbf,
        proof_ratio=inputs.proof.ratio if inputs.proof else None,
        is_by_proof=pull.is_by_proof,
    )


STRAIN_LIMIT = "strain limit"


def _limited_by(inputs: UnitInputs, pull: LinePull) -> str:
    """Say what ends the usable travel: one of Limit, or the policy's strain limit."""
    is_strained = strain_limit_in(inputs) < (inputs.travel_in or 0.0)
    if is_strained and pull.limited_by is Limit.TRAVEL:
        return STRAIN_LIMIT
    return pull.limited_by.value


def _limiting_lots(pull: LinePull) -> tuple[str, ...]:
    if pull.limited_by is not Limit.TESTED_STRETCH:
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
            counted=given.counted,
            force_per_pad_lbf=given.force_per_pad_lbf,
            slope_lbf_in=given.slope_lbf_in,
            pull_lbf=given.pull_lbf,
            tested_stretch_in=given.group.tested_stretch_in,
            share=given.share,
        )
        for given in pull.groups
    )


def _side_pull(inputs: UnitInputs, shares: tuple[LotShare, ...], side: str) -> float:
    return math.fsum(
        sound_pads_of(inputs, share.lot, (side,)) * share.force_per_pad_lbf for share in shares
    )
