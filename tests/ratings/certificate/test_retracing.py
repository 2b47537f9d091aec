"""With a pocket calculator, from the printed figures to the printed rate and capacity."""

from __future__ import annotations

import math
import re

import pytest

from ratings.ledger.facts import lot_rate
from ratings.mechanics.unit_rating import Policy, rate_unit
from ratings.mechanics.what_if import example_unit
from tests.builders import marked
from tests.ratings.certificate.lots import STRETCHES_IN, approved, draft, lot
from tests.ratings.certificate.printed import NUMBER, number_after, text

pytestmark = pytest.mark.django_db

# Parts of a root of squares, each with its words.
SQUARES = rf"(?:{NUMBER}² \([^)]*\)(?: \+ )?)+"


def _number(words: str) -> float:
    return float(words.replace(",", ""))


def _numbers(squares: str) -> list[float]:
    return [_number(each) for each in re.findall(rf"{NUMBER}²", squares)]


# Half of the last of seven digits, and a little for the division.
PRINTED = 2e-6


@pytest.mark.parametrize("system", ["us", "si"])
def test_the_printed_sums_give_the_printed_rate(system: str) -> None:
    found = text(approved(draft(gap_psi=20.0)), system)
    rate = number_after("Σxf/Σx² =", found)
    assert number_after("Σxf =", found) / number_after("Σx² =", found) == pytest.approx(
        rate, rel=PRINTED
    )
    assert number_after("Unrounded:", found) == pytest.approx(rate, rel=PRINTED)


def test_the_printed_residuals_give_the_printed_standard_error() -> None:
    found = text(draft())
    s = math.sqrt(number_after("Σ(f − kx)² =", found) / (len(STRETCHES_IN) - 1))
    assert s == pytest.approx(number_after("/(m − 1)] =", found), rel=PRINTED)
    error = s / math.sqrt(number_after("Σx² =", found))
    assert error == pytest.approx(number_after("s/√(Σx²) =", found), rel=PRINTED)


def test_the_printed_parts_give_the_printed_shared_uncertainty() -> None:
    found = text(draft())
    match = re.search(rf"= √\({NUMBER}² \+ {NUMBER}² \+ {NUMBER}²\) = {NUMBER}", found)
    assert match is not None
    own, pads, stand, shared = (float(each.replace(",", "")) for each in match.groups())
    assert math.hypot(own, pads, stand) == pytest.approx(shared, rel=PRINTED)
    assert number_after("shared standard uncertainty", found) == shared


@pytest.mark.parametrize("system", ["us", "si"])
def test_the_worked_example_is_how_such_a_unit_is_rated(system: str) -> None:
    rating = approved(draft(gap_psi=20.0))
    rated = rate_unit(example_unit(lot_rate(rating, Policy()), Policy()))
    found = text(rating, system)
    factor = 0.0044482216152605 if system == "si" else 1.0
    words = re.search(
        rf"W = P − t·u\(P\) = {NUMBER} \w+ − {NUMBER} × {NUMBER} \w+ = {NUMBER}", found
    )
    assert words is not None
    p, t, u, w = (float(each.replace(",", "")) for each in words.groups())
    assert rated.working_capacity_lbf is not None
    assert w == pytest.approx(rated.working_capacity_lbf * factor, rel=PRINTED)
    assert p - t * u == pytest.approx(w, rel=PRINTED)
    assert t == rated.coverage_factor


@pytest.mark.parametrize("gap_psi", [0.0, 20.0])
def test_the_printed_parts_give_the_printed_uncertainty_of_the_pull(gap_psi: float) -> None:
    found = text(draft(gap_psi=gap_psi))
    force = number_after("Line pull P = N·f = 20 ×", found)
    share = number_after("√N·σ·f = √20 ×", found)
    match = re.search(rf"own tests: N·√\(({SQUARES})\) = {NUMBER} lbf", found)
    assert match is not None
    own = 20.0 * math.hypot(*_numbers(match[1]))
    assert own == pytest.approx(float(match[match.lastindex or 1].replace(",", "")), rel=PRINTED)
    stand = 20.0 * number_after("N·u_B = 20 ×", found)
    # ± 5 % of use, and ± 3 % for the seals where no unloading was read.
    use = 20.0 * force * math.hypot(0.05, 0.0 if gap_psi else 0.03) / math.sqrt(3.0)
    tape = 20.0 * number_after("N·slope·u_s = 20 ×", found) * 0.125 / math.sqrt(12.0)
    whole = math.hypot(math.sqrt(20.0) * share * force, own, stand, use, tape)
    printed = number_after("(sum of the five squared) =", found)
    assert whole == pytest.approx(printed, rel=PRINTED)


