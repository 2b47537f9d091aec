"""What a bench test leaves out, and what its readings show of mistakes in taking or typing them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from ratings.mechanics.agreement import LARGEST_E_N
from ratings.mechanics.bench import BenchSetUp, Branch, Cycle, CycleReading, CylinderEnd
from ratings.mechanics.gauge import PSI_PER
from ratings.mechanics.line_fit import fit_rate
from ratings.mechanics.load_curve import MonotoneCurve
from ratings.mechanics.plausibility import IN_PER_CM, MM_PER_IN, RateRange, explain
from ratings.mechanics.remarks import (
    Figure,
    Measure,
    Remark,
    in_a_row,
    length,
    pressure,
)
from ratings.mechanics.shortcuts import ENOUGH_STRETCHES, Shortcut

# No housing lets its pads go further.
LONGEST_STRETCH_IN = 36.0
# Fewer show neither a bend nor a reading that stands out, and lie on some line whatever they
# were read in.
STRETCHES_NEEDED = 3
# Of the largest force: no pad's line is as bent as that of readings in two units of measure.
MIXED_UNITS_PCT, ONE_UNIT_PCT = 15.0, 5.0
# What a tape's figure is in inches for each psi of it typed as a gauge's: in US units, and in SI.
TAPE_PER_GAUGE = (1.0, 1.0 / (MM_PER_IN * PSI_PER["kPa"]))
# How far from a mark a reading may lie and still be read at it: decimals are typed with two.
TYPED_WITHIN_IN = 0.0051
TYPED_WITHIN_MARK, MOST_WITHIN_MARK = 0.1, 0.4
# Two of them are about 95 %.
COVERAGE = 2.0
MOST_EXPLANATIONS = 3


@dataclass(frozen=True)
class Lack:
    """A shortcut that a test took, and in words what it leaves unknown."""

    shortcut: Shortcut
    words: str


@dataclass(frozen=True)
class Care:
    """What a tester did beside the readings, and what the yard asks for.

    conditioning_cycles: how often the pads were stretched and let back before the first reading.
    rubber_temperature_f: None where it was not read.
    marked_pads: how many of the pads in test bear a mark.
    """

    conditioning_cycles: int
    conditioning_needed: int
    rubber_temperature_f: float | None
    coldest_f: float
    warmest_f: float
    marked_pads: int


def lacks(
    shortcuts: Iterable[Shortcut], set_up: BenchSetUp, cycle: Cycle, care: Care
) -> tuple[Lack, ...]:
    """Return in words what each shortcut that a test took leaves unknown."""
    return tuple(Lack(each, _WORDS[each](set_up, cycle, care)) for each in shortcuts)


def _loading_only(_set_up: BenchSetUp, _cycle: Cycle, _care: Care) -> str:
    return (
        "Read on loading alone: the friction of the cylinder counts as pull of the pads. Read "
        "each stretch again coming down."
    )


def _not_conditioned(_set_up: BenchSetUp, _cycle: Cycle, care: Care) -> str:
    done = care.conditioning_cycles
    before = "not stretched" if done == 0 else f"stretched {_times(done)}"
    return (
        f"The pads were {before} before the first reading: rubber is stiffer in its first "
        f"stretches than in use. Stretch them {_times(care.conditioning_needed)} and let them "
        "back, then read."
    )


def _few_stretches(_set_up: BenchSetUp, cycle: Cycle, _care: Care) -> str:
    many = len({stretch for stretch, _ in cycle.points})
    shows = (
        "a bend between them, or a reading that is wrong, hardly shows"
        if many < STRETCHES_NEEDED
        else "how the force rises between them is little known"
    )
    return (
        f"Read at {many} stretch{'es' * (many != 1)} only: {shows}. Read at {ENOUGH_STRETCHES} or "
        "more."
    )


def _temperature_unknown(_set_up: BenchSetUp, _cycle: Cycle, _care: Care) -> str:
    return (
        "The temperature of the rubber was not read: cold rubber is stiffer than the same rubber "
        "at work."
    )


def _unmarked_pads(set_up: BenchSetUp, _cycle: Cycle, care: Care) -> str:
    pads = set_up.pads_in_test
    bare = pads - care.marked_pads
    if pads == 1:
        which = "The pad has"
    else:
        which = f"{bare} of {pads} pads {'has' if bare == 1 else 'have'}"
    return (
        f"{which} no mark on record: nothing tells {'it' if bare == 1 else 'them'} from a pad "
        "tested before, so the test shows nothing of how pads differ."
    )


_WORDS: dict[Shortcut, Callable[[BenchSetUp, Cycle, Care], str]] = {
    Shortcut.LOADING_ONLY: _loading_only,
    Shortcut.NOT_CONDITIONED: _not_conditioned,
    Shortcut.FEW_STRETCHES: _few_stretches,
    Shortcut.TEMPERATURE_UNKNOWN: _temperature_unknown,
    Shortcut.UNMARKED_PADS: _unmarked_pads,
}


def _times(many: int) -> str:
    return {1: "once", 2: "twice"}.get(many, f"{many} times")


def reading_mistakes(
    set_up: BenchSetUp,
    readings: Sequence[CycleReading],
    cycle: Cycle,
    *,
    gauge_resolution_psi: float,
    tape_resolution_in: float,
) -> Iterator[Remark]:
    """Yield the mistakes that a test's own readings and set-up give away."""
    if are_columns_swapped(set_up, readings):
        yield (
            "Tape and gauge look swapped: the stretch would pass ",
            length(LONGEST_STRETCH_IN),
            ", and every gauge reading would do as a tape’s.",
        )
    elif is_tape_in_centimetres(set_up, cycle):
        yield (
            f"The tape looks read in centimetres, its datum of {set_up.tape_datum_in:g} in "
            "inches: so taken the readings lie on a line, as typed they do not.",
        )
    if set_up.end == CylinderEnd.ROD and set_up.cylinder.rod_in == 0.0:
        yield (
            "Pressure acts on the rod end and the stand’s rod is ",
            length(0.0),
            ": the force is figured on the whole bore, too much by the rod’s area. Give the stand "
            "its rod, or say that pressure acts on the blind end.",
        )
    yield from _at_rest(set_up, readings, gauge_resolution_psi)
    yield from _too_fine(
        "gauge", pressure, [each.gauge_psi for each in readings], gauge_resolution_psi, 0.0
    )
    yield from _too_fine(
        "tape", length, [each.tape_in for each in readings], tape_resolution_in, TYPED_WITHIN_IN
    )


