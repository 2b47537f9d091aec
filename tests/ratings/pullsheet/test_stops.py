"""The hook load to stop at is that at which the first of pads, crane, rigging and grip is full."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.demand import load_path
from ratings.mechanics.extraction.outcomes import CheckKey, Outcome
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.pullsheet.facts import Sheet
from tests.ratings.pullsheet.printed import JOB, UNIT, sheet

ABOVE_LB = 4000.0 + 800.0
BLOCK_LB = 2000.0


def test_the_pads_alone_stop_it_at_their_working_capacity() -> None:
    made = sheet()
    assert made.stops.by is CheckKey.LINE_PULL
    assert made.stops.hook_lbf == pytest.approx(made.capacity_lbf + ABOVE_LB + BLOCK_LB)
    assert made.stops.stretch_in == pytest.approx(made.capacity_in)
    assert not made.stops_before_line


def test_the_crane_stops_it_at_the_share_of_its_chart() -> None:
    # 75 % of 80,000.
    made = sheet(crane={"capacity_lbf": 80_000.0})
    assert made.stops.by is CheckKey.CRANE
    assert made.stops.hook_lbf == pytest.approx(60_000.0)
    assert made.stops.at_pads_lbf[CheckKey.CRANE] == pytest.approx(60_000.0 - ABOVE_LB - BLOCK_LB)
    # 16 pads of 1,000 lbf/in.
    assert made.stops.stretch_in == pytest.approx((60_000.0 - ABOVE_LB - BLOCK_LB) / 16_000.0)
    assert made.stops_before_line


@pytest.mark.parametrize(("legs", "counted"), [(1, 1), (2, 2), (3, 2), (4, 2)])
def test_the_rigging_stops_it_at_what_its_legs_bear_together(legs: int, counted: int) -> None:
    limit = 54_000.0 / counted
    made = sheet(crane={"rigging_limit_lbf": limit, "legs": legs, "leg_angle_deg": 90.0})
    assert made.stops.by is CheckKey.RIGGING
    # The block hangs above the rigging.
    assert made.stops.hook_lbf == pytest.approx(54_000.0 + BLOCK_LB)


def test_the_clamp_stops_it_before_its_jaws_slip() -> None:
    grip = check(UNIT, JOB).check(CheckKey.CLAMP)
    assert grip is not None
    assert grip.demand is not None
    # 5,000 lbf more than is expected of it: 2 jaws × 0.3.
    unit = replace(UNIT, clamp_force_lbf=(grip.demand + 5_000.0) / 0.6)
    made = sheet(unit=unit)
    assert made.stops.by is CheckKey.CLAMP
    assert made.stops.at_pads_lbf[CheckKey.CLAMP] == pytest.approx(made.expected_lbf + 5_000.0)


@pytest.mark.parametrize(
    "crane",
    [{}, {"capacity_lbf": 80_000.0}, {"rigging_limit_lbf": 60_000.0, "leg_angle_deg": 75.0}],
)
def test_just_below_it_every_check_holds_and_just_above_one_fails(crane: dict[str, Any]) -> None:
    made = sheet(crane=crane)
    assert _fails(made, made.stops.hook_lbf * 0.999) == set()
    assert _fails(made, made.stops.hook_lbf * 1.001) == {made.stops.by}


def _fails(made: Sheet, hook_lbf: float) -> set[CheckKey]:
    """Which checks fail where the ground holds so much that the hook bears this."""
    unit, job, ground = made.answer.unit, made.answer.job, made.answer.ground
    at_crane_lbf = load_path(unit, job, ExtractionPolicy()).at_crane_lbf
    assert at_crane_lbf is not None
    wanted = ground.resistance_lbf + hook_lbf - at_crane_lbf
    share = wanted / ground.resistance_lbf
    held = replace(job, set_up=replace(job.set_up, expected=share, high=max(share, 1.0),
                                            low=min(share, 1.0)))  # fmt: skip
    return {each.key for each in check(unit, held).checks if each.outcome is Outcome.FAILS}
