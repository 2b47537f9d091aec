"""What one bench test leaves in doubt: the budget of its rate, and the doubt of its load curve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import fmean

from ratings.mechanics.arguments import not_negative, positive, reading_pairs, set_checked
from ratings.mechanics.bench import BenchSetUp, CylinderEnd
from ratings.mechanics.gauge import Grade, worst_error_psi
from ratings.mechanics.line_fit import SpringRate
from ratings.mechanics.load_curve import CurveDoubt, by_stretch, mean_forces
from ratings.mechanics.remarks import Figure, Measure, Remark, length, pressure
from ratings.mechanics.uncertainty import (
    Combined,
    Component,
    combine,
    rectangular,
    resolution,
    two_sided_factor,
    whole_degrees_of_freedom,
)


@dataclass(frozen=True)
class Instruments:
    """Gauge, tape and cylinder of a test, and how far each may be off.

    datum_half_width_in: how far the tape's datum may be off either way; None for half a
    division of the tape, which it was read to.
    bore_tolerance_in, rod_tolerance_in: ± of the diameters.
    """

    gauge_grade: str
    gauge_span_psi: float
    gauge_resolution_psi: float
    tape_resolution_in: float
    datum_half_width_in: float | None = None
    bore_tolerance_in: float = 0.0
    rod_tolerance_in: float = 0.0

    def __post_init__(self) -> None:
        set_checked(
            self,
            gauge_span_psi=positive("gauge_span_psi", self.gauge_span_psi, "psi"),
            gauge_resolution_psi=not_negative(
                "gauge_resolution_psi", self.gauge_resolution_psi, "psi"
            ),
            tape_resolution_in=not_negative("tape_resolution_in", self.tape_resolution_in, "in"),
            bore_tolerance_in=not_negative("bore_tolerance_in", self.bore_tolerance_in, "in"),
            rod_tolerance_in=not_negative("rod_tolerance_in", self.rod_tolerance_in, "in"),
        )
        if self.datum_half_width_in is not None:
            within = not_negative("datum_half_width_in", self.datum_half_width_in, "in")
            set_checked(self, datum_half_width_in=within)

    @property
    def datum_within_in(self) -> float:
        """How far the tape's datum may be off either way, in."""
        if self.datum_half_width_in is None:
            return self.tape_resolution_in / 2.0
        return self.datum_half_width_in


@dataclass(frozen=True)
class BudgetLine:
    """One cause of doubt.

    kind: "A" from the scatter of readings, "B" from what is known of an instrument.
    distribution: "normal" or "rectangular".
    source: where the figure comes from, for the reader of the budget.
    symbol: of the unit of measure. half_width, standard: in it; no half-width for type A.
    sensitivity: by how much the rate moves with one of them, lbf/in.
    contribution_lbf_in: standard × |sensitivity|.
    share: of the whole variance, 0 to 1.
    halved_by: each thing to do that would halve it; none where nothing would for certain.
    """

    name: str
    kind: str
    distribution: str
    source: Remark
    half_width: float | None
    symbol: str
    standard: float
    sensitivity: float
    contribution_lbf_in: float
    degrees_of_freedom: float
    share: float = 0.0
    halved_by: tuple[str, ...] = ()


SCATTER = "scatter of the readings"
# What a yard can do that halves lines of a budget, all those that name it at once.
MORE_READINGS = "reading every stretch four times as often"
FINER_GAUGE = "a gauge with divisions half as wide"
FINER_TAPE = "a tape with divisions half as wide"
CLOSER_DATUM = "setting the tape’s datum twice as close"
BETTER_GAUGE = "a gauge of half the error"
BETTER_CERTIFICATE = "a calibration of half the uncertainty"


@dataclass(frozen=True)
class Budget:
    """All lines, largest first, and what they come to together.

    degrees_of_freedom: effective, by Welch–Satterthwaite, not truncated.
    coverage_factor: two-sided Student's t of those degrees of freedom, truncated (GUM G.4.1).
    expanded_lbf_in: coverage factor × standard uncertainty.
    """

    lines: tuple[BudgetLine, ...]
    standard_lbf_in: float
    degrees_of_freedom: float
    coverage_factor: float
    expanded_lbf_in: float
    confidence: float


