"""A whole unit pulled against a load indicator, and held to what its pads should give."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from ratings.mechanics.arguments import not_negative, positive, set_checked
from ratings.mechanics.bench import ReadingError
from ratings.mechanics.linepull import ProofFactor
from ratings.mechanics.remarks import Figure, Measure, Refused, Remark, length
from ratings.mechanics.uncertainty import (
    Component,
    combine,
    rectangular,
    resolution,
    two_sided_factor,
    whole_degrees_of_freedom,
)

LEAST_READINGS = 3
# Two-sided level of every expanded uncertainty here.
CONFIDENCE = 0.95
# A comparison less sure than this share of what is expected finds no fault and proves nothing.
MOST_HALF_WIDTH = 0.25
# Beyond these a unit of measure was mistaken: no unit is a quarter, or four times, of its pads.
LEAST_RATIO, MOST_RATIO = 0.25, 4.0
# An offset below this share of the largest load bears on nothing.
LEAST_OFFSET_SHARE = 0.02


class Verdict(StrEnum):
    """How a unit stands against its pads. E_n beyond 1 either way is a disagreement."""

    SOFTER = "softer than its pads say"
    AGREES = "as its pads say"
    STIFFER = "stiffer than its pads say"
    UNSURE = "too unsure to tell"


@dataclass(frozen=True)
class PullReading:
    """What the indicator showed (lbf) at a stretch (in) beyond where the unit hung free."""

    load_lbf: float
    stretch_in: float


@dataclass(frozen=True)
class PullInstruments:
    """How far load indicator and tape may be off.

    accuracy_pct: the most the indicator is off either way, % of what it shows.
    resolution_lbf, tape_resolution_in: their finest divisions.
    Raises ValueError for a number that can't be.
    """

    accuracy_pct: float
    resolution_lbf: float
    tape_resolution_in: float

    def __post_init__(self) -> None:
        set_checked(
            self,
            accuracy_pct=not_negative("accuracy_pct", self.accuracy_pct, "%"),
            resolution_lbf=not_negative("resolution_lbf", self.resolution_lbf, "lbf"),
            tape_resolution_in=not_negative("tape_resolution_in", self.tape_resolution_in, "in"),
        )


@dataclass(frozen=True)
class ExpectedPull:
    """What a unit's pads should give.

    force_lbf: force of all its pads at a stretch from rest, in; 0 at 0 and rising with it.
    standard_share: its standard uncertainty as a share of it.
    to_in: the stretch as far as it is known.
    allowance_share: what was taken off it, one-sided, for shortcuts of the bench tests, as a
    share of what it was before. The pads may give all of that, and not be called stiff for it.
    """

    force_lbf: Callable[[float], float]
    standard_share: float
    to_in: float
    allowance_share: float = 0.0


@dataclass(frozen=True)
class ComparedReading:
    """A reading and what was expected at it, both beyond what hung there already, lbf.

    expected_lbf: None where the pads are not known so far.
    """

    stretch_in: float
    measured_lbf: float
    expected_lbf: float | None


@dataclass(frozen=True)
class Comparison:
    """What a proof pull came to.

    sag_in: stretch that the weight below the pads had given them before the pull.
    stretch_in: the largest stretch compared; measured_lbf, expected_lbf: the pull there.
    ratio: measured over expected, of all readings together.
    parts: what leaves it in doubt, each as a share of the expected pull. The last is the pads'.
    standard_share: their root sum of squares. degrees_of_freedom: effective, not truncated.
    coverage_factor: Student's t at them, truncated, two-sided (GUM G.4.1).
    own_share, own_degrees_of_freedom: standard uncertainty of the ratio from this pull alone,
    without the pads', as the parts are; its degrees of freedom.
    e_n: (ratio − 1) over the expanded uncertainty (ISO/IEC 17043); above 1, how far the ratio
    lies beyond what the allowance leaves open, 0 within it.
    offset_lbf: what the readings have too much (or too little, negative) at no stretch, None
    where that is no more than their scatter.
    stiffness_lbf_in, expected_stiffness_lbf_in: force per inch through the origin.
    """

    readings: tuple[ComparedReading, ...]
    sag_in: float
    stretch_in: float
    measured_lbf: float
    expected_lbf: float
    ratio: float
    parts: tuple[Component, ...]
    standard_share: float
    degrees_of_freedom: float
    coverage_factor: float
    own_share: float
    own_degrees_of_freedom: float
    e_n: float
    offset_lbf: float | None
    stiffness_lbf_in: float
    expected_stiffness_lbf_in: float

    @property
    def half_width(self) -> float:
        """The expanded uncertainty of the ratio."""
        return self.coverage_factor * self.standard_share

    @property
    def half_width_pct(self) -> float:
        return 100.0 * self.half_width

    @property
    def verdict(self) -> Verdict:
        return verdict(self.e_n, self.half_width)

    @property
    def e_n_words(self) -> str:
        return e_n_words(self.e_n)


def e_n_words(e_n: float) -> str:
    """Return E_n to two decimals, with a true minus."""
    return f"{e_n:.2f}".replace("-", "−")


def verdict(e_n: float, half_width: float) -> Verdict:
    """Return how a unit stands by its E_n, and by how unsure the comparison is."""
    if abs(e_n) > 1.0:
        return Verdict.SOFTER if e_n < 0.0 else Verdict.STIFFER
    return Verdict.UNSURE if half_width > MOST_HALF_WIDTH else Verdict.AGREES


def compare(
    readings: Sequence[PullReading],
    tare_lbf: float,
    instruments: PullInstruments,
    pads: ExpectedPull,
    weight_below_lb: float = 0.0,
) -> Comparison:
    """Hold readings of a pull to what the unit's pads should give.

    The unit hangs free before the anchor takes load: the indicator shows the tare and the pads
    carry the weight below them, which stretches them by the sag s₀, F(s₀) = weight. From there
    m = load − tare is the pull, and F(s₀ + s) − F(s₀) = e what the pads should give at it. The
    ratio of all readings is Σme/Σe², which for straight pads is stiffness over stiffness. Where
    a line m = a + r·e shows an offset a (5 %, two-sided), weight is left in the readings or the
    tape was read at another rest: then the lower of r and Σme/Σe² counts.

    Raises ReadingError naming a reading that can't be, ValueError for a number that can't be,
    fewer than three readings where the pads are known, readings at one stretch, and a ratio
    that no unit can have, with what it looks like.
    """
    tare = not_negative("tare_lbf", tare_lbf, "lbf")
    weight = not_negative("weight_below_lb", weight_below_lb, "lb")
    to_in = positive("to_in", pads.to_in, "in")
    positive("standard_share", pads.standard_share, "")
    if not 0.0 <= pads.allowance_share < 1.0:
        raise ValueError(f"allowance_share is {pads.allowance_share:g}: give 0 or more, below 1")
    sag_in = _stretch_under(pads, weight)
    resting_lbf = pads.force_lbf(sag_in)
    compared = tuple(
        _compared(place, each, tare, pads, sag_in, resting_lbf, to_in)
        for place, each in enumerate(readings)
    )
    known = [each for each in compared if each.expected_lbf is not None]
    _refuse_too_few(known, len(compared), to_in - sag_in, instruments.tape_resolution_in)
    return _figures(compared, known, sag_in, instruments, pads)


def _stretch_under(pads: ExpectedPull, weight_lb: float) -> float:
    """Return the stretch at which the pads carry a weight, by halving; exact to a float."""
    if weight_lb == 0.0:
        return 0.0
    if pads.force_lbf(pads.to_in) <= weight_lb:
        raise Refused(
            "the weight below the pads, ",
            Figure(Measure.WEIGHT, weight_lb, is_rounded=True),
            ", alone stretches them as far as they are known, to ",
            length(pads.to_in),
            ", so no pull can be compared. Look at the weights of exciter and clamp",
        )
    low, high = 0.0, pads.to_in
    for _ in range(60):
        middle = (low + high) / 2.0
        if pads.force_lbf(middle) < weight_lb:
            low = middle
        else:
            high = middle
    return high


def _compared(
    place: int,
    reading: PullReading,
    tare_lbf: float,
    pads: ExpectedPull,
    sag_in: float,
    resting_lbf: float,
    to_in: float,
) -> ComparedReading:
    try:
        load = not_negative("load_lbf", reading.load_lbf, "lbf")
    except ValueError as trouble:
        raise ReadingError(place, "load_lbf", str(trouble)) from None
    try:
        stretch = positive("stretch_in", reading.stretch_in, "in")
    except ValueError as trouble:
        raise ReadingError(place, "stretch_in", str(trouble)) from None
    if load <= tare_lbf:
        raise ReadingError(
            place,
            "load_lbf",
            Figure(Measure.FORCE, load, is_rounded=True),
            " is no more than the ",
            Figure(Measure.FORCE, tare_lbf, is_rounded=True),
            " the indicator showed with the unit hanging free: give what it showed during the "
            "pull, weights and all",
        )
    at = sag_in + stretch
    expected = pads.force_lbf(at) - resting_lbf if at <= to_in else None
    return ComparedReading(stretch, load - tare_lbf, expected)


def _refuse_too_few(
    known: Sequence[ComparedReading], given: int, to_in: float, tape_resolution_in: float
) -> None:
    if len(known) < LEAST_READINGS:
        beyond = given - len(known)
        why: Remark = (
            f", and {beyond} beyond ",
            Figure(Measure.LENGTH, to_in, is_rounded=True),
            ", where the pads are not known",
        )
        raise Refused(
            f"{len(known) or 'no'} reading{'s' * (len(known) != 1)} to compare",
            *(why if beyond else ()),
            f": give {LEAST_READINGS} or more, at stretches spread from rest to the largest",
        )
    stretches = [each.stretch_in for each in known]
    if max(stretches) - min(stretches) <= tape_resolution_in:
        raise Refused(
            "all readings are at one stretch, ",
            length(max(stretches)),
            ": one point says nothing of what hung on the indicator already. Give readings at "
            "three stretches or more",
        )


def _figures(
    compared: tuple[ComparedReading, ...],
    known: list[ComparedReading],
    sag_in: float,
    instruments: PullInstruments,
    pads: ExpectedPull,
) -> Comparison:
    stretches = [each.stretch_in for each in known]
    measured = [each.measured_lbf for each in known]
    expected = [each.expected_lbf or 0.0 for each in known]
    slopes = [_slope_lbf_in(pads, sag_in + stretch) for stretch in stretches]
    sum_ee = math.fsum(e * e for e in expected)
    weights = [e / sum_ee for e in expected]
    ratio = _dot(weights, measured)
    _refuse_impossible(ratio)
    offset_lbf, of_line, line_ratio = _offset(measured, expected, slopes, ratio, instruments)
    free, level = len(known) - 1, 0.0
    if offset_lbf is not None and line_ratio < ratio:
        weights, ratio, free, level = of_line, line_ratio, len(known) - 2, offset_lbf
        _refuse_impossible(ratio)
    residuals = [m - level - ratio * e for m, e in zip(measured, expected, strict=True)]
    scatter = math.sqrt(math.fsum(each * each for each in residuals) / free)
    own = _own_parts(ratio, weights, slopes, scatter, free, instruments)
    parts = (*own, Component("what the ledger says of the pads", pads.standard_share))
    whole, alone = combine(parts), combine(own)
    factor = _factor(whole.degrees_of_freedom)
    beyond = _beyond(ratio, pads.allowance_share)
    sum_xx = math.fsum(x * x for x in stretches)
    largest = max(range(len(known)), key=lambda place: stretches[place])
    return Comparison(
        readings=compared,
        sag_in=sag_in,
        stretch_in=stretches[largest],
        measured_lbf=ratio * expected[largest],
        expected_lbf=expected[largest],
        ratio=ratio,
        parts=parts,
        standard_share=whole.standard,
        degrees_of_freedom=whole.degrees_of_freedom,
        coverage_factor=factor,
        own_share=alone.standard,
        own_degrees_of_freedom=alone.degrees_of_freedom,
        e_n=beyond / (factor * whole.standard),
        offset_lbf=offset_lbf,
        stiffness_lbf_in=_dot(stretches, measured) / sum_xx,
        expected_stiffness_lbf_in=_dot(stretches, expected) / sum_xx,
    )


def _beyond(ratio: float, allowance_share: float) -> float:
    """Return how far a ratio lies from 1, or above it from the end of the allowance."""
    if ratio <= 1.0:
        return ratio - 1.0
    return max(0.0, ratio - 1.0 / (1.0 - allowance_share))


def _factor(degrees_of_freedom: float) -> float:
    return two_sided_factor(CONFIDENCE, whole_degrees_of_freedom(degrees_of_freedom))


def expanded(standard_share: float, degrees_of_freedom: float) -> float:
    """Return the expanded uncertainty (95 %, two-sided) of a share known that well."""
    return _factor(degrees_of_freedom) * standard_share


def proof_factor(
    ratio: float,
    own_share: float,
    own_degrees_of_freedom: float,
    conditions_pct: float,
    pulled_on: str,
) -> ProofFactor:
    """Return what a pull tells of the unit in use, with its own doubt as a share of its ratio.

    conditions_pct: how far the force in use may lie from that on the bench (temperature, dwell,
    rate), ± %. It counts twice: the day of the pull was one such use, and the next is another.
    """
    of_use = rectangular(conditions_pct) / 100.0
    whole = combine(
        (
            Component("this pull", own_share / ratio, own_degrees_of_freedom),
            Component("conditions of the pull", of_use),
            Component("conditions of use", of_use),
        )
    )
    freedom = whole.degrees_of_freedom
    return ProofFactor(
        ratio=ratio,
        pulled_on=pulled_on,
        standard_share=whole.standard,
        # JSON has no infinity.
        degrees_of_freedom=None if math.isinf(freedom) else freedom,
    )


def _dot(left: Sequence[float], right: Sequence[float]) -> float:
    return math.fsum(a * b for a, b in zip(left, right, strict=True))


def _slope_lbf_in(pads: ExpectedPull, at_in: float) -> float:
    """Return force per inch just below a stretch, where the pads are known for sure."""
    step = 0.01 * at_in
    return (pads.force_lbf(at_in) - pads.force_lbf(at_in - step)) / step


def _offset(
    measured: Sequence[float],
    expected: Sequence[float],
    slopes: Sequence[float],
    ratio: float,
    instruments: PullInstruments,
) -> tuple[float | None, list[float], float]:
    """Return the offset of m = a + r·e, None where it's no more than scatter; weights of r; r."""
    many = len(expected)
    middle = math.fsum(expected) / many
    from_middle = [e - middle for e in expected]
    spread = math.fsum(each * each for each in from_middle)
    weights = [each / spread for each in from_middle]
    slope = _dot(weights, measured)
    offset = math.fsum(measured) / many - slope * middle
    residuals = [m - offset - slope * e for m, e in zip(measured, expected, strict=True)]
    scatter = math.sqrt(math.fsum(each * each for each in residuals) / (many - 2))
    root = math.sqrt(math.fsum(e * e for e in expected) / (many * spread))
    # Readings that happen to lie on a line must not make their own rounding an offset.
    steepest = max(abs(each) for each in slopes) * ratio
    rounding = math.hypot(
        resolution(instruments.resolution_lbf),
        resolution(instruments.tape_resolution_in) * steepest,
    )
    least = max(
        two_sided_factor(CONFIDENCE, many - 2) * root * scatter,
        2.0 * root * rounding,
        LEAST_OFFSET_SHARE * max(measured),
    )
    return (offset if abs(offset) > least else None), weights, slope


