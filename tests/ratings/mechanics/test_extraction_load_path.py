"""Statics: what hangs below a point is what must be borne there."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given

from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.demand import load_path
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.outcomes import CheckKey
from ratings.mechanics.extraction.unit import Unit
from tests.ratings.mechanics.pulls import JOB, POLICY, UNIT, jobs, units, with_pile


def test_the_path_weight_by_weight_and_force_by_force() -> None:
    path = load_path(UNIT, JOB, POLICY)
    assert [(step.name, step.force_lbf) for step in path.steps] == [
        ("ground", pytest.approx(20_000.0)),
        ("pile", 4_000.0),
        ("clamp", 2_000.0),
        ("exciter", 8_000.0),
        ("housing", 3_000.0),
        ("rigging", 500.0),
        ("hook block", 1_500.0),
    ]
    assert (path.at_pads_lbf, path.at_hook_lbf, path.at_crane_lbf) == pytest.approx(
        (34_000.0, 37_500.0, 39_000.0)
    )


def test_a_plug_is_a_step_of_its_own() -> None:
    path = load_path(UNIT, with_pile(plug_area_in2=144.0), POLICY)
    assert path.steps[2].name == "plug"
    assert path.steps[2].force_lbf == pytest.approx(4_800.0)


def test_nothing_is_known_above_a_weight_that_isnt_on_record() -> None:
    path = load_path(replace(UNIT, housing_weight_lb=None), JOB, POLICY)
    assert path.at_pads_lbf == pytest.approx(34_000.0)
    assert path.at_hook_lbf is None
    assert path.at_crane_lbf is None
    assert [step.total_lbf for step in path.steps[-3:]] == [None, None, None]
    # What is known of the parts above is still told.
    assert path.steps[-2].force_lbf == 500.0


@given(units(), jobs())
def test_at_the_hook_less_housing_and_rigging_is_at_the_pads_is_the_sum_of_the_path(
    unit: Unit, job: Job
) -> None:
    path = load_path(unit, job, POLICY)
    below = [step.force_lbf for step in path.steps[:-3]]
    if any(force is None for force in below):
        assert path.at_pads_lbf is None
        return
    summed = math.fsum(force for force in below if force is not None)
    assert path.at_pads_lbf == pytest.approx(summed, rel=1e-12)
    if path.at_hook_lbf is None or unit.housing_weight_lb is None:
        assert unit.housing_weight_lb is None
        return
    rigging_lb = job.crane.rigging_weight_lb
    assert path.at_hook_lbf - unit.housing_weight_lb - rigging_lb == pytest.approx(summed, rel=1e-9)
    assert path.at_crane_lbf == pytest.approx(path.at_hook_lbf + job.crane.hook_block_lb, rel=1e-12)


@given(units(), jobs())
def test_totals_are_the_sums_up_to_them(unit: Unit, job: Job) -> None:
    so_far: float | None = 0.0
    for step in load_path(unit, job, POLICY).steps:
        so_far = None if so_far is None or step.force_lbf is None else so_far + step.force_lbf
        assert step.total_lbf == (None if so_far is None else pytest.approx(so_far, rel=1e-12))


@given(units(), jobs())
def test_the_checks_ask_for_what_the_path_carries(unit: Unit, job: Job) -> None:
    path, verdict = load_path(unit, job, POLICY), check(unit, job)
    leg = job.crane.leg_factor
    hook = path.at_hook_lbf
    for key, carried in [
        (CheckKey.LINE_PULL, path.at_pads_lbf),
        (CheckKey.CRANE, path.at_crane_lbf),
        (CheckKey.RIGGING, None if hook is None else leg * hook),
    ]:
        found = verdict.check(key)
        assert found is not None
        assert found.demand == (None if carried is None else pytest.approx(carried, rel=1e-12))


@given(jobs())
def test_the_path_begins_with_what_the_ground_holds(job: Job) -> None:
    assert load_path(UNIT, job, POLICY).steps[0].force_lbf == ground(job, POLICY).resistance_lbf
