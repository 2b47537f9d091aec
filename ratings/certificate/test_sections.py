"""The sections on one test: how it was made, its readings, and what they come to."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date

from reportlab.platypus import Flowable, Spacer, Table

from fleet.dates import day_words, moment_words
from fleet.quantities import Quantity, plain_number
from fleet.signers import signer_words
from ratings.bench.reduction import Reduction, energy_lost, plausibility_of, residual_words
from ratings.certificate.facts import Certificate
from ratings.certificate.figures import Units, significant
from ratings.certificate.layout import FORMULA, MOST_IN_ONE, SECTION, Fact, facts_in_pairs, folded
from ratings.drawing.load_graph import LoadGraphFigures, draw_load_graph
from ratings.drawing.pdf import DrawingFlowable
from ratings.mechanics.gauge import is_below_a_quarter
from ratings.mechanics.load_curve import MonotoneCurve
from ratings.models import BenchTest
from ratings.paper.style import SMALL, WIDTH, cells, paragraph

UNKNOWN = "not on record"


def set_up_section(certificate: Certificate, test: BenchTest) -> Iterator[Flowable]:
    units = certificate.units
    yield paragraph(f"Test {test.pk}: where, when and how", SECTION)
    yield facts_in_pairs(list(_set_up(test, units)))
    if test.note:
        yield paragraph(f"Note: {test.note}", SMALL)
    corrected_by = getattr(test, "corrected_by", None)
    if corrected_by is not None:
        yield paragraph(f"Test {test.pk} was corrected later by test {corrected_by.pk}.", bold=True)


def _set_up(test: BenchTest, units: Units) -> Iterator[Fact]:
    set_in, warmth = test.permanent_set_in, test.rubber_temperature_f
    in_calibration = "in calibration" if test.is_for_rating else "NOT in calibration"
    yield "Yard and stand", f"{test.stand.yard.name}, {test.stand.name}"
    yield "Tested", f"{moment_words(test.tested_at)} by {signer_words(test)}"
    yield "Witness", test.witness or "none named"
    yield "Photo of set-up", "on record" if test.photo else "none"
    yield "Pads in test", f"{test.pads_in_test}: {_pads_words(test)}"
    yield "Arrangement", test.arrangement or UNKNOWN
    yield "Cylinder end", test.get_end_display()
    yield "Bore", _within(test.bore_in, test.bore_tolerance_in, units)
    if test.rod_in:
        yield "Rod", _within(test.rod_in, test.rod_tolerance_in, units)
    yield "Bore measured", _day(test.bore_measured_on)
    yield (
        "Gauge",
        f"{test.gauge.mark}, 0 to {units.pressure_words(test.gauge_span_psi)}, grade "
        f"{test.gauge_grade} (ASME B40.100), read to "
        f"{units.pressure_words(test.gauge_resolution_psi)}",
    )
    yield (
        "Calibration",
        f"certificate {test.gauge_certificate or UNKNOWN}; on "
        f"{_day(test.gauge_calibrated_on)}, due {_day(test.gauge_due_on)}; "
        f"{in_calibration} on the day of the test",
    )
    yield "Gauge zero p₀", units.pressure_words(test.gauge_zero_psi)
    yield (
        "Tape",
        f"{test.tape.mark}, read to {units.length_words(test.tape_resolution_in)}; "
        + _calibration(test.tape_certificate, test.tape_calibrated_on, test.tape_due_on),
    )
    yield "Tape datum", units.length_words(test.tape_datum_in)
    yield "Conditioning", f"{test.conditioning_cycles} cycles before the first reading"
    yield (
        "Rubber temperature",
        UNKNOWN if warmth is None else Quantity.TEMPERATURE.words(warmth, units.system),
    )
    if test.thermometer is not None:
        dates = test.thermometer_calibrated_on, test.thermometer_due_on
        yield "Thermometer", f"{test.thermometer.mark}; {_calibration('', *dates)}"
    yield "Permanent set", "not taped" if set_in is None else units.length_words(set_in, 3)


def _pads_words(test: BenchTest) -> str:
    """Name each pad as far as anything was said of it."""
    words = []
    for pad in test.pads.all():
        source = pad.origin or "origin not on record"
        if pad.housing is not None:
            source += f", {pad.housing.mark}"
            if pad.position:
                source += f" {pad.side}{pad.position}"
        if pad.hours is not None:
            source += f", {pad.hours:g} h"
        words.append(f"{pad.mark or 'no mark'} ({source})")
    return "; ".join(words) or "no marks on record"


def _calibration(certificate: str, on: date | None, due: date | None) -> str:
    """Return how a tool stood with its calibration when it was read."""
    if on is None:
        return "calibration not on record"
    number = f"certificate {certificate}, " if certificate else ""
    return f"{number}calibrated {day_words(on)}, due {_day(due)}"


def _within(diameter_in: float, tolerance_in: float, units: Units) -> str:
    return f"{units.length_words(diameter_in, 6)} ± {units.length_words(tolerance_in, 3)}"


def _day(day: date | None) -> str:
    return UNKNOWN if day is None else f"{day_words(day)}"


# Its lettering is made for a screen: drawn larger and brought down to the paper.
SCALE = 0.6
CURVE_PIECES = 48


def load_graph(
    certificate: Certificate, reduction: Reduction, width: float, height: float
) -> Flowable:
    """Return the graph of one test with its line, its band and the lot's curve if it has one."""
    shown = LoadGraphFigures(
        points=tuple((each.stretch_in, each.force_lbf) for each in reduction.readings),
        rate_lbf_in=reduction.fit.rate_lbf_in,
        tested_stretch_in=reduction.fit.tested_stretch_in,
        curve_points=_curve_points(certificate),
        band_lbf=certificate.policy.linearity_limit_pct
        / 100.0
        * max(force for _, force in reduction.points),
        units=certificate.units.system,
    )
    return DrawingFlowable(
        width,
        height,
        lambda surface: draw_load_graph(surface, shown, width / SCALE, height / SCALE),
        SCALE,
    )


