"""The load on a leg of the rigging: what it lifts over the sine of its angle from the level.

Published, as read: 1,154 and 2,000 lb for 1,000 lb lifted at 60° and 30° from the level (Michigan
State University, orcbs.msu.edu/occ/rigging); 1,000 lb on each of two legs that lift 1,000 lb at 30°
(US Navy training manual 14080, enginemechanics.tpub.com); that a rigid load may hang on two legs
alone, whatever their number (that manual too). 1.414 at 45°, from memory. ASME B30.9 itself was not
opened.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.job import Crane, leg_load_factor
from ratings.mechanics.extraction.outcomes import CheckKey
from tests.ratings.mechanics.pulls import JOB, UNIT, with_crane

FACTORS = [(90.0, 1.0), (60.0, 1.1547), (45.0, 1.4142), (30.0, 2.0)]
# legs, legs that count
LEGS = [(1, 1.0), (2, 2.0), (3, 2.0), (4, 2.0), (6, 2.0)]


@pytest.mark.parametrize(("angle_deg", "factor"), FACTORS)
def test_a_leaning_leg_bears_the_published_factor(angle_deg: float, factor: float) -> None:
    # The 1,154 is cut, not rounded.
    assert leg_load_factor(angle_deg) == pytest.approx(factor, abs=5e-5)


def test_two_legs_at_30_degrees_bear_each_as_much_as_they_lift() -> None:
    # Published, as read in the Navy manual.
    assert Crane(legs=2, leg_angle_deg=30.0).leg_factor == pytest.approx(1.0, rel=1e-14)


@pytest.mark.parametrize(("legs", "counted"), LEGS)
@pytest.mark.parametrize(("angle_deg", "factor"), [(60.0, 1.155), (45.0, 1.414), (30.0, 2.0)])
def test_legs_share_the_load_and_no_more_than_two_of_them(
    angle_deg: float, factor: float, legs: int, counted: float
) -> None:
    crane = Crane(legs=legs, leg_angle_deg=angle_deg)
    assert crane.leg_factor == pytest.approx(factor / counted, rel=5e-4)


def test_one_straight_leg_bears_all() -> None:
    assert Crane().leg_factor == 1.0


def test_the_rigging_check_is_of_one_leg() -> None:
    # By hand: 34,000 at the pads, 3,000 of housing and 500 of rigging; 37,500·1.41421/2.
    job = with_crane(legs=2, leg_angle_deg=45.0)
    rigging = check(UNIT, job).check(CheckKey.RIGGING)
    assert rigging is not None
    assert rigging.demand == pytest.approx(37_500.0 * math.sqrt(2.0) / 2.0, rel=1e-12)
    assert rigging.supply == JOB.crane.rigging_limit_lbf


@pytest.mark.parametrize("given", [0.0, -30.0, math.nan, math.inf, "45", True])
def test_an_angle_that_cant_be_is_refused(given: Any) -> None:
    with pytest.raises(ValueError, match=r"^leg_angle_deg is .*: give"):
        Crane(leg_angle_deg=given)
    with pytest.raises(ValueError, match=r"^angle_deg is .*: give"):
        leg_load_factor(given)


def test_an_angle_beyond_the_upright_is_refused() -> None:
    with pytest.raises(ValueError, match="leg_angle_deg is 120: give 90 or less"):
        Crane(leg_angle_deg=120.0)


@pytest.mark.parametrize("given", [0, -1, 2.5, math.nan, "2", True])
def test_legs_are_counted_in_whole_numbers(given: Any) -> None:
    with pytest.raises(ValueError, match=r"^legs is .*: give"):
        Crane(legs=given)