@dataclass(frozen=True)
class Improvement:
    """What one thing to do would give.

    line: the largest of those it halves, named by `halves`. halved_by: what to do.
    gain_lbf_in: off the expanded uncertainty.
    """

    line: BudgetLine
    halved_by: str
    halves: tuple[str, ...]
    standard_lbf_in: float
    expanded_lbf_in: float
    gain_lbf_in: float


def rate_budget(
    fit: SpringRate,
    stretch_in: Sequence[float],
    force_lbf: Sequence[float],
    set_up: BenchSetUp,
    instruments: Instruments,
    confidence: float = 0.95,
) -> Budget:
    """Return the budget of the rate k fitted to these readings of one pad.

    A pressure error δp that all readings share moves k by (A/n)·δp·Σx/Σx², one of the datum
    by k·δx·Σx/Σx², one of the bore D by 2k·δD/D, at the rod end 2k·D·δD/(D² − d²), and one of
    the rod by −2k·d·δd/(D² − d²). δp is the gauge's largest error by its grade; where the
    set-up has its certificate's correction, that certificate's uncertainty and the gauge's drift.
    Rounding strikes each reading for itself: k·u_x/√Σx² from the tape, (A/n)·u_p/√Σx² from the
    gauge. The scatter of the fit has some of that rounding in it; it is counted twice rather
    than not at all.

    confidence: two-sided. Raises ValueError for readings that don't match, a pressure beyond
    the gauge's range and a grade that doesn't exist.
    """
    stretches, forces = reading_pairs(stretch_in, force_lbf)
    sum_xx = math.fsum(x * x for x in stretches)
    if sum_xx == 0.0:
        raise ValueError("stretch_in is 0 in every reading: give at least one with stretch")
    lines = [
        _scatter(fit, stretches, forces),
        *_gauge(stretches, forces, sum_xx, set_up, instruments),
        *_tape(fit, stretches, sum_xx, instruments),
        *_cylinder(fit, set_up, instruments),
    ]
    return total(lines, confidence)


def total(lines: Sequence[BudgetLine], confidence: float = 0.95) -> Budget:
    """Return the budget that lines come to: sorted largest first, with their shares."""
    combined = _combined(lines)
    variance = combined.standard * combined.standard
    shared = [
        replace(
            line,
            share=line.contribution_lbf_in * line.contribution_lbf_in / variance
            if variance > 0.0
            else 0.0,
        )
        for line in lines
    ]
    factor = two_sided_factor(confidence, whole_degrees_of_freedom(combined.degrees_of_freedom))
    return Budget(
        lines=tuple(sorted(shared, key=lambda line: (-line.contribution_lbf_in, line.name))),
        standard_lbf_in=combined.standard,
        degrees_of_freedom=combined.degrees_of_freedom,
        coverage_factor=factor,
        expanded_lbf_in=factor * combined.standard,
        confidence=confidence,
    )


def improve_first(budget: Budget, factor: float = 0.5) -> Improvement | None:
    """Return what a yard can do that takes most off the expanded uncertainty.

    Every line it halves is halved at once: a finer tape sets the datum closer too, and more
    readings round less as well as scatter less. Nothing that can't be halved is promised. The
    effective degrees of freedom are found again; those of the scatter are left as they are,
    which promises less than more readings give. With few of them, less of another line may even
    widen the expanded uncertainty, since the scatter then weighs more: that is no improvement.

    factor: what each contribution is brought down to, as a share; half unless given.
    None where nothing would gain anything. Raises ValueError for a factor not below 1.
    """
    kept = not_negative("factor", factor, "")
    if kept >= 1.0:
        raise ValueError(f"factor is {kept:g}: give less than 1")
    ways = sorted({way for line in budget.lines for way in line.halved_by})
    tried = [_improved(budget, way, kept) for way in ways]
    best = max(tried, key=lambda each: each.gain_lbf_in, default=None)
    return best if best is not None and best.gain_lbf_in > 0.0 else None


