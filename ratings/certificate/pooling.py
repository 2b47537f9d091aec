"""From the rate of each test to the rate of the lot, and what its pads share."""

from __future__ import annotations

import math
from collections.abc import Iterator

from reportlab.platypus import Flowable

from ratings.certificate.facts import LEVEL, Certificate
from ratings.certificate.layout import FORMULA, SECTION, figures
from ratings.certificate.units import NOTHING, Units, freedom_words, significant
from ratings.mechanics.pooling import BenchRate
from ratings.paper.style import paragraph
from ratings.recording.draft import bench_rate


def pooling_section(certificate: Certificate) -> Iterator[Flowable]:
    pooled, units = certificate.pooled, certificate.units
    tests = [
        bench_rate(test, reduction)
        for test, reduction in zip(pooled.tests, pooled.reductions, strict=True)
    ]
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
    yield from _differs(certificate)


def _spread_words(certificate: Certificate) -> str:
    rate = certificate.pooled.rate
    if rate.is_assumed_spread:
        return f"assumed, {certificate.policy.pad_spread_pct:g} % of the tests’ plain mean"
    return f"standard deviation of {rate.single_pad_tests} tests of single pads"


def _table(certificate: Certificate, tests: list[BenchRate]) -> Flowable:
    units, pooled = certificate.units, certificate.pooled
    symbol = units.rate_symbol
    return figures(
        ("Test", f"k, {symbol}", "u_A", "n", "σ/√n", "u_B", "Weight w"),
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
        "Σ(k − mean)²/v = tests − 1, 0 if less is found), v = u_A² + σ²/n + τ². Weight w = (1/v)/"
        f"Σ(1/v); lot’s rate = Σwk = {units.rate_words(rate.rate_lbf_in)}. Own part 1/√Σ(1/v) = "
        f"{units.rate_words(rate.standard_lbf_in)}; from the stand, one error however many tests, "
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
        f"Degrees of freedom (Welch–Satterthwaite; type B lines and an assumed spread have "
        f"infinite ones): {formula}, cut to a whole number. Coverage factor "
        f"{certificate.coverage_factor:.4f} (Student’s t, two-sided {100 * LEVEL:g} %); expanded "
        f"uncertainty {units.rate_words(certificate.expanded_lbf_in)}."
    )


def _finite_parts(certificate: Certificate, tests: list[BenchRate]) -> list[tuple[float, float]]:
    """What has finite degrees of freedom in the shared uncertainty, with them."""
    rate = certificate.pooled.rate
    weighed = list(zip(rate.weights, tests, strict=True))
    of_pads = rate.spread_lbf_in * math.sqrt(
        math.fsum(weight * weight / test.pads_in_test for weight, test in weighed)
    )
    of_between = rate.between_lbf_in * math.sqrt(math.fsum(w * w for w in rate.weights))
    parts = [(weight * test.own_lbf_in, test.degrees_of_freedom) for weight, test in weighed]
    parts += [(of_pads, rate.spread_degrees_of_freedom), (of_between, len(tests) - 1)]
    return [(part, freedom) for part, freedom in parts if part > NOTHING and freedom < math.inf]


def _differs(certificate: Certificate) -> Iterator[Flowable]:
    found, stored = certificate.pooled.rate.rate_lbf_in, certificate.rating.rate_lbf_in
    if not math.isclose(found, stored, rel_tol=1e-9):
        units = certificate.units
        yield paragraph(
            f"The readings come to {units.rate_words(found)} when reckoned anew; the rating on "
            f"record has {units.rate_words(stored)}. Ask before relying on either.",
            bold=True,
        )


def _of_pads(certificate: Certificate, test: BenchRate) -> float:
    return certificate.pooled.rate.spread_lbf_in / math.sqrt(test.pads_in_test)


def _squares(parts: tuple[float, ...], units: Units) -> str:
    return " + ".join(f"{significant(units.rate(part))}²" for part in parts)
