"""The uncertainty budget of one test, line by line."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable, KeepTogether, Spacer

from ratings.certificate.facts import Certificate
from ratings.certificate.layout import FORMULA, SECTION, figures
from ratings.certificate.units import NOTHING, Units, freedom_words, significant
from ratings.mechanics.budget import Budget, BudgetLine
from ratings.paper.style import paragraph
from ratings.reduction import Reduction

WIDTHS = (168.0, 26.0, 54.0, 54.0, 62.0, 54.0, 52.0, 26.0, 32.0)
# The budget's own words repeat figures in US units; the half-width stands beside these.
SOURCES = {
    "scatter of the readings": "standard error of k",
    "gauge accuracy": "largest of its grade",
    "gauge resolution": "each reading for itself",
    "tape datum": "half a division",
    "tape resolution": "each reading for itself",
    "bore": "its tolerance",
    "rod": "its tolerance",
}

SENSITIVITY_WORDS = (
    "Sensitivities c, with A the area, n the pads in test, D the bore, d the rod: gauge accuracy "
    "(A/n)·Σx/Σx²; gauge resolution (A/n)/√(Σx²); tape datum k·Σx/Σx²; tape resolution k/√(Σx²); "
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
            f"To improve first: {better.line.name}; halved, it would bring the expanded "
            f"uncertainty to {units.rate_words(better.expanded_lbf_in, 3)}.",
            FORMULA,
        )


def _row(line: BudgetLine, units: Units) -> tuple[str, ...]:
    standard, symbol = units.in_symbol(line.standard, line.unit)
    one_unit, _ = units.in_symbol(1.0, line.unit)
    half = (
        "–"
        if line.half_width is None
        else f"± {significant(units.in_symbol(line.half_width, line.unit)[0], 4)} {symbol}"
    )
    sensitivity = (
        line.sensitivity if line.unit == "lbf/in" else units.rate(line.sensitivity) / one_unit
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
