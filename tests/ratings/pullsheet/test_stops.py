"""The hook load to stop at is that at which the first of pads, crane, rigging and grip is full."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from ratings.jobs.stops import BEARS_PULL
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.demand import load_path
from ratings.mechanics.extraction.outcomes import CheckKey
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.linepull import most_pull_at
from ratings.pullsheet.facts import Sheet
from tests.ratings.pullsheet.printed import JOB, PADS, UNIT, printed, sheet

ABOVE_LB = 4000.0 + 800.0
BLOCK_LB = 2000.0


def test_the_pads_alone_stop_it_at_their_working_capacity() -> None:
    made = sheet()
    assert made.stops.by is CheckKey.LINE_PULL
    assert made.stops.hook_lbf == pytest.approx(made.capacity_lbf + ABOVE_LB + BLOCK_LB)
    assert made.pads_stop_in == 5.625


def test_the_crane_stops_it_at_its_chart_less_the_yard_s_margin() -> None:
    made = sheet(crane={"capacity_lbf": 75_000.0})
    assert made.stops.by is made.stops.stretch_by is CheckKey.CRANE
    # The yard's margin is 1.25.
    assert made.stops.hook_lbf == pytest.approx(60_000.0)
    assert made.stops.at_pads_lbf[CheckKey.CRANE] == pytest.approx(60_000.0 - ABOVE_LB - BLOCK_LB)
    assert made.stops_before_line


def test_of_the_chart_only_the_share_a_pull_may_use_counts() -> None:
    made = sheet(crane={"capacity_lbf": 100_000.0}, policy=ExtractionPolicy(crane_share=0.75))
    assert made.stops.hook_lbf == pytest.approx(0.75 * 100_000.0 / 1.25)


def test_where_the_margin_is_used_up_nothing_more_than_the_pull_expected_is_allowed() -> None:
    hook = sheet().worst.hook_lbf
    made = sheet(crane={"capacity_lbf": 1.1 * hook})
    assert made.stops.hook_lbf == pytest.approx(hook)
    assert made.stops.margin_used_up == (CheckKey.CRANE,)


# 16 pads of 1,000 lbf/in, each in doubt by 20 lbf/in and 30 from pad to pad.
CRANE_AT_PADS = 60_000.0 - ABOVE_LB - BLOCK_LB


def test_the_stretch_to_stop_at_is_by_the_stiff_side_of_the_pads() -> None:
    made = sheet(crane={"capacity_lbf": 75_000.0})
    assert made.stops.stretch_in is not None
    at_stop = most_pull_at(UNIT.stiff_groups, made.stops.stretch_in, 0.02, 0.95)
    assert at_stop == pytest.approx(CRANE_AT_PADS)
    # By the best estimate it would be longer, and a stiff unit past its limit there.
    assert made.stops.stretch_in < CRANE_AT_PADS / 16_000.0
    assert made.stop_in <= made.stops.stretch_in


def test_pads_that_do_not_count_pull_all_the_same() -> None:
    cracked = replace(PADS, count=8)
    made = sheet(unit=replace(UNIT, stiff_groups=(PADS, cracked)), crane={"capacity_lbf": 75_000.0})
    assert made.stops.stretch_in is not None
    assert made.stops.stretch_in < CRANE_AT_PADS / 24_000.0


@pytest.mark.parametrize("unknown", ["2 pads of no known lot", None])
def test_with_pads_of_no_known_stiffness_there_is_no_stretch_to_stop_at(
    unknown: str | None,
) -> None:
    made = sheet(unit=replace(UNIT, unknown_stiffness=unknown), crane={"capacity_lbf": 75_000.0})
    assert made.is_by_load
    found = printed(made)
    assert "Stop by the load indicator 30.0 tons" in found
    assert "no stretch stands for the crane’s limit" in found
    assert "Never past 5 5/8 in." in found
    assert "No load indicator that reads true: do not pull." in found
    assert "whichever comes first" not in found


def test_a_limit_the_stiffest_pads_reach_nowhere_leaves_the_pads_their_own_stop() -> None:
    made = sheet(
        unit=replace(UNIT, clamp_force_lbf=1e6),
        crane={"capacity_lbf": 500_000.0, "rigging_limit_lbf": 500_000.0},
    )
    assert made.stops.stretch_in == math.inf
    assert made.stop_in == made.pads_stop_in == 5.625


def test_a_crane_limit_above_the_capacity_proven_still_sets_the_stop_of_stiff_pads() -> None:
    # Above the 87,000 lbf proven there, below what the stiffest pads may pull.
    limit = 1.25 * (88_500.0 + ABOVE_LB + BLOCK_LB)
    made = sheet(crane={"capacity_lbf": limit, "rigging_limit_lbf": 500_000.0})
    assert made.stops.by is CheckKey.LINE_PULL
    assert made.stops.stretch_by is CheckKey.CRANE
    assert made.stop_in < made.pads_stop_in


@pytest.mark.parametrize(("legs", "counted"), [(1, 1), (2, 2), (3, 2), (4, 2)])
def test_the_rigging_stops_it_at_what_its_legs_bear_together(legs: int, counted: int) -> None:
    limit = 54_000.0 / counted
    made = sheet(crane={"rigging_limit_lbf": limit, "legs": legs, "leg_angle_deg": 90.0})
    assert made.stops.by is CheckKey.RIGGING
    # The block hangs above the rigging.
    assert made.stops.hook_lbf == pytest.approx(54_000.0 / 1.25 + BLOCK_LB)


def test_the_clamp_stops_it_before_its_jaws_slip() -> None:
    grip = check(UNIT, JOB).check(CheckKey.CLAMP)
    assert grip is not None
    assert grip.demand is not None
    # 5,000 lbf more than is expected of it, and the margin: 2 jaws × 0.3.
    unit = replace(UNIT, clamp_force_lbf=1.25 * (grip.demand + 5_000.0) / 0.6)
    made = sheet(unit=unit)
    assert made.stops.by is CheckKey.CLAMP
    assert made.stops.at_pads_lbf[CheckKey.CLAMP] == pytest.approx(made.expected_lbf + 5_000.0)


@pytest.mark.parametrize(
    "crane",
    [{}, {"capacity_lbf": 80_000.0}, {"rigging_limit_lbf": 60_000.0, "leg_angle_deg": 75.0}],
)
def test_just_below_it_every_check_holds_with_the_margin_and_just_above_one_does_not(
    crane: dict[str, Any],
) -> None:
    made = sheet(crane=crane)
    assert _short(made, made.stops.hook_lbf * 0.999) == set()
    assert _short(made, made.stops.hook_lbf * 1.001) == {made.stops.by}


def _short(made: Sheet, hook_lbf: float) -> set[CheckKey]:
    """Which limits are passed, margin and all, where the ground holds so much that the hook bears
    this; of the pads their capacity, which needs no margin more.
    """
    unit, job, ground = made.answer.unit, made.answer.job, made.answer.ground
    at_crane_lbf = load_path(unit, job, ExtractionPolicy()).at_crane_lbf
    assert at_crane_lbf is not None
    wanted = ground.resistance_lbf + hook_lbf - at_crane_lbf
    share = wanted / ground.resistance_lbf
    held = replace(job, set_up=replace(job.set_up, expected=share, high=max(share, 1.0),
                                            low=min(share, 1.0)))  # fmt: skip
    return {
        each.key
        for each in check(unit, held, made.answer.policy).checks
        if each.key in BEARS_PULL
        and each.margin is not None
        and each.margin < (1.0 if each.key is CheckKey.LINE_PULL else 1.25)
    }
