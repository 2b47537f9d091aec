"""What a unit's checks come to: a verdict, what governs, and what isn't known."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given

from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.job import Job, PullMethod
from ratings.mechanics.extraction.outcomes import CheckKey, Outcome, Verdict
from ratings.mechanics.extraction.unit import Unit
from tests.ratings.mechanics.pulls import (
    JOB,
    POLICY,
    UNIT,
    held_by,
    jobs,
    units,
    with_crane,
    with_pile,
)

VERDICTS = list(Verdict)
BEARS_WEIGHT = {CheckKey.LINE_PULL, CheckKey.CRANE, CheckKey.RIGGING, CheckKey.CLAMP}
OF_CLAMP = ("clamp_force_lbf",)
OF_OUTCOME = {
    Outcome.HOLDS: Verdict.SUITABLE,
    Outcome.CARE: Verdict.CARE,
    Outcome.UNKNOWN: Verdict.CANNOT_BE_JUDGED,
    Outcome.FAILS: Verdict.NOT_SUITABLE,
}

# a fact of the unit that isn't on record, the checks that are then not known
NOT_ON_RECORD = [
    ("usable_travel_in", {CheckKey.LINE_PULL}),
    (
        "eccentric_moment_lb_in",
        {
            CheckKey.LINE_PULL,
            CheckKey.CENTRIFUGAL,
            CheckKey.AMPLITUDE,
            CheckKey.CLAMP,
            CheckKey.TENSION,
        },
    ),
    ("frequency_vpm", {CheckKey.CENTRIFUGAL, CheckKey.CLAMP, CheckKey.TENSION}),
    (
        "exciter_weight_lb",
        {
            CheckKey.LINE_PULL,
            CheckKey.CRANE,
            CheckKey.RIGGING,
            CheckKey.AMPLITUDE,
            CheckKey.CLAMP,
            CheckKey.TENSION,
        },
    ),
    (
        "clamp_weight_lb",
        {
            CheckKey.LINE_PULL,
            CheckKey.CRANE,
            CheckKey.RIGGING,
            CheckKey.AMPLITUDE,
            CheckKey.CLAMP,
            CheckKey.TENSION,
        },
    ),
    ("housing_weight_lb", {CheckKey.CRANE, CheckKey.RIGGING}),
    ("clamp_force_lbf", {CheckKey.CLAMP}),
]


@pytest.mark.parametrize(("fact", "keys"), NOT_ON_RECORD)
def test_a_fact_that_isnt_on_record_makes_its_checks_not_known(
    fact: str, keys: set[CheckKey]
) -> None:
    unknown: dict[str, Any] = {fact: None}
    verdict = check(replace(UNIT, **unknown), JOB)
    judging = [each for each in verdict.checks if each.judges]
    # Where pads, crane, rigging or clamp can't be judged, nor can the lift once it is free.
    lift = {CheckKey.LIFT} if keys & BEARS_WEIGHT - {CheckKey.CLAMP} or fact in OF_CLAMP else set()
    assert {each.key for each in judging if each.outcome is Outcome.UNKNOWN} == keys | lift
    assert verdict.verdict is Verdict.CANNOT_BE_JUDGED
    assert verdict.governing in keys


@pytest.mark.parametrize(
    ("job", "key"),
    [
        (with_crane(capacity_lbf=None), CheckKey.CRANE),
        (with_crane(rigging_limit_lbf=None), CheckKey.RIGGING),
        (with_pile(area_in2=None), CheckKey.TENSION),
        (with_pile(yield_strength_ksi=None), CheckKey.TENSION),
    ],
)
def test_what_nobody_gave_of_the_job_cant_be_judged(job: Job, key: CheckKey) -> None:
    verdict = check(UNIT, job)
    assert verdict.verdict is Verdict.CANNOT_BE_JUDGED
    assert verdict.governing is key
    assert verdict.margin is None


@given(units(), jobs())
def test_without_the_cranes_capacity_no_unit_is_suitable(unit: Unit, job: Job) -> None:
    verdict = check(unit, with_crane(job, capacity_lbf=None))
    for each in (verdict.verdict, verdict.low, verdict.high):
        assert each in (Verdict.CANNOT_BE_JUDGED, Verdict.NOT_SUITABLE)


@given(units(), jobs())
def test_without_an_eccentric_moment_no_unit_is_suitable_to_vibrate(unit: Unit, job: Job) -> None:
    vibrating = replace(job, method=PullMethod.VIBRATING)
    verdict = check(replace(unit, eccentric_moment_lb_in=None), vibrating)
    for each in (verdict.verdict, verdict.low, verdict.high):
        assert each in (Verdict.CANNOT_BE_JUDGED, Verdict.NOT_SUITABLE)


@given(units(), jobs())
def test_the_worst_outcome_is_the_verdict_and_one_of_that_outcome_governs(
    unit: Unit, job: Job
) -> None:
    verdict = check(unit, job)
    worst = max((each.outcome for each in verdict.checks if each.judges), key=list(Outcome).index)
    assert verdict.verdict is OF_OUTCOME[worst]
    governing = verdict.check(verdict.governing)
    assert governing is not None
    assert governing.outcome is worst
    assert verdict.margin == governing.margin


@given(units(), jobs())
def test_of_the_worst_the_least_margin_governs(unit: Unit, job: Job) -> None:
    verdict = check(unit, job)
    governing = verdict.check(verdict.governing)
    assert governing is not None
    if governing.margin is not None:
        assert governing.margin == min(
            each.margin
            for each in verdict.checks
            if each.judges and each.outcome is governing.outcome and each.margin is not None
        )


@given(units(), jobs())
def test_the_verdict_is_no_better_at_the_high_end_and_no_worse_at_the_low(
    unit: Unit, job: Job
) -> None:
    verdict = check(unit, job)
    ranks = [VERDICTS.index(each) for each in (verdict.low, verdict.verdict, verdict.high)]
    assert ranks == sorted(ranks)
    assert verdict.holds_over_range == (len(set(ranks)) == 1)


@pytest.mark.parametrize(
    ("resistance_lbf", "low", "expected", "high"),
    [
        # With care above 54,500, not at all above 72,500; the range is from 0.7 to 1.5.
        (36_000.0, Verdict.SUITABLE, Verdict.SUITABLE, Verdict.SUITABLE),
        (37_000.0, Verdict.SUITABLE, Verdict.SUITABLE, Verdict.CARE),
        (50_000.0, Verdict.SUITABLE, Verdict.SUITABLE, Verdict.NOT_SUITABLE),
        (60_000.0, Verdict.SUITABLE, Verdict.CARE, Verdict.NOT_SUITABLE),
        (75_000.0, Verdict.SUITABLE, Verdict.NOT_SUITABLE, Verdict.NOT_SUITABLE),
        (100_000.0, Verdict.CARE, Verdict.NOT_SUITABLE, Verdict.NOT_SUITABLE),
    ],
)
def test_the_verdict_at_either_end_of_the_range(
    resistance_lbf: float, low: Verdict, expected: Verdict, high: Verdict
) -> None:
    verdict = check(UNIT, held_by(resistance_lbf))
    assert (verdict.low, verdict.verdict, verdict.high) == (low, expected, high)


def test_a_check_that_fails_outweighs_one_that_isnt_known() -> None:
    verdict = check(replace(UNIT, clamp_force_lbf=1_000.0), with_crane(capacity_lbf=None))
    assert verdict.verdict is Verdict.NOT_SUITABLE
    assert verdict.governing is CheckKey.CLAMP


def test_ground_that_needs_no_amplitude_asks_for_none() -> None:
    job = replace(JOB, layers=(replace(JOB.layers[0], needed_amplitude_in=0.0),))
    found = check(UNIT, job).check(CheckKey.AMPLITUDE)
    assert found is not None
    assert found.outcome is Outcome.HOLDS
    assert found.margin is None


def test_the_policy_of_a_yard_that_never_set_one_is_the_default() -> None:
    assert check(UNIT, JOB) == check(UNIT, JOB, POLICY)
