"""Everything a bench test's readings come to: branches, fit, checks, curve and budget."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from fleet.quantities import Quantity
from ratings.mechanics.bench import (
    Cycle,
    CycleReading,
    Cylinder,
    Hysteresis,
    ReadingError,
    ReducedReading,
    hysteresis,
    reduce_cycle,
)
from ratings.mechanics.budget import (
    Budget,
    BudgetLine,
    Improvement,
    curve_doubt,
    improve_first,
    rate_budget,
)
from ratings.mechanics.gauge import gauge_suspicion, is_below_a_quarter
from ratings.mechanics.line_fit import (
    CurvatureCheck,
    Outlier,
    SpringRate,
    ZeroCheck,
    curvature_check,
    find_outliers,
    fit_line,
    fit_rate,
    zero_check,
)
from ratings.mechanics.load_curve import (
    MonotoneCurve,
    bend_pct,
    forces_at_quarters,
    monotone_curve,
)
from ratings.mechanics.mistakes import Lack, reading_mistakes
from ratings.mechanics.plausibility import Explanation, RateRange, explain, plausible_rates
from ratings.mechanics.remarks import (
    Figure,
    Measure,
    Refused,
    Remark,
    in_a_row,
    length,
    pressure,
)
from ratings.models import BenchTest
from ratings.models.bench import OnAStand
from ratings.remarks import remark_words


@dataclass(frozen=True)
class Plausibility:
    """The rates the rubber allows, whether the tested one is among them, and if not why not."""

    rates: RateRange
    is_plausible: bool
    explanations: tuple[Explanation, ...]


def plausibility_of(
    test: BenchTest, rate_lbf_in: float, typed_in: str = "us"
) -> Plausibility | None:
    """Hold a test's rate against its lot's rubber; None where that is not on record.

    typed_in: the units it is taken to have been typed in, for the mistakes that would explain it.
    """
    lot = test.lot
    hardness, area_in2 = lot.hardness_shore_a, lot.bonded_area_in2
    thickness_in = lot.rubber_thickness_in
    if hardness is None or area_in2 is None or thickness_in is None:
        return None
    try:
        rates = plausible_rates(hardness, area_in2, thickness_in)
    except ValueError:
        # Softer or harder than the published table goes: nothing to hold it against.
        return None
    explanations = explain(
        rate_lbf_in,
        rates,
        cylinder=Cylinder(test.bore_in, test.rod_in),
        end=test.end,
        pads_in_test=test.pads_in_test,
        typed_in=typed_in,
    )
    return Plausibility(rates, rates.holds(rate_lbf_in), explanations)


# No pad carries this. Beyond it eighty pads would pull more than the mechanics take.
MOST_FORCE_LBF = 1_000_000.0
# A stretch that takes less is no test of a pad, and its figures are too small to draw.
LEAST_FORCE_LBF = 1.0


@dataclass(frozen=True)
class ToldLine:
    """A line of a budget as a reader is told it: where it comes from, and its figures."""

    line: BudgetLine
    source: str
    standard: str
    sensitivity: str
    contribution: str


_BY_SYMBOL = {"psi": Quantity.PRESSURE, "in": Quantity.LENGTH, "lbf/in": Quantity.RATE}


def _told(line: BudgetLine, system: str) -> ToldLine:
    quantity, rate = _BY_SYMBOL[line.symbol], Quantity.RATE
    # Of a rate by a rate it is a plain number, in any units.
    for_one = rate.shown(line.sensitivity, system) / quantity.scale(system).factor
    return ToldLine(
        line=line,
        source=remark_words(line.source, system),
        standard=f"{quantity.shown(line.standard, system):.4g} {quantity.symbol(system)}",
        sensitivity=f"{for_one:.4g} {rate.symbol(system)} per {quantity.symbol(system)}",
        contribution=rate.words(line.contribution_lbf_in, system, 3),
    )


@dataclass(frozen=True)
class Reduction:
    """What a test comes to. None where there are too few readings to tell.

    curvature: whether they bend; zero: whether their line misses rest, where they don't.
    warnings: all there is to doubt. lacks: the shortcuts it took, whose words are among them;
    known once it was held against its lot (`LotTests.compared`).
    """

    measured: tuple[CycleReading, ...]
    cycle: Cycle
    fit: SpringRate
    curve: MonotoneCurve
    curvature: CurvatureCheck | None
    zero: ZeroCheck | None
    outliers: tuple[Outlier, ...]
    hysteresis: Hysteresis | None
    budget: Budget
    improvement: Improvement | None
    warnings: tuple[Remark, ...]
    lacks: tuple[Lack, ...] = ()

    @property
    def mistakes(self) -> list[Remark]:
        """The warnings but for the shortcuts it took."""
        short = {(each.words,) for each in self.lacks}
        return [remark for remark in self.warnings if remark not in short]

    def told_budget(self, system: str) -> list[ToldLine]:
        """Return the lines of the budget in the reader's units."""
        return [_told(line, system) for line in self.budget.lines]

    @property
    def curve_uncertainty(self) -> list[tuple[float, float, float]]:
        """(stretch in, force lbf, standard uncertainty lbf) of the load curve at each knot."""
        return [
            (knot.stretch_in, knot.force_lbf, self.curve.standard_uncertainty_lbf(knot.stretch_in))
            for knot in self.curve.knots[1:]
        ]

    @property
    def bend_pct(self) -> float:
        """How far the load curve departs from rate × stretch at the stretches used, % of force."""
        return bend_pct(self.curve, self.fit.rate_lbf_in, self.curve.tested_stretch_in)

    @property
    def quarters(self) -> tuple[tuple[float, float], ...]:
        """(stretch in, force lbf of one pad) at each quarter of the tested stretch."""
        return forces_at_quarters(self.curve)

    @property
    def readings(self) -> tuple[ReducedReading, ...]:
        return self.cycle.readings

    @property
    def rows(self) -> list[tuple[CycleReading, ReducedReading]]:
        """Each reading as entered beside what it comes to, by run, branch and stretch."""
        rows = list(zip(self.measured, self.cycle.readings, strict=True))
        return sorted(rows, key=lambda row: (row[0].run, row[0].branch, row[1].stretch_in))

    @property
    def points(self) -> tuple[tuple[float, float], ...]:
        """(stretch in, force lbf) of one pad, as the rate is fitted to."""
        return self.cycle.points


