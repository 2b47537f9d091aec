"""The sections on the rate: its budget, the pool of tests and the load curve."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from statistics import fmean

from reportlab.platypus import Flowable, KeepTogether, Spacer

from ratings.bench.reduction import Reduction
from ratings.certificate.facts import LEVEL, Certificate
from ratings.certificate.figures import NOTHING, Units, freedom_words, significant
from ratings.certificate.layout import FORMULA, SECTION, figures, folded
from ratings.mechanics.budget import Budget, BudgetLine
from ratings.mechanics.pooling import BenchRate
from ratings.paper.style import paragraph

WIDTHS = (168.0, 26.0, 54.0, 54.0, 62.0, 54.0, 52.0, 26.0, 32.0)
# The budget's own words repeat figures in US units; the half-width stands beside these.
SOURCES = {
    "scatter of the readings": "standard error of k",
    "gauge accuracy": "largest of its grade",
    "gauge certificate": "its expanded uncertainty",
    "gauge drift": "between two certificates",
    "gauge beyond its certificate": "largest of its grade",
    "gauge resolution": "each reading for itself",
    "tape datum": "half a division",
    "tape resolution": "each reading for itself",
    "bore": "its tolerance",
    "rod": "its tolerance",
}

SENSITIVITY_WORDS = (
    "Sensitivities c, with A the area, n the pads in test, D the bore, d the rod: gauge accuracy, "
    "certificate and drift (A/n)·Σx/Σx²; gauge resolution (A/n)/√(Σx²); tape datum k·Σx/Σx²; "
    "tape resolution k/√(Σx²); "
    "at the blind end bore 2k/D; at the rod end bore 2kD/(D² – d²), rod –2kd/(D² – d²)."
)


def budget_section(certificate: Certificate, reduction: Reduction) -> Iterator[Flowable]:
    units, budget = certificate.units, reduction.budget
    header = (
        "Source",
        "Type",
        "Distribution",
        "Half-width",
        "Standard u(x)",
        "Sensitivity c",
        f"|c|·u(x), {units.rate_symbol}",
        "Deg. fr.",
        "Share, %",
    )
    rows = [_row(line, units) for line in budget.lines]
    yield KeepTogether(
        [
            paragraph("Uncertainty budget of this test’s rate", SECTION),
            figures(header, rows, WIDTHS, words=3),
            Spacer(1, 2),
            paragraph(SENSITIVITY_WORDS, FORMULA),
            paragraph(_combined_words(budget, units), FORMULA),
            *_improvement(reduction, units),
        ]
    )


def _improvement(reduction: Reduction, units: Units) -> Iterator[Flowable]:
    better = reduction.improvement
    if better is not None:
        yield paragraph(
            f"To improve first: {better.line.name}, by {better.halved_by}, which would bring the "
            f"expanded uncertainty to {units.rate_words(better.expanded_lbf_in, 3)}.",
            FORMULA,
        )


def _row(line: BudgetLine, units: Units) -> tuple[str, ...]:
    standard, symbol = units.in_symbol(line.standard, line.symbol)
    one_unit, _ = units.in_symbol(1.0, line.symbol)
    half = (
        "–"
        if line.half_width is None
        else f"± {significant(units.in_symbol(line.half_width, line.symbol)[0], 4)} {symbol}"
    )
    sensitivity = (
        line.sensitivity if line.symbol == "lbf/in" else units.rate(line.sensitivity) / one_unit
    )
    return (
        f"{line.name} ({SOURCES[line.name]})",
        line.kind,
        line.distribution,
        half,
        f"{significant(standard, 5)} {symbol}",
        significant(sensitivity, 5),
        significant(units.rate(line.contribution_lbf_in), 5),
        freedom_words(line.degrees_of_freedom).replace("infinite", "∞"),
        f"{100.0 * line.share:.1f}",
    )


def _combined_words(budget: Budget, units: Units) -> str:
    squares = "√(Σ(c·u)²)"
    own = next(line for line in budget.lines if line.kind == "A")
    freedom = (
        f"degrees of freedom u⁴/({significant(units.rate(own.contribution_lbf_in), 5)}⁴/"
        f"{freedom_words(own.degrees_of_freedom)}) = {freedom_words(budget.degrees_of_freedom)}, "
        "cut to a whole number"
        if own.contribution_lbf_in > NOTHING
        else "degrees of freedom infinite"
    )
    return (
        f"Combined u = {squares} = {units.rate_words(budget.standard_lbf_in)}; {freedom}; coverage "
        f"factor {budget.coverage_factor:.4f} (two-sided {100 * budget.confidence:g} %); expanded "
        f"uncertainty of this test {units.rate_words(budget.expanded_lbf_in, 5)}."
    )


def pooling_section(certificate: Certificate) -> Iterator[Flowable]:
    pooled, units = certificate.pooled, certificate.units
    tests = list(pooled.rates)
    yield paragraph("From the tests to the lot", SECTION)
    yield paragraph(
        "u_A is what is a test’s own (type A lines), u_B what stand and instruments put on every "
        "pad they rate (all type B lines, root of the sum of squares), "
        f"σ = {units.rate_words(pooled.rate.spread_lbf_in)} the pad-to-pad spread "
        f"({_spread_words(certificate)}), n the pads in the test.",
        FORMULA,
    )
    if len(tests) > 1:
        yield _table(certificate, tests)
    yield paragraph(_shared_words(certificate, tests), FORMULA)
    yield paragraph(_freedom_words(certificate, tests), FORMULA)


def _spread_words(certificate: Certificate) -> str:
    rate = certificate.pooled.rate
    assumed = f"assumed, {certificate.policy.pad_spread_pct:g} % of the tests’ plain mean"
    if rate.spread.measured_lbf_in is None:
        return assumed
    measured = certificate.units.rate_words(rate.spread.measured_lbf_in)
    return (
        f"{assumed}, with {freedom_words(certificate.policy.pad_spread_degrees_of_freedom)} "
        f"degrees of freedom, updated by the {measured} of {rate.spread.single_pads} marked pads "
        "tested singly; never below these"
    )


def _table(certificate: Certificate, tests: list[BenchRate]) -> Flowable:
    units, pooled = certificate.units, certificate.pooled
    symbol = units.rate_symbol
    return figures(
        ("Test", f"k, {symbol}", "u_A", "n", "σ·√(m/n)", "u_B", "Weight w"),
        [
            (
                str(test.pk),
                significant(units.rate(each.rate_lbf_in)),
                significant(units.rate(each.own_lbf_in), 5),
                str(each.pads_in_test),
                significant(units.rate(_of_pads(certificate, each)), 5),
                significant(units.rate(each.common_lbf_in), 5),
                f"{weight:.5f}",
            )
            for test, each, weight in zip(pooled.tests, tests, pooled.rate.weights, strict=True)
        ],
        (50.0, 80.0, 70.0, 40.0, 70.0, 70.0, 70.0),
    )


def _shared_words(certificate: Certificate, tests: list[BenchRate]) -> str:
    units, rate = certificate.units, certificate.pooled.rate
    shared = units.rate_words(rate.shared_lbf_in)
    if len(tests) == 1:
        parts = (tests[0].own_lbf_in, _of_pads(certificate, tests[0]), tests[0].common_lbf_in)
        return (
            "One test: its rate is the lot’s. Shared standard uncertainty "
            f"u = √(u_A² + σ²/n + u_B²) = √({_squares(parts, units)}) = {shared}."
        )
    between = units.rate_words(rate.between_lbf_in, 5)
    return (
        f"Scatter between tests beyond u_A and σ/√n: τ = {between} (Paule and Mandel: τ where "
        "(k − mean)ᵀV⁻¹(k − mean) = tests − 1, 0 if less is found; V has u_A² + τ² of each test, "
        "and σ² of each pad, whichever tests had it). Weight w = (1/v)/Σ(1/v) with v = u_A² + "
        "m·σ²/n + τ², m the tests that had the same pads (pads without a mark are taken for the "
        f"same); lot’s rate = Σwk = {units.rate_words(rate.rate_lbf_in)}, of "
        f"{significant(rate.pads_tested, 3)} distinct pads, 1/Σa² with a the weight of each. Own "
        f"part √(Σ(w·u_A)² + σ²·Σa² + τ²·Σw²) = {units.rate_words(rate.standard_lbf_in)}; from the "
        "stand, one error however many tests, "
        f"Σw·u_B = {units.rate_words(rate.common_lbf_in)}. Shared standard uncertainty "
        f"u = √({_squares((rate.standard_lbf_in, rate.common_lbf_in), units)}) = {shared}."
    )


def _freedom_words(certificate: Certificate, tests: list[BenchRate]) -> str:
    units = certificate.units
    parts = _finite_parts(certificate, tests)
    terms = " + ".join(
        f"{significant(units.rate(part), 5)}⁴/{freedom_words(freedom)}" for part, freedom in parts
    )
    found = freedom_words(certificate.degrees_of_freedom)
    formula = f"ν = u⁴/({terms}) = {found}" if terms else f"ν = {found}"
    return (
        f"Degrees of freedom (Welch–Satterthwaite; type B lines have infinite "
        f"ones): {formula}, cut to a whole number. Coverage factor "
        f"{certificate.coverage_factor:.4f} (Student’s t, two-sided {100 * LEVEL:g} %); expanded "
        f"uncertainty {units.rate_words(certificate.expanded_lbf_in)}."
    )


def _finite_parts(certificate: Certificate, tests: list[BenchRate]) -> list[tuple[float, float]]:
    """What has finite degrees of freedom in the shared uncertainty, with them."""
    rate = certificate.pooled.rate
    weighed = list(zip(rate.weights, tests, strict=True))
    of_pads = rate.spread_lbf_in / math.sqrt(rate.pads_tested)
    of_between = rate.between_of_mean_lbf_in
    parts = [(weight * test.own_lbf_in, test.degrees_of_freedom) for weight, test in weighed]
    parts += [
        (of_pads, rate.spread.degrees_of_freedom),
        (of_between, rate.between_degrees_of_freedom),
    ]
    return [(part, freedom) for part, freedom in parts if part > NOTHING and freedom < math.inf]


def _of_pads(certificate: Certificate, test: BenchRate) -> float:
    """σ·√(m/n), m the tests that had the same pads."""
    times = Counter(pad for each in certificate.pooled.rates for pad in each.pads)
    tests_of_a_pad = fmean(times[pad] for pad in test.pads)
    return certificate.pooled.rate.spread_lbf_in * math.sqrt(tests_of_a_pad / test.pads_in_test)


def _squares(parts: tuple[float, ...], units: Units) -> str:
    return " + ".join(f"{significant(units.rate(part))}²" for part in parts)


def curve_section(certificate: Certificate) -> Iterator[Flowable]:
    units, rate = certificate.units, certificate.lot_rate
    doubt = rate.curve_doubt
    yield paragraph("Load curve of a mean pad of the lot, as measured", SECTION)
    yield paragraph(
        "Every unit is rated by it. Monotone through rest and the mean force at each stretch "
        "(PCHIP: Fritsch and Butland). Between knots 0 and 1, with h = x₁ − x₀ and "
        "t = (x − x₀)/h: F = (2t³ − 3t² + 1)·F₀ + (t³ − 2t² + t)·h·d₀ + (3t² − 2t³)·F₁ + "
        "(t³ − t²)·h·d₁, d being the slopes. From the stand its standard uncertainty is "
        "u_B = √(u_f² + (slope·u_x)² + (c·F)²), or u_B of the rate times the stretch where that is "
        f"larger: u_f = {significant(units.force(doubt.force_lbf))} {units.force_symbol} from the "
        f"gauge, u_x = {significant(units.length(doubt.stretch_in))} {units.length_symbol} from "
        f"tape and datum, c = {significant(doubt.share)} from the cylinder. The scatter of its "
        f"mean readings is {significant(units.force(doubt.scatter_lbf))} {units.force_symbol}"
        f"{_freedom_of(rate.scatter_degrees_of_freedom)}.",
        FORMULA,
    )
    yield folded(
        (
            f"Stretch x, {units.length_symbol}",
            f"Force F, {units.force_symbol}",
            f"Slope d, {units.rate_symbol}",
        ),
        [
            (
                significant(units.length(knot.stretch_in), 6),
                significant(units.force(knot.force_lbf)),
                significant(units.rate(knot.slope_lbf_in)),
            )
            for knot in rate.curve
        ],
        (80.0, 80.0, 80.0),
        most=4,
    )


def _freedom_of(degrees_of_freedom: float | None) -> str:
    if degrees_of_freedom is None:
        return ""
    return f" ({freedom_words(degrees_of_freedom)} degrees of freedom)"