def curve_doubt(
    stretch_in: Sequence[float],
    force_lbf: Sequence[float],
    set_up: BenchSetUp,
    instruments: Instruments,
    improvement: Improvement | None = None,
) -> CurveDoubt:
    """Return the doubt of the curve through the means of these readings of one pad.

    The gauge's largest error, or what its certificate leaves, and its rounding move the force,
    the datum and the tape's rounding the stretch, the bore (and the rod at the rod end) the
    force as a share of it; all type B. Rounding is taken as of one reading, however many there
    are. The scatter is type A, see mean_scatter_lbf.

    improvement: made before, with what it halves halved. More readings take nothing off the
    rounding, which is that of one.
    Raises ValueError as rate_budget does.
    """
    stretches, forces = reading_pairs(stretch_in, force_lbf)
    gauge = _gauge_doubts(forces, set_up, instruments)
    halves = set(improvement.halves) if improvement else set()
    if improvement and improvement.halved_by == MORE_READINGS:
        halves &= {SCATTER}

    def left(name: str, standard: float) -> float:
        return standard / 2.0 if name in halves else standard

    return CurveDoubt(
        force_lbf=set_up.lbf_per_psi
        * math.hypot(
            *(left(each.name, each.standard_psi) for each in gauge),
            left("gauge resolution", resolution(instruments.gauge_resolution_psi)),
        ),
        stretch_in=math.hypot(
            left("tape datum", rectangular(instruments.datum_within_in)),
            left("tape resolution", resolution(instruments.tape_resolution_in)),
        ),
        share=math.hypot(
            *(
                left(each.name, rectangular(each.within_in) * each.per_in)
                for each in _diameters(set_up, instruments)
            )
        ),
        scatter_lbf=left(SCATTER, mean_scatter_lbf(stretches, forces)),
    )


def mean_scatter_lbf(stretch_in: Sequence[float], force_lbf: Sequence[float]) -> float:
    """Return the standard deviation of a mean of readings at one stretch, lbf.

    With several readings at some stretch: their deviations from their means, pooled, over the
    root of the fewest readings that any stretch has. With one at each: by how much a mean
    departs from the straight line between its neighbours (Gasser, Sroka and
    Jennen-Steinmetz 1986), which takes the bend of the curve for scatter too, never too little.
    0 where there is a single stretch and a single reading: nothing can be seen.
    """
    stretches, forces = reading_pairs(stretch_in, force_lbf)
    groups = [group for stretch, group in by_stretch(stretches, forces).items() if stretch > 0.0]
    freedom = sum(len(group) - 1 for group in groups)
    if freedom == 0:
        return _from_neighbours(mean_forces(stretches, forces))
    squares = math.fsum(
        (force - mean) * (force - mean)
        for group in groups
        for mean in [fmean(group)]
        for force in group
    )
    return math.sqrt(squares / freedom / min(map(len, groups)))


def mean_scatter_freedom(stretch_in: Sequence[float], force_lbf: Sequence[float]) -> float:
    """Return the degrees of freedom of mean_scatter_lbf; infinite where nothing can be seen.

    With several readings at some stretch, those beyond the first at each. Else of the m departures
    from neighbours, which share readings: m²/Σρ² over every two of them, ρ their correlation
    (Satterthwaite), which for even steps is near half of m.
    """
    stretches, forces = reading_pairs(stretch_in, force_lbf)
    groups = by_stretch(stretches, forces).items()
    freedom = sum(len(group) - 1 for stretch, group in groups if stretch > 0.0)
    if freedom:
        return float(freedom)
    read = [0.0, *(stretch for stretch, _ in groups if stretch > 0.0)]
    rows = []
    for place, (x0, x1, x2) in enumerate(zip(read, read[1:], read[2:], strict=False)):
        near, far = (x2 - x1) / (x2 - x0), (x1 - x0) / (x2 - x0)
        size = math.sqrt(near * near + far * far + 1.0)
        rows.append({place: near / size, place + 1: -1.0 / size, place + 2: far / size})
    if not rows:
        return math.inf
    squares = math.fsum(
        math.fsum(part * other.get(place, 0.0) for place, part in row.items()) ** 2
        for row in rows
        for other in rows
    )
    return len(rows) * len(rows) / squares