def _own_parts(
    ratio: float,
    weights: Sequence[float],
    slopes: Sequence[float],
    scatter_lbf: float,
    degrees_of_freedom: int,
    instruments: PullInstruments,
) -> tuple[Component, ...]:
    """Return what this pull itself leaves in doubt, each as a share of the expected pull.

    Rounding strikes each reading for itself and the reading at rest all of them alike. The
    scatter has some of it too: it is counted twice rather than not at all.
    """
    together = math.sqrt(math.fsum(w * w for w in weights))
    by_stretch = [ratio * w * slope for w, slope in zip(weights, slopes, strict=True)]
    load_step = resolution(instruments.resolution_lbf)
    tape_step = resolution(instruments.tape_resolution_in)
    return (
        Component("scatter of the readings", scatter_lbf * together, degrees_of_freedom),
        Component(
            "accuracy of the load indicator", ratio * rectangular(instruments.accuracy_pct / 100.0)
        ),
        Component(
            "division of the load indicator",
            load_step * math.hypot(together, math.fsum(weights)),
        ),
        Component(
            "division of the tape",
            tape_step
            * math.hypot(math.sqrt(math.fsum(b * b for b in by_stretch)), math.fsum(by_stretch)),
        ),
    )


# What a ratio looks like where a number was typed in another unit of measure than asked for.
MISTAKES = (
    (1.0 / 2000.0, "loads in tons typed as lbf"),
    (1.0 / 1000.0, "loads in thousands of lbf typed as lbf"),
    (1.0 / 224.809, "loads in kN typed as lbf"),
    (1.0 / 9.80665, "loads in tonnes typed as kN"),
    (1.0 / 25.4, "stretches in millimetres typed as inches"),
    (224.809, "loads in lbf typed as kN"),
    (25.4, "stretches in inches typed as millimetres"),
)
# Between the nearest two of them, so that none is named for another.
MISTAKE_WITHIN = 1.35