def energy_lost(found: Hysteresis, system: str) -> tuple[float, str]:
    """Return what one pad loses in a cycle, and its unit: in·lbf, or J."""
    if system == "us":
        return found.energy_lost_in_lbf, "in·lbf"
    newtons = Quantity.PAD_FORCE.shown(found.energy_lost_in_lbf, system)
    return newtons * Quantity.LENGTH.shown(1.0, system) / 1000.0, "J"


def residual_words(outlier: Outlier) -> str:
    """Return a studentized residual in words; it has no end where all others lie on one line."""
    if math.isinf(outlier.studentized):
        return "beyond measure, since all others lie on one line"
    return f"{outlier.studentized:.1f}"


def _outliers(
    stretch_in: Sequence[float], force_lbf: Sequence[float], fit: SpringRate, division_lbf: float
) -> tuple[Outlier, ...]:
    """Return the readings that stand out by more than the gauge can show.

    One division of the gauge is no fault, however well the others agree.
    """
    return tuple(
        each
        for each in find_outliers(stretch_in, force_lbf)
        if abs(each.force_lbf - fit.rate_lbf_in * each.stretch_in) > division_lbf
    )


def reduce_test(
    test: BenchTest, readings: Sequence[CycleReading], linearity_limit_pct: float
) -> Reduction:
    """Reduce the readings of a test, saved or not.

    Raises ValueError in the tester's words where they can't be: ReadingError where one
    reading is to blame.
    """
    set_up, instruments = test.set_up, test.instruments
    refuse_beyond_range(test, readings)
    cycle = reduce_cycle(set_up, readings, test.gauge_resolution_psi)
    stretch_in = [stretch for stretch, _ in cycle.points]
    force_lbf = [force for _, force in cycle.points]
    _refuse_impossible_force(force_lbf)
    refuse_single_stretch([each.stretch_in for each in cycle.readings])
    fit = fit_rate(stretch_in, force_lbf, linearity_limit_pct)
    budget = rate_budget(fit, stretch_in, force_lbf, set_up, instruments)
    curvature = _curvature(stretch_in, force_lbf)
    zero = _zero(stretch_in, force_lbf, curvature)
    division_lbf = set_up.lbf_per_psi * test.gauge_resolution_psi
    outliers = _outliers(stretch_in, force_lbf, fit, division_lbf)
    doubt = curve_doubt(stretch_in, force_lbf, set_up, instruments)
    return Reduction(
        measured=tuple(readings),
        cycle=cycle,
        fit=fit,
        curve=replace(monotone_curve(stretch_in, force_lbf), doubt=doubt),
        curvature=curvature,
        zero=zero,
        outliers=outliers,
        hysteresis=hysteresis(cycle.pairs) if cycle.pairs else None,
        budget=budget,
        improvement=improve_first(budget),
        warnings=tuple(
            _warnings(
                test,
                readings,
                zero,
                _misread_at_rest_in(stretch_in, force_lbf, curvature),
                outliers,
                [cycle.readings[i].stretch_in for i in cycle.left_out],
            )
        )
        + tuple(
            reading_mistakes(
                set_up,
                readings,
                cycle,
                gauge_resolution_psi=test.gauge_resolution_psi,
                tape_resolution_in=test.tape_resolution_in,
            )
        ),
    )


def refuse_beyond_range(test: OnAStand, readings: Sequence[CycleReading]) -> None:
    """Raise ReadingError for a reading that its gauge can't have shown."""
    for place, reading in enumerate(readings):
        if reading.gauge_psi > test.gauge_span_psi:
            raise ReadingError(
                place,
                "gauge_psi",
                "gauge ",
                pressure(reading.gauge_psi),
                " is beyond the gauge's range of ",
                _span(test),
                ": read it again, or say which gauge was used",
            )