def _curve_points(certificate: Certificate) -> tuple[tuple[float, float], ...]:
    curve = MonotoneCurve(certificate.lot_rate.curve)
    end_in = curve.tested_stretch_in
    # Rounding must not take the last point a hair beyond the tested stretch.
    stretches = [min(end_in * piece / CURVE_PIECES, end_in) for piece in range(CURVE_PIECES + 1)]
    return tuple((stretch, curve.force_lbf(stretch)) for stretch in stretches)


# Of a table in one column, with the gap to what stands beside it.
TABLE_WIDTH = 264.0
GRAPH_HEIGHT = 132.0
BESIDE = cells(0, 0, 0, 0)


def readings_section(
    certificate: Certificate, test: BenchTest, reduction: Reduction
) -> Iterator[Flowable]:
    units = certificate.units
    yield paragraph(f"Test {test.pk}: readings", SECTION)
    readings = _readings(test, reduction, units)
    if not reduction.cycle.pairs:
        yield from _beside_graph(certificate, reduction, readings, len(reduction.readings))
        return
    yield readings
    yield Spacer(1, 3)
    yield paragraph(_points_words(reduction), SMALL)
    points = _points(reduction, units)
    yield from _beside_graph(certificate, reduction, points, len(reduction.cycle.pairs))


def _beside_graph(
    certificate: Certificate, reduction: Reduction, table: Flowable, rows: int
) -> Iterator[Flowable]:
    """The graph stands beside a short table, below a long one."""
    if rows > MOST_IN_ONE:
        yield table
        yield Spacer(1, 4)
        yield load_graph(certificate, reduction, WIDTH, GRAPH_HEIGHT)
        return
    graph = load_graph(certificate, reduction, WIDTH - TABLE_WIDTH, GRAPH_HEIGHT)
    yield Table([[table, graph]], colWidths=(TABLE_WIDTH, WIDTH - TABLE_WIDTH), style=BESIDE)