def _combined(lines: Sequence[BudgetLine]) -> Combined:
    return combine(
        Component(line.name, line.contribution_lbf_in, line.degrees_of_freedom) for line in lines
    )


def _improved(budget: Budget, way: str, kept: float) -> Improvement:
    halved = [line for line in budget.lines if way in line.halved_by]
    lines = [
        replace(
            line,
            standard=kept * line.standard,
            half_width=None if line.half_width is None else kept * line.half_width,
            contribution_lbf_in=kept * line.contribution_lbf_in,
        )
        if line in halved
        else line
        for line in budget.lines
    ]
    after = total(lines, budget.confidence)
    return Improvement(
        line=halved[0],
        halved_by=way,
        halves=tuple(line.name for line in halved),
        standard_lbf_in=after.standard_lbf_in,
        expanded_lbf_in=after.expanded_lbf_in,
        gain_lbf_in=budget.expanded_lbf_in - after.expanded_lbf_in,
    )


def _scatter(fit: SpringRate, stretches: list[float], forces: list[float]) -> BudgetLine:
    return BudgetLine(
        name=SCATTER,
        kind="A",
        distribution="normal",
        source=(f"standard error of the fit, {fit.degrees_of_freedom + 1} readings",),
        half_width=None,
        symbol="lbf/in",
        standard=fit.standard_error_lbf_in,
        sensitivity=1.0,
        contribution_lbf_in=fit.standard_error_lbf_in,
        degrees_of_freedom=fit.degrees_of_freedom,
        halved_by=() if _is_a_bend(fit, stretches, forces) else (MORE_READINGS,),
    )


def _is_a_bend(fit: SpringRate, stretches: list[float], forces: list[float]) -> bool:
    """Say whether what the line leaves over is a bend of the curve, which no reading takes away.

    So it is where f = kx + cx² leaves less than half as large a standard deviation. Fewer than
    three readings tell no scatter from a bend.
    """
    many = len(stretches)
    if many < 3:
        return True
    squares, cubes, fourths = (math.fsum(x**power for x in stretches) for power in (2, 3, 4))
    residuals = [f - fit.rate_lbf_in * x for x, f in zip(stretches, forces, strict=True)]
    # The residuals hold nothing of x any more; what of them x² holds beyond x.
    across = [x * x - cubes / squares * x for x in stretches]
    size = fourths - cubes * cubes / squares
    if size <= 1e-12 * fourths:
        return False
    along = math.fsum(a * r for a, r in zip(across, residuals, strict=True))
    left = math.fsum(r * r for r in residuals) - along * along / size
    return max(left, 0.0) / (many - 2) < 0.25 * fit.residual_sd_lbf * fit.residual_sd_lbf


def _gauge(
    stretches: list[float],
    forces: list[float],
    sum_xx: float,
    set_up: BenchSetUp,
    instruments: Instruments,
) -> list[BudgetLine]:
    step_psi = instruments.gauge_resolution_psi
    sensitivity = set_up.lbf_per_psi * math.fsum(stretches) / sum_xx
    return [
        *(each.line(sensitivity) for each in _gauge_doubts(forces, set_up, instruments)),
        _rectangular(
            "gauge resolution",
            ("read to ", pressure(step_psi), ", each reading for itself"),
            step_psi / 2.0,
            "psi",
            set_up.lbf_per_psi / math.sqrt(sum_xx),
            (FINER_GAUGE, MORE_READINGS),
        ),
    ]


