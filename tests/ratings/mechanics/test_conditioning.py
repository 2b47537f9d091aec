"""Rubber is conditioned before the cycle that counts, as standards for its shear modulus ask.

ISO 1827:2011 (quadruple shear), method A: its clause 11.1.2 was read in part, in a stored copy of
a page; it names mechanical conditioning before the measurement. That it asks for five cycles, and
that annex A1 of ASTM D4014 loads six times and measures on the sixth, is from memory. A yard's
policy asks for three by default (common practice); it can ask for as many as a standard does.
"""

from __future__ import annotations

import math

import pytest

from ratings.mechanics.lot_rate import lot_rate_of
from ratings.mechanics.shortcuts import Shortcut
from ratings.mechanics.unit_rating import Policy, kept_share
from tests.ratings.mechanics.test_lot_rate import made

CYCLES_OF_ISO_1827 = 5
CYCLES_BEFORE_THE_SIXTH_OF_ASTM_D4014 = 5
# How much stiffer invented rubber is in each stretch than once it is worked in: 8 %, 4 %, 2 %...
STIFFER_AT_FIRST = 0.08


def stiffness(stretches_before: int) -> float:
    return 1000.0 * (1.0 + STIFFER_AT_FIRST * 0.5**stretches_before)


@pytest.mark.parametrize("cycles", [CYCLES_OF_ISO_1827, CYCLES_BEFORE_THE_SIXTH_OF_ASTM_D4014])
def test_a_yard_that_conditions_as_the_standards_do_pays_nothing_and_rates_what_is_there(
    cycles: int,
) -> None:
    policy = Policy(conditioning_cycles=cycles)
    rate = lot_rate_of("L", [made("1", 0.0, stiffness(cycles), conditioning_cycles=cycles)], policy)
    assert kept_share(rate, policy) == 1.0
    # What is left of the first stretch is less than a gauge of grade 2A can show.
    assert rate.rate_lbf_in == pytest.approx(1000.0, rel=0.005)


@pytest.mark.parametrize("cycles", range(CYCLES_OF_ISO_1827))
def test_a_test_with_fewer_cycles_is_not_conditioned_and_is_rated_no_higher_than_worked_in_rubber(
    cycles: int,
) -> None:
    policy = Policy(conditioning_cycles=CYCLES_OF_ISO_1827)
    test = made("1", 0.0, stiffness(cycles), conditioning_cycles=cycles)
    assert test.shortcuts(policy) == (Shortcut.NOT_CONDITIONED,)
    rate = lot_rate_of("L", [test], policy)
    assert rate.rate_lbf_in * kept_share(rate, policy) < 1000.0


def test_three_cycles_leave_a_hundredth_of_the_force_where_each_halves_the_rest() -> None:
    left = stiffness(Policy().conditioning_cycles) / stiffness(1000) - 1.0
    assert left == pytest.approx(0.01, rel=1e-12)
    # Well inside the conditions of use, ± 5 % alike.
    assert left < Policy().conditions_pct / 100.0 / math.sqrt(3.0)