def mistaken_for(ratio: float) -> str:
    """Return what a ratio of measured to expected pull looks like, "" where like nothing known."""
    for of, words in MISTAKES:
        if 1.0 / MISTAKE_WITHIN <= ratio / of <= MISTAKE_WITHIN:
            return words
    return ""


def doubtful_reason(ratio: float) -> str:
    """Return what may lie behind a ratio far from 1 that a unit might still have, "" if near."""
    if ratio < 0.43:
        return "stretches in centimetres typed as inches would look like this (1/2.54)"
    if ratio < 0.48:
        return "loads in kilograms typed as lbf would look like this (1/2.2)"
    if ratio < 0.6:
        return (
            "an indicator on one part of a two-part line, or on one of two slings, would show "
            "half the load"
        )
    if ratio > 1.7:
        return "a load counted on both of two parts of line would look like this"
    return ""


def _refuse_impossible(ratio: float) -> None:
    if LEAST_RATIO <= ratio <= MOST_RATIO:
        return
    looks = mistaken_for(ratio)
    times = f"1/{1.0 / ratio:,.3g}" if 0.0 < ratio < 1.0 else f"{ratio:,.3g} times"
    like = f"it looks like {looks}" if looks else "look at the units of measure and the columns"
    raise ValueError(f"the loads are {times} of what these pads can give: {like}")


