"""The resistance above which a verdict flips does flip it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import assume, given

from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job, SetUp
from ratings.mechanics.extraction.outcomes import CheckKey, Outcome, UnitVerdict, Verdict
from ratings.mechanics.extraction.unit import Unit
from tests.ratings.mechanics.pulls import JOB, POLICY, UNIT, held_by, jobs, units, with_crane

OF_GROUND = {
    CheckKey.LINE_PULL,
    CheckKey.CRANE,
    CheckKey.RIGGING,
    CheckKey.CENTRIFUGAL,
    CheckKey.CLAMP,
    CheckKey.TENSION,
}
HAIR = 1e-9


def outcomes(verdict: UnitVerdict) -> set[Outcome]:
    return {each.outcome for each in verdict.checks if each.key in OF_GROUND}


def holding(job: Job, resistance_lbf: float) -> Job:
    """The same job in ground that has set up until it holds so much."""
    at_one = ground(replace(job, set_up=SetUp()), POLICY).resistance_lbf
    assume(at_one > 1.0)
    factor = resistance_lbf / at_one
    assume(0.0 < factor < 1e6)
    return replace(job, set_up=SetUp(factor, factor, factor))


def test_just_below_and_just_above() -> None:
    flip_lbf = check(UNIT, JOB).flip_lbf
    assert flip_lbf is not None
    assert check(UNIT, held_by(flip_lbf * (1.0 - HAIR))).verdict is Verdict.CARE
    assert check(UNIT, held_by(flip_lbf * (1.0 + HAIR))).verdict is Verdict.NOT_SUITABLE


def test_just_below_and_just_above_where_care_begins() -> None:
    flip_lbf = check(UNIT, JOB).care_flip_lbf
    assert flip_lbf is not None
    assert check(UNIT, held_by(flip_lbf * (1.0 - HAIR))).verdict is Verdict.SUITABLE
    assert check(UNIT, held_by(flip_lbf * (1.0 + HAIR))).verdict is Verdict.CARE


def test_where_it_flips_doesnt_depend_on_what_the_ground_is_expected_to_hold() -> None:
    expected = check(UNIT, JOB).flip_lbf
    for resistance_lbf in (1.0, 40_000.0, 300_000.0):
        assert check(UNIT, held_by(resistance_lbf)).flip_lbf == pytest.approx(expected, rel=1e-12)


@given(units(), jobs())
def test_no_check_of_force_fails_below_and_one_does_above(unit: Unit, job: Job) -> None:
    flip_lbf = check(unit, job).flip_lbf
    assume(flip_lbf is not None and flip_lbf > 1.0)
    assert flip_lbf is not None
    below = check(unit, holding(job, flip_lbf * (1.0 - HAIR)))
    above = check(unit, holding(job, flip_lbf * (1.0 + HAIR)))
    assert Outcome.FAILS not in outcomes(below)
    assert Outcome.FAILS in outcomes(above)
    assert above.verdict is Verdict.NOT_SUITABLE


@given(units(), jobs())
def test_no_check_of_force_asks_for_care_below_and_one_does_above(unit: Unit, job: Job) -> None:
    flip_lbf = check(unit, job).care_flip_lbf
    assume(flip_lbf is not None and flip_lbf > 1.0)
    assert flip_lbf is not None
    below = outcomes(check(unit, holding(job, flip_lbf * (1.0 - HAIR))))
    above = outcomes(check(unit, holding(job, flip_lbf * (1.0 + HAIR))))
    assert not below & {Outcome.CARE, Outcome.FAILS}
    assert above & {Outcome.CARE, Outcome.FAILS}


@given(units(), jobs())
def test_care_begins_no_later_than_it_fails(unit: Unit, job: Job) -> None:
    verdict = check(unit, job)
    if verdict.flip_lbf is None:
        assert verdict.care_flip_lbf is None
    else:
        assert verdict.care_flip_lbf is not None
        assert 0.0 <= verdict.care_flip_lbf <= verdict.flip_lbf


def test_a_unit_that_cant_lift_the_weights_alone_flips_at_nothing() -> None:
    verdict = check(UNIT, with_crane(capacity_lbf=15_000.0))
    assert verdict.flip_lbf == 0.0
    assert verdict.verdict is Verdict.NOT_SUITABLE


def test_it_isnt_known_where_nothing_of_the_ground_can_be_calculated() -> None:
    unit = Unit(mark="Bare")
    verdict = check(unit, JOB)
    assert (verdict.flip_lbf, verdict.care_flip_lbf) == (None, None)