def test_the_printed_terms_give_the_printed_degrees_of_freedom_of_the_example() -> None:
    # A raised 4 comes out of the paper as a plain one.
    found = text(draft(gap_psi=20.0))
    match = re.search(r"infinite ones\): ν = u4/\(([^)]+)\) = ([\d.]+)\. Student’s t, one", found)
    assert match is not None
    terms = re.findall(r"([\d,.]+)4/([\d.]+)", match[1])
    whole = sum(_number(part) ** 4 / _number(freedom) for part, freedom in terms)
    u = number_after("(sum of the five squared) =", found)
    assert u**4 / whole == pytest.approx(_number(match[2]), rel=1e-3)


def test_what_no_unloading_costs_is_taken_off_and_priced() -> None:
    found = text(draft())
    force = number_after("Line pull P = N·f = 20 ×", found)
    measured = re.search(rf"= {NUMBER} × \(1 − 0\.03: no unloading read\) = {NUMBER} lbf", found)
    assert measured is not None
    assert 0.97 * _number(measured[1]) == pytest.approx(force, rel=PRINTED)
    assert re.search(
        rf"No unloading read: reading the unloading too would add about {NUMBER}", found
    )


def test_a_careful_test_is_said_to_have_left_nothing_out() -> None:
    assert "Nothing that the policy prices was left out" in text(draft(gap_psi=20.0))


def test_the_example_stays_within_a_short_tested_stretch() -> None:
    found = text(draft(forces_lbf=[1000.0, 2000.0, 3000.0]))
    assert "20 sound pads, guided, at 3 in" in found


def test_several_tests_are_pooled_with_their_weights() -> None:
    of = lot()
    draft(of, 990.0, pads_in_test=1, pads=marked("A1"))
    draft(of, 1040.0, pads_in_test=1, pads=marked("A2"))
    rating = approved(draft(of, 1010.0))
    found = text(rating)
    assert "updated by 2 pads tested singly" in found
    assert number_after("Σwk =", found) == pytest.approx(rating.rate_lbf_in, rel=PRINTED)
    rows = re.findall(rf"{NUMBER} {NUMBER} ([12]) {NUMBER} {NUMBER} (0\.\d{{5}})", found)
    assert len(rows) == 3
    assert sum(float(row[-1]) for row in rows) == pytest.approx(1.0, abs=2e-5)


def test_a_lot_that_is_not_linear_prints_its_knots() -> None:
    forces = [1500.0, 2700.0, 3600.0, 4300.0, 4800.0, 5100.0]
    rating = approved(draft(forces_lbf=forces))
    found = text(rating)
    assert "Bent: departs from a straight line" in found
    assert "Mean spring rate of the lot" not in found
    assert re.search(rf"Mean force of the lot’s pads: {NUMBER} ± {NUMBER} lbf at 3 in", found)
    assert "Load curve of a mean pad of the lot" in found
    for stretch, force, _ in rating.curve[1:]:
        assert re.search(rf"{stretch:g} {force:,.3f}"[:-1], found)


def test_the_printed_weights_are_those_of_the_printed_parts_where_the_spread_is_assumed() -> None:
    of = lot()
    draft(of, 960.0)
    rating = draft(of, 1060.0, pads_in_test=1)
    found = text(rating)
    tau = number_after("τ =", found)
    rows = re.findall(rf"{NUMBER} {NUMBER} [12] {NUMBER} {NUMBER} (0\.\d{{5}})", found)
    given = [tuple(float(cell.replace(",", "")) for cell in row) for row in rows]
    inverse = [1.0 / (own**2 + pads**2 + tau**2) for _, own, pads, _, _ in given]
    for (*_, weight), each in zip(given, inverse, strict=True):
        assert each / sum(inverse) == pytest.approx(weight, abs=2e-5)
    rate = sum(each * row[0] for each, row in zip(inverse, given, strict=True)) / sum(inverse)
    assert rate == pytest.approx(rating.rate_lbf_in, rel=1e-5)


def test_the_printed_factor_gives_the_printed_expanded_uncertainty() -> None:
    rating = draft(scatter_psi=(30.0, -30.0, 40.0, -30.0, 30.0, -40.0))
    found = text(rating)
    whole, factor = re.findall(
        rf"= {NUMBER}, cut to a whole number[.;] [Cc]overage factor {NUMBER}", found
    )[-1]
    assert float(whole) == pytest.approx(rating.degrees_of_freedom, rel=1e-3)
    shared = number_after("shared standard uncertainty", found)
    expanded = re.findall(rf"expanded uncertainty {NUMBER}", found)[-1]
    assert float(factor) * shared == pytest.approx(float(expanded), rel=PRINTED)