@dataclass(frozen=True)
class PullFound:
    """What one proof pull found, for the question which of several holds.

    own_half_width: of the ratio, from the pull alone.
    may_lift: whether it is good enough to lift a softness found before.
    """

    ratio: float
    own_half_width: float
    e_n: float
    half_width: float
    may_lift: bool = True

    @property
    def verdict(self) -> Verdict:
        return verdict(self.e_n, self.half_width)


def softness_in_force(pulls: Sequence[PullFound]) -> int | None:
    """Return the place of the pull whose softness holds, None where none does.

    In the order they were pulled. A softness found holds until a later pull that is good enough
    agrees with the pads and leaves no room for it: its ratio less what the pull itself leaves in
    doubt lies above the ratio found. What the pads leave in doubt is the same for both and says
    nothing between them. A softer finding always takes its place; a milder one only by the same
    rule.
    """
    held: int | None = None
    for place, pull in enumerate(pulls):
        leaves_no_room = (
            held is not None
            and pull.may_lift
            and pull.ratio - pull.own_half_width > pulls[held].ratio
        )
        if pull.verdict is Verdict.SOFTER:
            if held is None or pull.ratio <= pulls[held].ratio or leaves_no_room:
                held = place
        elif pull.verdict is Verdict.AGREES and leaves_no_room:
            held = None
    return held
