"""What one test's readings come to, written out so that a pocket calculator retraces it."""

from __future__ import annotations

import math
from collections.abc import Iterator

from reportlab.platypus import Flowable

from ratings.certificate.facts import Certificate
from ratings.certificate.layout import FORMULA, SECTION
from ratings.certificate.units import Units, significant
from ratings.mechanics.gauge import is_below_a_quarter
from ratings.models import BenchTest
from ratings.paper.style import paragraph
from ratings.plausibility import plausibility_of
from ratings.reduction import Reduction

SQUARE_UNITS = {"us": "in²", "si": "mm²"}


def reduced_section(
    certificate: Certificate, test: BenchTest, reduction: Reduction
) -> Iterator[Flowable]:
    units = certificate.units
    yield paragraph(f"Test {test.pk}: reduction", SECTION)
    lines = [
        _force_words(test, units),
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
    if zero is None:
        return "Zero check: too few points for a line with intercept."
    words = (
        f"Zero check: intercept of a free line over its standard error {zero.t:.2f}, limit "
        f"± {zero.critical_t:.2f} at 5 %: "
    )
    if not zero.is_significant:
        return words + "no sign that datum or gauge zero is off."
    if not certificate.is_linear:
        return words + "it is off, as the bend of the load curve alone can make it."
    if zero.datum_off_in is None:
        return words + "datum or gauge zero is off."
    return words + (
        f"datum likely off by {units.length_words(abs(zero.datum_off_in), 2)}, or the gauge’s zero."
    )


def _outlier_words(reduction: Reduction, units: Units) -> str:
    if not reduction.outliers:
        return "Outliers by studentized residual: none named."
    named = "; ".join(
        f"{units.force_words(each.force_lbf, 5)} at {units.length_words(each.stretch_in)} "
        f"(residual {each.studentized:.1f}, limit {each.limit:.1f})"
        for each in reduction.outliers
    )
    return f"Outliers by studentized residual, named and not removed: {named}."


def _hysteresis_words(reduction: Reduction, units: Units) -> str:
    found = reduction.hysteresis
    if found is None:
        return "Hysteresis: not measured, no unloading branch was read; seal friction is in f."
    energy = units.force(found.energy_lost_in_lbf) * units.length(1.0)
    shown = (
        f"{significant(energy / 1000.0, 4)} J"
        if units.system == "si"
        else f"{significant(energy, 4)} in·lbf"
    )
    return (
        f"Hysteresis: widest gap of the branches {units.force_words(found.most_lbf, 4)} at "
        f"{units.length_words(found.at_stretch_in)}, {found.most_pct:.1f} % of full scale; energy "
        f"lost per cycle and pad {shown}."
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
