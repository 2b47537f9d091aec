"""With a pocket calculator, from the printed figures to the printed rate and capacity."""

from __future__ import annotations

import math
import re

import pytest

from ratings.mechanics.linepull import PadGroup, line_pull
from ratings.models import LotRating
from tests.builders import marked
from tests.ratings.certificate.lots import STRETCHES_IN, approved, draft, lot
from tests.ratings.certificate.printed import NUMBER, number_after, text

pytestmark = pytest.mark.django_db

# Half of the last of seven digits, and a little for the division.
PRINTED = 2e-6


def group(rating: LotRating) -> PadGroup:
    """Twenty pads of a rating, taken from its record alone."""
    infinite = math.inf
    return PadGroup(
        count=20,
        rate_lbf_in=rating.rate_lbf_in,
        tested_stretch_in=rating.tested_stretch_in,
        standard_error_lbf_in=rating.common_uncertainty_lbf_in,
        spread_lbf_in=rating.spread_lbf_in or 0.05 * rating.rate_lbf_in,
        degrees_of_freedom=rating.degrees_of_freedom or infinite,
        spread_degrees_of_freedom=rating.spread_degrees_of_freedom or infinite,
    )


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
def test_the_worked_example_is_the_mechanics_own(system: str) -> None:
    rating = approved(draft(gap_psi=20.0))
    pull = line_pull([group(rating)], 5.0, 0.125 / math.sqrt(12.0), 0.95)
    found = text(rating, system)
    factor = 0.0044482216152605 if system == "si" else 1.0
    words = re.search(
        rf"W = P − t·u\(P\) = {NUMBER} \w+ − {NUMBER} × {NUMBER} \w+ = {NUMBER}", found
    )
    assert words is not None
    p, t, u, w = (float(each.replace(",", "")) for each in words.groups())
    assert w == pytest.approx(pull.working_capacity_lbf * factor, rel=PRINTED)
    assert p - t * u == pytest.approx(w, rel=PRINTED)
    assert t == pull.coverage_factor


def test_the_three_parts_give_the_printed_uncertainty_of_the_pull() -> None:
    found = text(draft())
    spread = number_after("each for itself: √N·σ·s = √20 ×", found)
    shared = number_after("N·u·s = 20 ×", found)
    slope = number_after("N·slope·u_s = 20 ×", found)
    whole = math.hypot(
        math.sqrt(20) * spread * 5.0, 20 * shared * 5.0, 20 * slope * 0.125 / math.sqrt(12)
    )
    printed = number_after("(sum of the three squared) =", found)
    assert whole == pytest.approx(printed, rel=PRINTED)


def test_the_example_stays_within_a_short_tested_stretch() -> None:
    found = text(draft(forces_lbf=[1000.0, 2000.0, 3000.0]))
    assert "20 sound pads at 3 in" in found


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
    assert "Not linear" in found
    assert "Load curve of one pad" in found
    for stretch, force, _ in rating.curve[1:]:
        assert re.search(rf"{stretch:g} {force:,.3f}"[:-1], found)
    assert "N·f(s) = 20 ×" in found


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