def _readings(test: BenchTest, reduction: Reduction, units: Units) -> Flowable:
    return folded(
        (
            "No.",
            "Run",
            "Branch",
            f"Tape, {units.length_symbol}",
            f"Gauge, {units.pressure_symbol}",
            f"Stretch x, {units.length_symbol}",
            f"Force f, {units.force_symbol}",
        ),
        [
            (
                str(row.number),
                str(row.run),
                row.branch,
                plain_number(units.length(row.tape_in), 4),
                plain_number(units.pressure(row.gauge_psi), 2),
                plain_number(units.length(reduced.stretch_in), 4),
                f"{units.force(reduced.force_lbf):,.1f}",
            )
            for row, reduced in zip(test.readings.all(), reduction.readings, strict=True)
        ],
        (22.0, 22.0, 44.0, 38.0, 42.0, 42.0, 46.0),
    )


def _points_words(reduction: Reduction) -> str:
    words = "The rate is fitted by the means of the branches, in which seal friction cancels."
    if reduction.cycle.left_out:
        numbers = ", ".join(str(place + 1) for place in reduction.cycle.left_out)
        words += f" Readings with no partner on the other branch are in no mean: {numbers}."
    return words


def _points(reduction: Reduction, units: Units) -> Flowable:
    return folded(
        (
            "Run",
            f"Stretch x, {units.length_symbol}",
            f"Loading, {units.force_symbol}",
            f"Unloading, {units.force_symbol}",
            f"Mean f, {units.force_symbol}",
        ),
        [
            (
                str(pair.run),
                plain_number(units.length(pair.stretch_in), 4),
                f"{units.force(pair.loading_lbf):,.1f}",
                f"{units.force(pair.unloading_lbf):,.1f}",
                f"{units.force(pair.mean_lbf):,.1f}",
            )
            for pair in reduction.cycle.pairs
        ],
        (28.0, 48.0, 58.0, 62.0, 60.0),
    )


SQUARE_UNITS = {"us": "in²", "si": "mm²"}


def reduced_section(
    certificate: Certificate, test: BenchTest, reduction: Reduction
) -> Iterator[Flowable]:
    units = certificate.units
    yield paragraph(f"Test {test.pk}: reduction", SECTION)
    lines = [
        _force_words(test, units),
        *_correction_words(test, units),
        *_fit_words(reduction, units),
        _linearity_words(certificate, reduction),
        _zero_words(certificate, reduction),
        _outlier_words(reduction, units),
        _hysteresis_words(reduction, units),
        *_doubts(test, reduction, units),
    ]
    for line in lines:
        yield paragraph(line, FORMULA)


def _force_words(test: BenchTest, units: Units) -> str:
    area = test.set_up.cylinder.area_in2(test.end)
    scale = units.length(1.0) ** 2
    bore, rod = (significant(units.length(each), 6) for each in (test.bore_in, test.rod_in))
    formula = f"π/4 · ({bore}² − {rod}²)" if test.end == "rod" else f"π/4 · {bore}²"
    thousand = " / 1000" if units.system == "si" else ""
    return (
        f"Area A = {formula} = {significant(area * scale)} {SQUARE_UNITS[units.system]}. Stretch "
        f"x = tape − {significant(units.length(test.tape_datum_in), 6)}. Force of one pad "
        f"f = (p − p₀) · A{thousand} / n, with p₀ = "
        f"{significant(units.pressure(test.gauge_zero_psi), 6)} and n = {test.pads_in_test}."
    )


def _correction_words(test: BenchTest, units: Units) -> Iterator[str]:
    """What a reader needs to correct the gauge's readings alike; nothing where none was."""
    correction = test.correction
    if correction is None:
        return
    pairs = "; ".join(
        f"{significant(units.pressure(shown), 6)} for {significant(units.pressure(applied), 6)}"
        for shown, applied in correction.points
    )
    expanded = units.pressure_words(correction.expanded_psi)
    yield (
        f"Gauge correction by its certificate {test.gauge_certificate}, shown for applied, "
        f"{units.pressure_symbol}: {pairs}; linear between, the same as at the last point beyond. "
        f"p and p₀ in f are corrected so; ± {expanded} with k = {correction.coverage_factor:g}."
    )


