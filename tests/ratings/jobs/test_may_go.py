"""Whether a unit may go is said first, whatever its forces."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ratings.jobs.may_go import Go, may_go_of, standings_words
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.outcomes import (
    CheckKey,
    Condition,
    ConditionKey,
    ConditionState,
    Verdict,
)
from ratings.mechanics.extraction.outcomes import UnitVerdict as Judged
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.standing import Standing
from tests.ratings.mechanics.pulls import JOB, UNIT


def judged(verdict: Verdict, **states: ConditionState) -> Judged:
    conditions = tuple(
        Condition(key, states.get(key.name, ConditionState.HOLDS)) for key in ConditionKey
    )
    return replace(check(UNIT, JOB), verdict=verdict, conditions=conditions)


def test_a_unit_of_good_forces_that_is_held_is_not_to_be_sent() -> None:
    found = may_go_of(
        judged(Verdict.SUITABLE, DATES=ConditionState.BLOCKS), replace(UNIT, committed="Pier 4")
    )
    assert found.words == "do not send: held by Pier 4"


def test_what_is_to_be_done_first_is_named() -> None:
    found = may_go_of(judged(Verdict.SUITABLE, INSPECTION=ConditionState.TO_DO), UNIT)
    assert found.words == "not yet: first to be put right: inspection overdue"


@pytest.mark.parametrize(
    ("verdict", "state", "reason"),
    [
        (Verdict.SUITABLE, Go.GO, ()),
        (Verdict.CARE, Go.CARE, ("a force inside the margin for care",)),
        (Verdict.CANNOT_BE_JUDGED, Go.NO, ("its forces cannot be judged",)),
        (Verdict.NOT_SUITABLE, Go.NO, ("its forces fall short",)),
    ],
)
def test_where_every_condition_holds_the_forces_decide(
    verdict: Verdict, state: Go, reason: tuple[str, ...]
) -> None:
    found = may_go_of(judged(verdict), UNIT)
    assert (found.state, found.reasons) == (state, reason)


def test_forces_that_fall_short_are_told_before_the_conditions() -> None:
    found = may_go_of(judged(Verdict.NOT_SUITABLE, SERVICE=ConditionState.BLOCKS), UNIT)
    assert found.reasons == ("its forces fall short", "out of service")


def test_care_of_a_force_and_of_a_condition_are_both_told() -> None:
    found = may_go_of(judged(Verdict.CARE, STANDING=ConditionState.CARE), UNIT)
    assert found.reasons == ("a force inside the margin for care", str(UNIT.standing))


def test_a_crane_with_next_to_nothing_to_spare_is_never_hidden_behind_a_standing() -> None:
    found = check(replace(UNIT, standing=Standing.NOT_PROVEN), JOB)
    crane = found.check(CheckKey.CRANE)
    assert crane is not None
    tight = replace(JOB, crane=replace(JOB.crane, capacity_lbf=(crane.demand or 0.0) * 1.01 / 0.75))
    verdict = check(replace(UNIT, standing=Standing.NOT_PROVEN), tight)
    assert (verdict.governing, verdict.verdict) == (CheckKey.CRANE, Verdict.CARE)
    assert may_go_of(verdict, replace(UNIT, standing=Standing.NOT_PROVEN)).reasons[0] == (
        "a force inside the margin for care"
    )


def test_which_standings_may_go_is_worded_by_the_rules() -> None:
    assert standings_words(ExtractionPolicy()) == (
        "Units in service that meet listing may go out; one not proven, only with care."
    )
    softer = standings_words(ExtractionPolicy(below_listing="care"))
    assert "below listing" in softer
    assert "unrated" not in softer