def are_columns_swapped(set_up: BenchSetUp, readings: Sequence[CycleReading]) -> bool:
    """Say whether tape readings are no stretch of a pad while gauge readings would do for them."""
    if not readings:
        return False
    datum = set_up.tape_datum_in
    longest = max(each.tape_in for each in readings) - datum
    would_do = (
        all(0.0 <= each.gauge_psi * per_psi - datum <= LONGEST_STRETCH_IN for each in readings)
        for per_psi in TAPE_PER_GAUGE
    )
    return longest > LONGEST_STRETCH_IN and any(would_do)


def is_tape_in_centimetres(set_up: BenchSetUp, cycle: Cycle) -> bool:
    """Say whether tape readings make a line once taken as centimetres from a datum in inches.

    Where the datum was in centimetres too the line is as straight, and only the rate tells.
    """
    forces = [force for _, force in cycle.points]
    taken = [
        (stretch + set_up.tape_datum_in) * IN_PER_CM - set_up.tape_datum_in
        for stretch, _ in cycle.points
    ]
    if len(taken) < STRETCHES_NEEDED or min(taken) <= 0.0 or max(forces) == 0.0:
        return False
    as_typed = fit_rate([stretch for stretch, _ in cycle.points], forces)
    return (
        as_typed.linearity_error_pct > MIXED_UNITS_PCT
        and fit_rate(taken, forces).linearity_error_pct <= ONE_UNIT_PCT
    )


def _at_rest(
    set_up: BenchSetUp, readings: Sequence[CycleReading], resolution_psi: float
) -> Iterator[Remark]:
    zero_psi = set_up.gauge_zero_psi
    at_rest = [
        each.gauge_psi
        for each in readings
        if each.tape_in == set_up.tape_datum_in and each.branch == Branch.LOADING
    ]
    shown_psi = max(at_rest, default=zero_psi)
    if shown_psi - zero_psi > resolution_psi:
        yield (
            "With the tape at rest the gauge read ",
            pressure(shown_psi),
            ", and its zero is given as ",
            pressure(zero_psi),
            ": look at the gauge with no load on the pads, and read the tape there again.",
        )


