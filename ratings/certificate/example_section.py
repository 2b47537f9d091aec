"""The worked example of a certificate, the prices of the tests, and the rule of decision."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from reportlab.platypus import Flowable, KeepTogether

from fleet.quantities import Quantity, capacity_words
from ratings.certificate.facts import Certificate
from ratings.certificate.figures import NOTHING, Units, freedom_words, significant
from ratings.certificate.layout import FORMULA, SECTION
from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.standing import risks_of_the_rule
from ratings.mechanics.unit_rating import (
    UnitInputs,
    UnitRating,
    conditions_pct,
    pad_groups,
    rate_unit,
)
from ratings.mechanics.what_if import EXAMPLE_PADS, example_unit, prices
from ratings.paper.style import paragraph


@dataclass(frozen=True)
class Example:
    """Twenty sound pads of a lot in a guided housing that travels as far as the lot was tested."""

    inputs: UnitInputs
    group: PadGroup
    rating: UnitRating

    @property
    def stretch_in(self) -> float:
        return self.rating.usable_travel_in or 0.0

    @property
    def force_lbf(self) -> float:
        """Of one pad there, with what its tests left out taken off."""
        return self.group.force_lbf(self.stretch_in)


def worked_example(certificate: Certificate) -> Example:
    """Rate the example as any unit is rated."""
    inputs = example_unit(certificate.lot_rate, certificate.policy)
    [group] = pad_groups(inputs)
    return Example(inputs, group, rate_unit(inputs))


def example_section(certificate: Certificate) -> Iterator[Flowable]:
    example, units = worked_example(certificate), certificate.units
    if example.rating.pull_lbf is None:
        return
    stretch = units.length_words(example.stretch_in)
    title = f"Worked example: {EXAMPLE_PADS} sound pads, guided, at {stretch}"
    yield KeepTogether(
        [
            paragraph(title, SECTION),
            paragraph(_pull_words(certificate, example), FORMULA),
            *(paragraph(line, FORMULA) for line in _parts(certificate, example)),
            paragraph(_factor_words(certificate, example), FORMULA),
            paragraph(_capacity_words(example.rating, units), FORMULA),
        ]
    )
    yield KeepTogether(
        [
            paragraph("Rule of decision", SECTION),
            paragraph(_rule_words(certificate, example), FORMULA),
        ]
    )
    yield from _prices(certificate, example)


def _pull(value_lbf: float | None, units: Units) -> str:
    """A pull of a unit with its unit: lbf, or kN."""
    digits = significant(Quantity.FORCE.shown(value_lbf or 0.0, units.system))
    return f"{digits} {Quantity.FORCE.symbol(units.system)}"


def _thousand(units: Units) -> str:
    return " / 1000" if units.system == "si" else ""


def _pull_words(certificate: Certificate, example: Example) -> str:
    units, policy, rate = certificate.units, certificate.policy, certificate.lot_rate
    measured_lbf = example.group.load_curve.force_lbf(example.stretch_in)
    taken = (
        (policy.seal_friction_pct, rate.loading_only_share, "no unloading read"),
        (policy.first_stretch_pct, rate.not_conditioned_share, "not conditioned"),
    )
    off = "".join(
        f" × (1 − {pct / 100.0:g}{'' if share == 1.0 else f' × {share:.5f}'}: {words})"
        for pct, share, words in taken
        if share
    )
    force = significant(units.force(example.force_lbf))
    return (
        f"Force of one pad there: f = F(s){off} = {significant(units.force(measured_lbf))}{off} = "
        f"{force} {units.force_symbol}, F the load curve as measured. Line pull P = N·f = "
        f"{EXAMPLE_PADS} × {force}{_thousand(units)} = {_pull(example.rating.pull_lbf, units)}."
    )


def _parts(certificate: Certificate, example: Example) -> Iterator[str]:
    units, policy, rate = certificate.units, certificate.policy, certificate.lot_rate
    group, rating, thousand = example.group, example.rating, _thousand(certificate.units)
    force = significant(units.force(example.force_lbf))
    share = significant(group.spread_lbf_in / group.rate_lbf_in)
    yield (
        f"Pads fitted differ, each for itself: √N·σ·f = √{EXAMPLE_PADS} × {share} × {force}"
        f"{thousand} = {_pull(rating.scatter_lbf, units)} (σ as a share of the force)."
    )
    named = [
        (f"σ·f/√n, n = {significant(group.pads_tested, 4)} pads tested", _of_pads(example)),
        ("scatter of the mean readings", _scatter_lbf(example)),
        ("between tests, τ", group.between_share * example.force_lbf),
    ]
    squares = " + ".join(
        f"{significant(units.force(part))}² ({words})" for words, part in named if part > NOTHING
    )
    yield (
        f"The lot’s own tests: N·√({squares}){thousand} = {_pull(rating.lots_lbf, units)}. Between "
        f"two readings ± {policy.gap_band_pct:g} % of the rise between them joins in, 0 at one."
    )
    stand_lbf = (rating.shared_lbf or 0.0) / EXAMPLE_PADS
    yield (
        f"The stand, alike for every pad it rated: N·u_B = {EXAMPLE_PADS} × "
        f"{significant(units.force(stand_lbf))}{thousand} = {_pull(rating.shared_lbf, units)}."
    )
    yield _use_words(certificate, example)
    slope = significant(units.rate((rating.rate_lbf_in or 0.0) / EXAMPLE_PADS))
    step = significant(units.length(policy.tape_resolution_in), 6)
    yield (
        f"Taped travel, read to {step} {units.length_symbol}: N·slope·u_s = {EXAMPLE_PADS} × "
        f"{slope} × {step}/√12{thousand} = {_pull(rating.tape_lbf, units)}."
    )
    yield (
        "Standard uncertainty u(P) = √(sum of the five squared) = "
        f"{_pull(rating.standard_uncertainty_lbf, units)}."
    )
    if rate.temperature_unknown_share:
        yield (
            f"Of the conditions of use {policy.unknown_temperature_pct:g} % are for tests whose "
            "rubber temperature was not read."
        )


def _use_words(certificate: Certificate, example: Example) -> str:
    units, policy, rate = certificate.units, certificate.policy, certificate.lot_rate
    known = conditions_pct(rate, policy)
    seals = policy.seal_friction_pct * rate.loading_only_share
    source = "policy" if rate.conditions_pct is None else "measured at two temperatures"
    widths, words = f"{known:g}", f"temperature, dwell and rate of pull ± {known:g} % ({source})"
    if seals:
        widths = f"√({known:g}² + {seals:g}²)"
        words += f", and what is taken off for the seals ± {seals:g} %"
    return (
        f"Conditions of use, alike for all pads: {words}, rectangular: N·f·{widths}/100/√3 = "
        f"{_pull(example.rating.conditions_lbf, units)}."
    )


def _of_pads(example: Example) -> float:
    group = example.group
    share = group.spread_lbf_in / group.rate_lbf_in
    return share * example.force_lbf / math.sqrt(group.pads_tested)


def _scatter_lbf(example: Example) -> float:
    curve = example.group.curve
    return example.group.kept_share * curve.doubt.scatter_lbf if curve else 0.0


def _factor_words(certificate: Certificate, example: Example) -> str:
    units, group, rating = certificate.units, example.group, example.rating
    of_pads = math.hypot(rating.scatter_lbf or 0.0, EXAMPLE_PADS * _of_pads(example))
    parts = [
        (of_pads, group.spread_degrees_of_freedom),
        (EXAMPLE_PADS * _scatter_lbf(example), group.scatter_degrees_of_freedom),
        (
            EXAMPLE_PADS * group.between_share * example.force_lbf,
            group.between_degrees_of_freedom,
        ),
    ]
    terms = " + ".join(
        f"{significant(Quantity.FORCE.shown(part, units.system), 6)}⁴/{freedom_words(freedom)}"
        for part, freedom in parts
        if part > NOTHING and freedom < math.inf
    )
    found = rating.degrees_of_freedom
    freedom = freedom_words(math.inf if found is None else found)
    formula = f"u⁴/({terms}) = {freedom}" if terms else freedom
    return (
        "Degrees of freedom (Welch–Satterthwaite, not cut; pads fitted and pads tested are one "
        "part, since σ is one estimate; the stand, use and tape have infinite ones): "
        f"ν = {formula}. "
        f"Student’s t, one-sided {100 * certificate.policy.confidence:g} %: "
        f"{rating.coverage_factor:.4f}."
    )


def _capacity_words(rating: UnitRating, units: Units) -> str:
    rounded = capacity_words(rating.working_capacity_lbf, units.system)
    return (
        f"Working capacity W = P − t·u(P) = {_pull(rating.pull_lbf, units)} − "
        f"{rating.coverage_factor:.4f} × {_pull(rating.standard_uncertainty_lbf, units)} = "
        f"{_pull(rating.working_capacity_lbf, units)}, stated as {rounded}. A housing not known to "
        "be guided counts twice its weaker side, whose own scatter then counts twice."
    )


def _rule_words(certificate: Certificate, example: Example) -> str:
    units, rating, policy = certificate.units, example.rating, certificate.policy
    doubt_lbf = rating.standard_uncertainty_lbf or 0.0
    freedom = rating.degrees_of_freedom or math.inf
    guard_lbf = (rating.coverage_factor or 0.0) * doubt_lbf
    listed_lbf = rating.pull_lbf or 0.0

    def risk_pct(guards: float) -> str:
        """Chance, of a unit so many guard bands above its listing, to be flagged all the same."""
        true_lbf = listed_lbf + guards * guard_lbf
        risks = risks_of_the_rule(true_lbf, doubt_lbf, freedom, listed_lbf, policy.confidence)
        return f"{100.0 * risks.producer:.0f} %"

    return (
        "A unit meets its listing L where W ≥ L (guarded acceptance, JCGM 106). Risk of passing a "
        f"unit that is below: no more than {100 * (1 - policy.confidence):g} %, at L, and less the "
        f"further below. The guard band of this example is t·u = {_pull(guard_lbf, units)}: a unit "
        f"that truly pulls just L is flagged {risk_pct(0.0)} of the time, one guard band above L "
        f"{risk_pct(1.0)}, and two {risk_pct(2.0)}."
    )


def _prices(certificate: Certificate, example: Example) -> Iterator[Flowable]:
    units, marked = certificate.units, certificate.lot_rate_if_marked
    found = prices(example.inputs, [marked] if marked else [])
    lines = [
        f"{each.shortcut.value.capitalize()}: {each.shortcut.remedy} would add about "
        f"{_pull(round(each.gain_lbf, -1), units)} to the working capacity of the example."
        for each in found
    ]
    if not lines:
        lines = ["Nothing that the policy prices was left out."]
    yield KeepTogether(
        [
            paragraph("What the tests left out, and what it costs", SECTION),
            *(paragraph(line, FORMULA) for line in lines),
        ]
    )
