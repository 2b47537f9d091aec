"""What must be so beside the forces: on every day of the hold, and what is still to do."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.extraction.check import check, ranking
from ratings.mechanics.extraction.job import Job, PileKind
from ratings.mechanics.extraction.outcomes import (
    Condition,
    ConditionKey,
    ConditionState,
    UnitVerdict,
    Verdict,
    worst_conditions,
)
from ratings.mechanics.extraction.rules import BelowListing, ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import PadGroup
from ratings.mechanics.standing import Standing
from tests.ratings.mechanics.pulls import JOB, POLICY, UNIT, jobs, units

HOLDS, CARE = ConditionState.HOLDS, ConditionState.CARE
TO_DO, BLOCKS = ConditionState.TO_DO, ConditionState.BLOCKS
STATES = list(ConditionState)


def judged(job: Job = JOB, policy: ExtractionPolicy = POLICY, **changes: Any) -> UnitVerdict:
    return check(replace(UNIT, **changes), job, policy)


def state(key: ConditionKey, verdict: UnitVerdict) -> ConditionState:
    found = verdict.condition(key)
    assert found is not None
    return found.state


# changes of the unit, the condition they touch, its state on the day, its state ahead of it
CHANGES: list[tuple[dict[str, Any], ConditionKey, ConditionState, ConditionState]] = [
    ({}, ConditionKey.STANDING, HOLDS, HOLDS),
    ({"standing": Standing.NOT_PROVEN}, ConditionKey.STANDING, CARE, CARE),
    ({"standing": Standing.BELOW_LISTING}, ConditionKey.STANDING, BLOCKS, TO_DO),
    ({"standing": Standing.UNRATED}, ConditionKey.STANDING, BLOCKS, TO_DO),
    ({"days_since_count": 31}, ConditionKey.INSPECTION, HOLDS, HOLDS),
    ({"days_since_count": 32}, ConditionKey.INSPECTION, BLOCKS, TO_DO),
    ({"days_since_count": None}, ConditionKey.INSPECTION, BLOCKS, TO_DO),
    ({"days_since_count": 21, "days_held": 10}, ConditionKey.INSPECTION, HOLDS, HOLDS),
    # It lapses while the unit is held: counted again in time, or due on the site.
    ({"days_since_count": 22, "days_held": 10}, ConditionKey.INSPECTION, CARE, TO_DO),
    # No count made before it lasts so long.
    ({"days_since_count": 1, "days_held": 40}, ConditionKey.INSPECTION, CARE, CARE),
    ({"out_of_service": "cracked bumper"}, ConditionKey.SERVICE, BLOCKS, TO_DO),
    ({"stale_lots": ("P1",)}, ConditionKey.RATING, CARE, CARE),
    ({"lapsing_lots": ("P1",)}, ConditionKey.RATING, CARE, CARE),
    ({"lapsing_lots": ("P1",), "drops_stale": True}, ConditionKey.RATING, BLOCKS, TO_DO),
    ({"calibration_lapsing": ()}, ConditionKey.CALIBRATION, HOLDS, HOLDS),
    ({"calibration_lapsing": ("LI-2",)}, ConditionKey.CALIBRATION, BLOCKS, TO_DO),
    ({"watched_by": "LI-2", "calibration_lapsing": ()}, ConditionKey.CALIBRATION, HOLDS, HOLDS),
    # Of no known stiffness, the load alone tells where to stop.
    ({"watched_by": ""}, ConditionKey.CALIBRATION, CARE, CARE),
    ({"clamp_kinds": (PileKind.H,)}, ConditionKey.CLAMP_KIND, HOLDS, HOLDS),
    ({"clamp_kinds": (PileKind.PIPE,)}, ConditionKey.CLAMP_KIND, BLOCKS, BLOCKS),
    ({"clamp_kinds": ()}, ConditionKey.CLAMP_KIND, BLOCKS, BLOCKS),
    # What is not on record can be entered at any time, and must be.
    ({"clamp_kinds": None}, ConditionKey.CLAMP_KIND, TO_DO, TO_DO),
    ({"committed": "Ferry slip"}, ConditionKey.DATES, BLOCKS, BLOCKS),
]


@pytest.mark.parametrize(("changes", "key", "on_the_day", "ahead"), CHANGES)
def test_a_condition_on_the_first_day_and_ahead_of_it(
    changes: dict[str, Any],
    key: ConditionKey,
    on_the_day: ConditionState,
    ahead: ConditionState,
) -> None:
    assert state(key, judged(**changes)) is on_the_day
    assert state(key, judged(is_ahead=True, **changes)) is ahead


@pytest.mark.parametrize(("changes", "key", "on_the_day", "ahead"), CHANGES)
def test_no_condition_touches_the_verdict_of_the_forces(
    changes: dict[str, Any], key: ConditionKey, on_the_day: ConditionState, ahead: ConditionState
) -> None:
    verdict, plain = judged(**changes), judged()
    assert (verdict.verdict, verdict.governing, verdict.margin) == (
        plain.verdict,
        plain.governing,
        plain.margin,
    )
    assert verdict.may_go is (on_the_day in (HOLDS, CARE))
    assert judged(is_ahead=True, **changes).may_be_promised is (ahead is not BLOCKS)


def test_nothing_is_asked_of_a_calibration_nobody_named() -> None:
    assert judged().condition(ConditionKey.CALIBRATION) is None


# 24 pads of 1,000 lbf/in tested to 6 in; what crane or rigging may hold is beyond 5 in of them.
@pytest.mark.parametrize(
    ("unknown", "tested_in", "found"),
    [("", 6.0, None), ("", 4.0, CARE), ("2 pads of P9", 6.0, CARE), (None, 6.0, CARE)],
)
def test_a_load_indicator_is_missed_only_where_no_stretch_tells_where_to_stop(
    unknown: str | None, tested_in: float, found: ConditionState | None
) -> None:
    soft = PadGroup(24, 100.0, tested_in)
    verdict = judged(watched_by="", stiff_groups=(soft,), unknown_stiffness=unknown)
    condition = verdict.condition(ConditionKey.CALIBRATION)
    assert (condition.state if condition else None) is found


def test_a_yard_may_let_a_unit_below_its_listing_go_with_care() -> None:
    lenient = ExtractionPolicy(below_listing=BelowListing.CARE)
    verdict = judged(policy=lenient, standing=Standing.BELOW_LISTING)
    assert state(ConditionKey.STANDING, verdict) is CARE
    assert verdict.asks_care


@pytest.mark.parametrize(
    ("distance_mi", "limit_mi", "found"),
    [(10.0, None, HOLDS), (10.0, 10.0, HOLDS), (11.0, 10.0, CARE), (None, 10.0, None)],
)
def test_a_yard_too_far_is_a_matter_of_care(
    distance_mi: float | None, limit_mi: float | None, found: ConditionState | None
) -> None:
    verdict = judged(replace(JOB, haul_limit_mi=limit_mi), distance_mi=distance_mi)
    condition = verdict.condition(ConditionKey.DISTANCE)
    assert (condition.state if condition else None) is found


def test_an_inspection_tells_its_age_on_the_first_day_and_the_last() -> None:
    condition = judged(days_since_count=20, days_held=9).condition(ConditionKey.INSPECTION)
    assert condition is not None
    assert (condition.value, condition.limit, condition.last_value) == (20.0, 31.0, 29.0)


def test_forces_that_fall_short_let_no_unit_go_whatever_its_conditions() -> None:
    verdict = judged(clamp_force_lbf=1_000.0)
    assert verdict.verdict is Verdict.NOT_SUITABLE
    assert not verdict.may_go
    assert not verdict.may_be_promised


@given(units(), jobs(), st.integers(0, 60))
def test_a_longer_hold_never_makes_the_inspection_stand_better(
    unit: Unit, job: Job, more: int
) -> None:
    # A count that no hold so long can keep is watched on the site: of those ahead it is no task.
    unit = replace(unit, is_ahead=False)
    longer = replace(unit, days_held=unit.days_held + more)
    before, after = (
        STATES.index(state(ConditionKey.INSPECTION, check(each, job))) for each in (unit, longer)
    )
    assert after >= before


@given(units(), jobs())
def test_what_is_ahead_is_never_judged_worse_than_on_the_day(unit: Unit, job: Job) -> None:
    ahead, today = (check(replace(unit, is_ahead=is_ahead), job) for is_ahead in (True, False))
    assert ahead.verdict is today.verdict
    assert ahead.may_be_promised >= today.may_be_promised


@given(units(), jobs())
def test_a_clamp_that_holds_more_kinds_never_stands_worse(unit: Unit, job: Job) -> None:
    more = replace(unit, clamp_kinds=tuple(PileKind))
    assert state(ConditionKey.CLAMP_KIND, check(more, job)) is HOLDS


@given(units(), jobs())
def test_what_may_go_may_be_promised(unit: Unit, job: Job) -> None:
    verdict = check(unit, job)
    assert not verdict.may_go or verdict.may_be_promised


def test_what_may_be_promised_ranks_before_better_forces_that_may_not() -> None:
    held = judged(committed="Ferry slip")
    weaker = judged(clamp_force_lbf=160_000.0)
    assert weaker.margin is not None
    assert held.margin is not None
    assert weaker.margin < held.margin
    assert ranking([held, weaker]) == [1, 0]


def test_of_two_alike_the_one_with_less_to_do_ranks_first() -> None:
    one, two = (
        judged(clamp_kinds=None),
        judged(clamp_kinds=None, is_ahead=True, out_of_service="burst hose"),
    )
    assert ranking([two, one, judged()]) == [2, 1, 0]


def test_of_several_lists_each_condition_stands_as_in_the_worst() -> None:
    easy = (Condition(ConditionKey.CLAMP_KIND, HOLDS), Condition(ConditionKey.DATES, CARE))
    hard = (Condition(ConditionKey.CLAMP_KIND, BLOCKS), Condition(ConditionKey.DATES, HOLDS))
    assert {each.key: each.state for each in worst_conditions([easy, hard])} == {
        ConditionKey.CLAMP_KIND: BLOCKS,
        ConditionKey.DATES: CARE,
    }