@dataclass(frozen=True)
class _GaugeDoubt:
    """A cause for which all readings of a gauge may be off alike, ± psi, and its standard."""

    name: str
    source: Remark
    distribution: str
    half_width_psi: float
    standard_psi: float
    halved_by: tuple[str, ...] = ()

    def line(self, sensitivity: float) -> BudgetLine:
        return BudgetLine(
            name=self.name,
            kind="B",
            distribution=self.distribution,
            source=self.source,
            half_width=self.half_width_psi,
            symbol="psi",
            standard=self.standard_psi,
            sensitivity=sensitivity,
            contribution_lbf_in=self.standard_psi * abs(sensitivity),
            degrees_of_freedom=math.inf,
            halved_by=self.halved_by,
        )


def _gauge_doubts(
    forces_lbf: Sequence[float], set_up: BenchSetUp, instruments: Instruments
) -> list[_GaugeDoubt]:
    """Return what a gauge's readings may all be off by.

    By its grade; or by its certificate's uncertainty and its drift between certificates where
    that is known, and then by its grade only at pressures the certificate does not reach.
    """
    correction = set_up.correction
    graded: Remark = (
        f"grade {instruments.gauge_grade} of ",
        Figure(Measure.PRESSURE, instruments.gauge_span_psi, is_rounded=True),
    )
    if correction is None:
        error_psi = largest_gauge_error_psi(forces_lbf, set_up, instruments)
        better = _better_gauge(forces_lbf, set_up, instruments)
        return [_within("gauge accuracy", graded, error_psi, better)]
    expanded_psi, factor = correction.expanded_psi, correction.coverage_factor
    lines = [
        _GaugeDoubt(
            "gauge certificate",
            ("corrected; ± ", pressure(expanded_psi), f" with k = {factor:g} by the certificate"),
            "normal",
            expanded_psi,
            correction.standard_psi,
            (BETTER_CERTIFICATE,),
        )
    ]
    if correction.drift_psi is not None:
        drift_psi = correction.drift_psi
        drift = Figure(Measure.PRESSURE, drift_psi, is_rounded=True)
        found: Remark = ("the certificate before it was off by ", drift, " when its time was up")
        lines.append(_within("gauge drift", found, drift_psi))
    beyond = [
        force
        for force in forces_lbf
        if force > 0.0 and not correction.covers(force / set_up.lbf_per_psi)
    ]
    if beyond:
        error_psi = largest_gauge_error_psi(beyond, set_up, instruments)
        grade = (*graded, ", at pressures that no point of the certificate reaches")
        lines.append(_within("gauge beyond its certificate", grade, error_psi))
    return lines


def _within(
    name: str, source: Remark, half_width_psi: float, halved_by: tuple[str, ...] = ()
) -> _GaugeDoubt:
    standard_psi = rectangular(half_width_psi)
    return _GaugeDoubt(name, source, "rectangular", half_width_psi, standard_psi, halved_by)


def _better_gauge(
    forces_lbf: Sequence[float], set_up: BenchSetUp, instruments: Instruments
) -> tuple[str, ...]:
    """Say that a better gauge halves the error, where there is one: finer, or of half the span."""
    half_psi = largest_gauge_error_psi(forces_lbf, set_up, instruments) / 2.0
    span_psi = instruments.gauge_span_psi
    most_psi = set_up.gauge_zero_psi + max(forces_lbf, default=0.0) / set_up.lbf_per_psi
    kinds = [(grade, span_psi) for grade in Grade]
    if most_psi <= span_psi / 2.0:
        kinds.append((Grade(instruments.gauge_grade), span_psi / 2.0))
    for grade, span in kinds:
        other = replace(instruments, gauge_grade=grade, gauge_span_psi=span)
        if largest_gauge_error_psi(forces_lbf, set_up, other) <= half_psi * (1.0 + 1e-9):
            return (BETTER_GAUGE,)
    return ()


