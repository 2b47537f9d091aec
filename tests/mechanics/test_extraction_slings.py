"""The load on a leg of the rigging: what it lifts over the sine of its angle from the level.

Published, as read: chart of tension factors at ashleysling.com/calculating-sling-angles (60° 1.155,
45° 1.414, 30° 2); that a bridle of four legs is reckoned as three, in the notes of
tooljolt.com/tools/sling-tension-four-leg-bridle and in a practice question of the EPRI rigger's
handbook. ASME B30.9 itself was not opened. A rigid load may hang on two legs alone (US Navy
training manual 14080, as read at enginemechanics.tpub.com): then enter two.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.job import Crane, leg_load_factor
from ratings.mechanics.extraction.verdict import CheckKey
from tests.mechanics.pulls import JOB, UNIT, with_crane

CHART = [(90.0, 1.0), (75.0, 1.035), (60.0, 1.155), (45.0, 1.414), (35.0, 1.742), (30.0, 2.0)]
# legs, legs that count
LEGS = [(1, 1.0), (2, 2.0), (3, 3.0), (4, 3.0), (6, 3.0)]


@pytest.mark.parametrize(("angle_deg", "factor"), CHART)
def test_a_leaning_leg_bears_the_published_factor(angle_deg: float, factor: float) -> None:
    # Some of the chart's third decimals are cut, not rounded: 1.7434 at 35° stands there as 1.742.
    assert leg_load_factor(angle_deg) == pytest.approx(factor, abs=1.5e-3)


@pytest.mark.parametrize(("legs", "counted"), LEGS)
@pytest.mark.parametrize(("angle_deg", "factor"), [(60.0, 1.155), (45.0, 1.414), (30.0, 2.0)])
def test_legs_share_the_load_and_no_more_than_three_of_them(
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