def _too_fine(
    instrument: str,
    figure: Callable[[float], Figure],
    values: Sequence[float],
    resolution: float,
    typed_within: float,
) -> Iterator[Remark]:
    between = [
        each for each in dict.fromkeys(values) if not is_at_a_mark(each, resolution, typed_within)
    ]
    if between:
        more = len(between) - 1
        others = f" and {more} more" if more else ""
        lie = "lie" if more else "lies"
        yield (
            f"Finer than the {instrument} is read: ",
            figure(between[0]),
            f"{others} {lie} between marks of ",
            figure(resolution),
            f". Was it estimated, worked out, or read on another {instrument}? Type what was read.",
        )


def is_at_a_mark(value: float, resolution: float, typed_within: float = 0.0) -> bool:
    """Say whether a reading is a whole number of divisions, but for how it was typed.

    typed_within: how far, in the reading's own unit of measure, two typed decimals may be off.
    A reading of an instrument without divisions is at one.
    """
    if resolution <= 0.0:
        return True
    within = max(TYPED_WITHIN_MARK, typed_within / resolution)
    marks = value / resolution
    return abs(marks - round(marks)) <= min(within, MOST_WITHIN_MARK)


@dataclass(frozen=True)
class TestedCurve:
    """The load curve of one pad that a test found: its name in words, and of which pads.

    marks: of the pads in test, as they are compared; fewer where not all bear one.
    """

    __test__ = False  # A curve that was tested, not a test for pytest to collect.

    name: str
    curve: MonotoneCurve
    pads_in_test: int
    marks: frozenset[str] = frozenset()

    def is_of_the_pads_of(self, other: TestedCurve) -> bool:
        """Whether the two tests stretched the very same pads."""
        are_all_marked = len(self.marks) == self.pads_in_test == other.pads_in_test
        return are_all_marked and self.marks == other.marks


@dataclass(frozen=True)
class Difference:
    """By how much one test's force differs from another's at a stretch both reached.

    difference_pct: of the other's, positive where this test pulls more.
    within_pct: expanded, what gauges, tapes and cylinders of both explain.
    pads_within_pct: expanded, what pads that differ as the policy assumes explain with them.
    """

    other: TestedCurve
    stretch_in: float
    difference_pct: float
    within_pct: float
    pads_within_pct: float

    @property
    def e_n(self) -> float:
        """The difference over what the two measurements explain: beyond 1 they disagree."""
        if self.within_pct == 0.0:
            return math.inf if self.difference_pct else 0.0
        return abs(self.difference_pct) / self.within_pct


def difference(this: TestedCurve, other: TestedCurve, pad_spread_pct: float) -> Difference | None:
    """Hold a test against another of its lot, at the longest stretch that both reached.

    Forces and not rates: those of a bent lot depend on how far it was stretched. As E_n does it
    takes what the two are unsure of as having no cause in common, so that two tests on one stand
    differ by less than this lets them. None where the other shows no force there.
    """
    stretch_in = min(this.curve.tested_stretch_in, other.curve.tested_stretch_in)
    force, known = this.curve.force_lbf(stretch_in), other.curve.force_lbf(stretch_in)
    if known <= 0.0:
        return None
    doubts = [each.curve.standard_uncertainty_lbf(stretch_in) for each in (this, other)]
    within_pct = 100.0 * COVERAGE * math.hypot(*doubts) / known
    spread_pct = 0.0 if this.is_of_the_pads_of(other) else pad_spread_pct
    pads = [spread_pct / math.sqrt(each.pads_in_test) for each in (this, other)]
    return Difference(
        other=other,
        stretch_in=stretch_in,
        difference_pct=100.0 * (force - known) / known,
        within_pct=within_pct,
        pads_within_pct=math.hypot(within_pct, *(COVERAGE * each for each in pads)),
    )