def largest_gauge_error_psi(
    force_lbf: Sequence[float], set_up: BenchSetUp, instruments: Instruments
) -> float:
    """Return the largest error the gauge may have at any pressure of these forces per pad, ± psi.

    Raises ValueError for a pressure beyond the gauge's range.
    """
    span_psi = instruments.gauge_span_psi
    # Back from the force, a full-scale reading may come out a hair beyond the span.
    pressures = [
        _without_rounding(set_up.gauge_zero_psi + force / set_up.lbf_per_psi, span_psi)
        for force in force_lbf
    ]
    if set_up.correction is not None:
        # The gauge showed no more than its span, though what it showed was worth more.
        pressures = [min(pressure, span_psi) for pressure in pressures]
    return max(
        (
            worst_error_psi(instruments.gauge_grade, instruments.gauge_span_psi, pressure)
            for pressure in pressures
        ),
        default=0.0,
    )


def _without_rounding(pressure_psi: float, span_psi: float) -> float:
    return span_psi if span_psi < pressure_psi <= span_psi * (1.0 + 1e-12) else pressure_psi


def _tape(
    fit: SpringRate, stretches: list[float], sum_xx: float, instruments: Instruments
) -> list[BudgetLine]:
    rate, within_in = fit.rate_lbf_in, instruments.datum_within_in
    step_in = instruments.tape_resolution_in
    return [
        _rectangular(
            "tape datum",
            ("set within ", length(within_in)),
            within_in,
            "in",
            rate * math.fsum(stretches) / sum_xx,
            (FINER_TAPE if instruments.datum_half_width_in is None else CLOSER_DATUM,),
        ),
        _rectangular(
            "tape resolution",
            ("read to ", length(step_in), ", each reading for itself"),
            step_in / 2.0,
            "in",
            rate / math.sqrt(sum_xx),
            (FINER_TAPE, MORE_READINGS),
        ),
    ]


@dataclass(frozen=True)
class _Diameter:
    """A diameter of the cylinder, how far it may be off, and what that does to the area.

    per_in: share of the area that an inch of this diameter adds: 2D/(D² − d²) of the bore,
    −2d/(D² − d²) of the rod at the rod end, and 2/D of the bore at the blind end.
    """

    name: str
    size_in: float
    within_in: float
    per_in: float


def _diameters(set_up: BenchSetUp, instruments: Instruments) -> list[_Diameter]:
    bore, rod = set_up.cylinder.bore_in, set_up.cylinder.rod_in
    is_ring = set_up.end == CylinderEnd.ROD and rod > 0.0
    ring = bore * bore - (rod * rod if is_ring else 0.0)
    found = [_Diameter("bore", bore, instruments.bore_tolerance_in, 2.0 * bore / ring)]
    if is_ring:
        found.append(_Diameter("rod", rod, instruments.rod_tolerance_in, -2.0 * rod / ring))
    return found


def _cylinder(fit: SpringRate, set_up: BenchSetUp, instruments: Instruments) -> list[BudgetLine]:
    return [
        _rectangular(
            each.name,
            (length(each.size_in), " within ", length(each.within_in)),
            each.within_in,
            "in",
            fit.rate_lbf_in * each.per_in,
            (f"measuring the {each.name} to half the tolerance",),
        )
        for each in _diameters(set_up, instruments)
    ]


def _rectangular(
    name: str,
    source: Remark,
    half_width: float,
    symbol: str,
    sensitivity: float,
    halved_by: tuple[str, ...],
) -> BudgetLine:
    standard = rectangular(half_width)
    return BudgetLine(
        name=name,
        kind="B",
        distribution="rectangular",
        source=source,
        half_width=half_width,
        symbol=symbol,
        standard=standard,
        sensitivity=sensitivity,
        contribution_lbf_in=standard * abs(sensitivity),
        degrees_of_freedom=math.inf,
        halved_by=halved_by,
    )


def _from_neighbours(means: list[tuple[float, float]]) -> float:
    squares = []
    for (x0, f0), (x1, f1), (x2, f2) in zip(means, means[1:], means[2:], strict=False):
        near, far = (x2 - x1) / (x2 - x0), (x1 - x0) / (x2 - x0)
        departure = near * f0 + far * f2 - f1
        squares.append(departure * departure / (near * near + far * far + 1.0))
    return math.sqrt(math.fsum(squares) / len(squares)) if squares else 0.0
