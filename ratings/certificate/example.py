"""A worked example: the working capacity of a housing full of such pads."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from reportlab.platypus import Flowable, KeepTogether

from fleet.figures import capacity_words
from fleet.quantities import Quantity
from ratings.certificate.facts import Certificate
from ratings.certificate.layout import FORMULA, SECTION
from ratings.certificate.units import Units, freedom_words, significant
from ratings.mechanics.linepull import LinePull, line_pull, scatter_squared, shared_lbf
from ratings.mechanics.unit_rating import Policy, Position, UnitInputs, pad_groups
from ratings.paper.style import paragraph

PADS = 20
MOST_STRETCH_IN = 5.0


@dataclass(frozen=True)
class Example:
    """The pull of the example's pads and the three parts of its uncertainty, lbf."""

    pull: LinePull
    scatter_lbf: float
    shared_lbf: float
    tape_lbf: float


def worked_example(certificate: Certificate) -> Example:
    """Return what twenty sound pads of the lot pull at 5 in, or at the tested stretch if less."""
    policy = certificate.policy
    mark = certificate.rating.lot.mark
    positions = tuple(
        Position(side, number, "sound", mark)
        for side in ("A", "B")
        for number in range(1, PADS // 2 + 1)
    )
    travel_in = min(certificate.rating.tested_stretch_in, MOST_STRETCH_IN)
    inputs = UnitInputs(positions, (certificate.lot_rate,), travel_in, None, policy)
    pull = line_pull(pad_groups(inputs), travel_in, policy.travel_uncertainty_in, policy.confidence)
    given = pull.groups[0]
    return Example(
        pull=pull,
        scatter_lbf=math.sqrt(scatter_squared(given)),
        shared_lbf=shared_lbf(given.group, travel_in),
        tape_lbf=pull.rate_lbf_in * policy.travel_uncertainty_in,
    )


def example_section(certificate: Certificate) -> Iterator[Flowable]:
    example, units = worked_example(certificate), certificate.units
    lines = [
        _pull_words(certificate, example),
        *_part_words(certificate, example),
        _factor_words(certificate, example),
        _capacity_words(certificate.policy, example, units),
    ]
    stretch = units.length_words(example.pull.usable_travel_in)
    yield KeepTogether(
        [
            paragraph(
                f"Worked example: working capacity of {PADS} sound pads at {stretch}", SECTION
            ),
            *(paragraph(line, FORMULA) for line in lines),
        ]
    )


def _pull(value_lbf: float, units: Units) -> str:
    """A pull of a unit with its unit: lbf, or kN."""
    digits = f"{significant(Quantity.FORCE.shown(value_lbf, units.system))}"
    return f"{digits} {Quantity.FORCE.symbol(units.system)}"


def _thousand(units: Units) -> str:
    return " / 1000" if units.system == "si" else ""


def _pull_words(certificate: Certificate, example: Example) -> str:
    units, pull = certificate.units, example.pull
    stretch = significant(units.length(pull.usable_travel_in), 6)
    force = pull.groups[0].force_per_pad_lbf
    if certificate.is_linear:
        rate = significant(units.rate(certificate.rating.rate_lbf_in))
        formula = f"N·k·s = {PADS} × {rate} × {stretch}{_thousand(units)}"
    else:
        formula = f"N·f(s) = {PADS} × {significant(units.force(force))}{_thousand(units)}"
    return f"Line pull P = {formula} = {_pull(pull.pull_lbf, units)}."


def _part_words(certificate: Certificate, example: Example) -> list[str]:
    units, pull, rating = certificate.units, example.pull, certificate.rating
    stretch = significant(units.length(pull.usable_travel_in), 6)
    spread = significant(units.rate(certificate.spread_lbf_in))
    slope = significant(units.rate(pull.groups[0].slope_lbf_in))
    shared = significant(units.rate(certificate.shared_lbf_in))
    tape = significant(units.length(certificate.policy.travel_uncertainty_in))
    step = significant(units.length(certificate.policy.tape_resolution_in), 6)
    thousand = _thousand(units)
    scatter = f"{spread} × {stretch}"
    if not certificate.is_linear:
        force = significant(units.force(pull.groups[0].force_per_pad_lbf))
        scatter = f"{spread}/{significant(units.rate(rating.rate_lbf_in))} × {force}"
    of_rate_lbf = PADS * certificate.shared_lbf_in * pull.usable_travel_in
    shared_words = f"Shared by all pads: N·u·s = {PADS} × {shared} × {stretch}{thousand}"
    if example.shared_lbf > of_rate_lbf:
        shared_words = (
            f"Shared by all pads, by the curve's doubt, the larger here: N·u(f) = {PADS} × "
            f"{significant(units.force(example.shared_lbf / PADS))}{thousand}"
        )
    return [
        f"Pad to pad, each for itself: √N·σ·s = √{PADS} × {scatter}{thousand} = "
        f"{_pull(example.scatter_lbf, units)}.",
        f"{shared_words} = {_pull(example.shared_lbf, units)}.",
        f"Taped travel, read to {step} {units.length_symbol}: N·slope·u_s = {PADS} × {slope} × "
        f"{step}/√12{thousand} = {_pull(example.tape_lbf, units)} (u_s = {tape}).",
        f"Standard uncertainty u(P) = √(sum of the three squared) = "
        f"{_pull(pull.standard_uncertainty_lbf, units)}.",
    ]


def _factor_words(certificate: Certificate, example: Example) -> str:
    pull, shared = example.pull, certificate.degrees_of_freedom
    spread = certificate.lot_rate.spread_degrees_of_freedom
    limit = "" if spread is None else f", no more than the measured spread’s {spread:g}"
    return (
        f"Degrees of freedom ν·[u(P)/shared part]⁴ with ν = {freedom_words(shared)}{limit}, cut to "
        f"a whole number: {freedom_words(pull.degrees_of_freedom)}. Student’s t, one-sided "
        f"{100 * certificate.policy.confidence:g} %: {pull.coverage_factor:.4f}."
    )


def _capacity_words(policy: Policy, example: Example, units: Units) -> str:
    pull = example.pull
    rounded = capacity_words(pull.working_capacity_lbf, units.system, pull.standard_uncertainty_lbf)
    return (
        f"Working capacity W = P − t·u(P) = {_pull(pull.pull_lbf, units)} − "
        f"{pull.coverage_factor:.4f} × {_pull(pull.standard_uncertainty_lbf, units)} = "
        f"{_pull(pull.working_capacity_lbf, units)}, stated as {rounded}. A unit with W at or "
        "above its listed rating meets listing (guarded acceptance, JCGM 106)."
    )