def disagreement(
    this: TestedCurve,
    others: Sequence[TestedCurve],
    set_up: BenchSetUp,
    pad_spread_pct: float,
    typed_in: str = "us",
) -> Remark | None:
    """Return how a test disagrees with others of its lot, None where it agrees with all.

    Told of the one it disagrees with most, with the mistakes that would explain it. others: the
    newest first. typed_in: as `explain` has it.
    """
    found = [difference(this, other, pad_spread_pct) for other in others]
    apart = [each for each in found if each is not None and each.e_n > LARGEST_E_N]
    if not apart:
        return None
    worst = max(apart, key=lambda each: each.e_n)
    return in_a_row([_apart(worst, len(apart), len(others)), *_why(this, worst, set_up, typed_in)])


def _apart(worst: Difference, many: int, of: int) -> Remark:
    way = "more" if worst.difference_pct > 0.0 else "less"
    ratio = f" (E_n {worst.e_n:.1f})" if math.isfinite(worst.e_n) else ""
    rest = f" It disagrees with {many} of the lot’s {of} other tests." if of > 1 else ""
    return (
        "At ",
        length(worst.stretch_in),
        f" a pad pulls {abs(worst.difference_pct):.1f} % {way} than in {worst.other.name}, beyond "
        f"what gauge, tape and cylinder explain{ratio}.{rest}",
    )


def _why(
    this: TestedCurve, worst: Difference, set_up: BenchSetUp, typed_in: str
) -> Iterator[Remark]:
    rate = this.curve.force_lbf(worst.stretch_in) / worst.stretch_in
    known = worst.other.curve.force_lbf(worst.stretch_in) / worst.stretch_in
    leave = min(worst.within_pct / 100.0, 0.99)
    explanations = explain(
        rate,
        RateRange(known * (1.0 - leave), known * (1.0 + leave)),
        cylinder=set_up.cylinder,
        end=set_up.end,
        pads_in_test=set_up.pads_in_test,
        typed_in=typed_in,
    )
    if explanations:
        several = in_a_row((each.remark for each in explanations[:MOST_EXPLANATIONS]), "; or ")
        yield ("A mistake would explain it: ", *several, ".")
    if this.is_of_the_pads_of(worst.other):
        yield ("They are the same pads: one test is wrong, or the pads have changed since.",)
    elif abs(worst.difference_pct) > worst.pads_within_pct:
        yield (
            "Pads of a lot do not differ so by the yard’s policy: one test is wrong, or the pads "
            "have changed since.",
        )
    else:
        yield ("Pads may differ by so much: stretch one that was tested before to tell.",)


def cold_rubber(care: Care) -> Remark | None:
    """Return what is wrong with the temperature of the rubber; None where nothing is."""
    read_f = care.rubber_temperature_f
    if read_f is None or care.coldest_f <= read_f <= care.warmest_f:
        return None
    way = "colder" if read_f < care.coldest_f else "warmer"
    bound_f = care.coldest_f if read_f < care.coldest_f else care.warmest_f
    than = "stiffer" if read_f < care.coldest_f else "softer"
    from_celsius_f = read_f * 9.0 / 5.0 + 32.0
    celsius: Remark = (
        (
            " Read in °C and typed as °F it would be ",
            Figure(Measure.TEMPERATURE, from_celsius_f),
            ".",
        )
        if care.coldest_f <= from_celsius_f <= care.warmest_f
        else ()
    )
    return (
        "The rubber was at ",
        Figure(Measure.TEMPERATURE, read_f),
        f", {way} than the ",
        Figure(Measure.TEMPERATURE, bound_f),
        f" of the yard’s policy: it is {than} than at work, and what this test rates is stale.",
        *celsius,
    )


def bore_changed(set_up: BenchSetUp, before: BenchSetUp, name: str) -> Remark | None:
    """Return how the cylinder of a stand differs from an earlier test on it, else None."""
    now, then = set_up.cylinder, before.cylinder
    if now == then:
        return None
    more_pct = 100.0 * (now.area_in2(set_up.end) / then.area_in2(set_up.end) - 1.0)
    parts: list[Remark] = [
        (f"{part} ", length(new), ", ", length(old))
        for part, new, old in (
            ("bore", now.bore_in, then.bore_in),
            ("rod", now.rod_in, then.rod_in),
        )
        if new != old
    ]
    return (
        f"The stand’s cylinder is not what it was in {name} (",
        *in_a_row(parts, "; "),
        f" then): every force is {abs(more_pct):.1f} % {'more' if more_pct > 0.0 else 'less'} by "
        "it. Measure it, and correct the stand or the earlier test.",
    )