def _fit_words(reduction: Reduction, units: Units) -> list[str]:
    points = [(units.length(x), units.force(f)) for x, f in reduction.points]
    fit = reduction.fit
    rate = units.rate(fit.rate_lbf_in)
    sum_xx = math.fsum(x * x for x, _ in points)
    sum_xf = math.fsum(x * f for x, f in points)
    residuals = math.fsum((f - rate * x) ** 2 for x, f in points)
    length, force, rate_symbol = units.length_symbol, units.force_symbol, units.rate_symbol
    s = units.force(fit.residual_sd_lbf)
    return [
        f"Least squares through the origin, m = {len(points)} points: "
        f"Σx² = {significant(sum_xx)} {length}²; Σxf = {significant(sum_xf)} {force}·{length}; "
        f"k = Σxf/Σx² = {significant(rate)} {rate_symbol}.",
        f"Σ(f − kx)² = {significant(residuals)} {force}²; s = √[Σ(f − kx)²/(m − 1)] = "
        f"{significant(s)} {force}; standard error of k = s/√(Σx²) = "
        f"{significant(units.rate(fit.standard_error_lbf_in))} {rate_symbol}, "
        f"{fit.degrees_of_freedom} degrees of freedom.",
    ]


def _linearity_words(certificate: Certificate, reduction: Reduction) -> str:
    error_pct = reduction.fit.linearity_error_pct
    limit_pct = certificate.policy.linearity_limit_pct
    verdict = "within" if error_pct <= limit_pct else "beyond"
    return (
        f"Linearity: the largest |f − kx| is {error_pct:.2f} % of the largest f, {verdict} the "
        f"policy’s {limit_pct:g} %."
    )


def _zero_words(certificate: Certificate, reduction: Reduction) -> str:
    zero, units = reduction.zero, certificate.units
    bend = reduction.curvature
    if bend is not None and bend.is_significant:
        return (
            f"Curvature: quadratic term of f = kx + cx² over its standard error {bend.t:.2f}, "
            f"limit ± {bend.critical_t:.2f} at 5 %: the load curve is bent. A line that misses "
            "rest is then no sign of a tape misread there, and is not tested."
        )
    if zero is None:
        return "Zero check: too few points for a line with intercept."
    words = (
        f"Zero check: intercept of a free line over its standard error {zero.t:.2f}, limit "
        f"± {zero.critical_t:.2f} at 5 %: "
    )
    if not zero.is_significant:
        return words + "no sign that tape or gauge was misread at rest."
    if zero.datum_off_in is None:
        return words + "tape or gauge may have been misread at rest."
    off = units.length_words(abs(zero.datum_off_in), 2)
    return words + f"as of a tape misread at rest by {off}, or a gauge."


def _outlier_words(reduction: Reduction, units: Units) -> str:
    if not reduction.outliers:
        return "Outliers by studentized residual: none named."
    named = "; ".join(
        f"{units.force_words(each.force_lbf, 5)} at {units.length_words(each.stretch_in)} "
        f"(residual {residual_words(each)}, limit {each.limit:.1f})"
        for each in reduction.outliers
    )
    return f"Outliers by studentized residual, named and not removed: {named}."


def _hysteresis_words(reduction: Reduction, units: Units) -> str:
    found = reduction.hysteresis
    if found is None:
        return (
            "Hysteresis: not measured, no unloading branch was read; seal friction is in these "
            "forces, and is taken off in the rating by policy."
        )
    energy, symbol = energy_lost(found, units.system)
    return (
        f"Hysteresis: widest gap of the branches {units.force_words(found.most_lbf, 4)} at "
        f"{units.length_words(found.at_stretch_in)}, {found.most_pct:.1f} % of full scale; energy "
        f"lost per cycle and pad {significant(energy, 4)} {symbol}."
    )


def _doubts(test: BenchTest, reduction: Reduction, units: Units) -> Iterator[str]:
    highest = max(each.gauge_psi for each in reduction.readings)
    if is_below_a_quarter(test.gauge_span_psi, highest):
        yield "Gauge: never passed a quarter of its range; its error weighs heavy there."
    found = plausibility_of(test, reduction.fit.rate_lbf_in)
    if found is None:
        return
    verdict = "within it" if found.is_plausible else "OUTSIDE it"
    yield (
        "Plausibility, from hardness and size of the rubber (G·A/t): "
        f"{units.rate_words(found.rates.least_lbf_in, 3)} to "
        f"{units.rate_words(found.rates.most_lbf_in, 3)}; the tested rate lies {verdict}."
    )