def _span(test: OnAStand) -> Figure:
    """How far its gauge reads, as it is shown wherever the gauge is."""
    return Figure(Measure.PRESSURE, test.gauge_span_psi, is_rounded=True)


def refuse_single_stretch(stretch_in: Sequence[float]) -> None:
    """Raise ValueError where nothing was read at a second stretch; rest is none."""
    stretched = {stretch for stretch in stretch_in if stretch > 0.0}
    if len(stretch_in) < 2:
        return
    if not stretched:
        raise Refused("the stretch is 0 in every reading: read at two stretches or more")
    if len(stretched) == 1:
        raise Refused(
            "every reading is at one stretch, ",
            length(stretched.pop()),
            ": read at two or more, or nothing tells whether the pads are linear; a reading at "
            "rest tells nothing of it",
        )


def _refuse_impossible_force(force_lbf: Sequence[float]) -> None:
    most = max(force_lbf, default=0.0)
    if most > MOST_FORCE_LBF:
        raise Refused(
            "the force on one pad is ",
            Figure(Measure.FORCE, most, is_rounded=True),
            ": give readings that come to no more than ",
            Figure(Measure.FORCE, MOST_FORCE_LBF, is_rounded=True),
            ", or correct the stand's bore",
        )
    if 0.0 < most < LEAST_FORCE_LBF:
        raise Refused(
            "the force on one pad is ",
            Figure(Measure.FORCE, most, is_rounded=True),
            " at the most: give readings that come to ",
            Figure(Measure.FORCE, LEAST_FORCE_LBF, is_rounded=True),
            " or more, or correct the gauge's zero",
        )


def _curvature(stretch_in: Sequence[float], force_lbf: Sequence[float]) -> CurvatureCheck | None:
    stretched = [x for x in stretch_in if x > 0.0]
    if len(stretched) < 3 or len(set(stretched)) < 2:
        return None
    return curvature_check(stretch_in, force_lbf)


def _zero(
    stretch_in: Sequence[float], force_lbf: Sequence[float], curvature: CurvatureCheck | None
) -> ZeroCheck | None:
    """Return the check of the zero; None with too few readings, and where they bend.

    A bent load curve misses rest by its bend, whatever the tape read there.
    """
    if len(stretch_in) < 3 or len(set(stretch_in)) < 2:
        return None
    if curvature is not None and curvature.is_significant:
        return None
    return zero_check(fit_line(stretch_in, force_lbf))


def _misread_at_rest_in(
    stretch_in: Sequence[float], force_lbf: Sequence[float], curvature: CurvatureCheck | None
) -> float | None:
    """Return what tape misread at rest would bend readings as these bend, in.

    None where they don't bend, and where a bend of the pads explains them better.
    """
    if curvature is None or not curvature.is_significant:
        return None
    line = fit_line(stretch_in, force_lbf)
    squares = line.residual_sd * line.residual_sd * line.degrees_of_freedom
    found = zero_check(line)
    explains = squares <= curvature.squares_lbf2 and found.is_significant
    return found.datum_off_in if explains else None


def _warnings(
    test: BenchTest,
    readings: Sequence[CycleReading],
    zero: ZeroCheck | None,
    misread_at_rest_in: float | None,
    outliers: Sequence[Outlier],
    left_out: Sequence[float],
) -> Iterator[Remark]:
    if zero and zero.is_significant and zero.datum_off_in is not None:
        yield (
            "The fitted line misses rest by more than the readings scatter, as it would with a "
            "tape misread at rest by ",
            Figure(Measure.LENGTH, abs(zero.datum_off_in), is_rounded=True),
            ". Read tape and gauge at rest again.",
        )
    if misread_at_rest_in is not None:
        yield (
            "The readings bend, no more than a tape misread at rest by ",
            Figure(Measure.LENGTH, abs(misread_at_rest_in), is_rounded=True),
            " would bend them. Read tape and gauge at rest again; as they stand, the load curve is "
            "bent.",
        )
    for outlier in outliers:
        yield (
            "The reading at ",
            length(outlier.stretch_in),
            " stands out from the rest (studentized residual "
            f"{residual_words(outlier)}, limit {outlier.limit:.1f}). It counts like the others: "
            "read it again if you can.",
        )
    if left_out:
        yield (
            "Read on one branch only, and so counted for nothing: ",
            *in_a_row([(length(stretch_in),) for stretch_in in left_out], ", "),
            ". Read every stretch on both branches, the top one too, or the lot is rated less far "
            "than it went.",
        )
    highest = max((each.gauge_psi for each in readings), default=0.0)
    if is_below_a_quarter(test.gauge_span_psi, highest):
        yield (
            "The gauge never passed a quarter of its ",
            _span(test),
            ": its error weighs heavy there. A gauge of less span would tell more.",
        )
    suspicion = gauge_suspicion([each.gauge_psi for each in readings], test.gauge_span_psi)
    if suspicion is not None:
        yield (f"These readings look like {suspicion.symbol}, not psi: {suspicion.why}.",)
    if not test.is_for_rating:
        yield (
            "Not for rating: the gauge was not in calibration that day. The test is kept on "
            "record and rates nothing.",
        )
