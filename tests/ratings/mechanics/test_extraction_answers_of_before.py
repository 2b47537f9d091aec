"""Answers of formats 1 and 2 come to the same to the last digit, as they were written then.

The cases were written by the version that last wrote format 2, from units and jobs drawn at random
and from a few chosen; what each format says of the soils no layer names was left out.
"""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
import rfc8785

from ratings.mechanics.extraction.outcomes import ConditionKey, ConditionState
from ratings.mechanics.extraction.record import read_answer, recorded_verdict, verdict_again

CASES: dict[str, list[dict[str, Any]]] = json.loads(
    (Path(__file__).parents[2] / "cases" / "answers_of_formats_1_and_2.json").read_text()
)
EVERY = [(form, place) for form, listed in CASES.items() for place in range(len(listed))]
STATES = ("standing", "inspection", "service", "rating", "dates", "distance")


def plain(value: Any) -> Any:
    return json.loads(rfc8785.dumps(value))


@pytest.mark.parametrize(("form", "place"), EVERY)
def test_it_comes_to_the_same_to_the_last_digit(form: str, place: int) -> None:
    record = CASES[form][place]
    assert plain(verdict_again(record)) == record["verdict"]


@pytest.mark.parametrize(("form", "place"), EVERY)
def test_it_is_shown_by_the_words_it_was_given_in(form: str, place: int) -> None:
    then, now = CASES[form][place]["verdict"], recorded_verdict(CASES[form][place])
    assert (now.verdict, now.low, now.high) == (then["verdict"], then["low"], then["high"])
    shown = [*(str(each.key) for each in now.checks), *(str(each.key) for each in now.conditions)]
    assert shown == [each["key"] for each in then["checks"]]
    if then["governing"] not in STATES:
        assert now.governing == then["governing"]
        assert now.margin == then["margin"]


def test_cases_have_every_verdict_and_a_state_that_governed() -> None:
    verdicts = [each["verdict"] for listed in CASES.values() for each in listed]
    assert {each["verdict"] for each in verdicts} == {
        "suitable",
        "suitable with care",
        "cannot be judged",
        "not suitable",
    }
    assert any(each["governing"] in STATES for each in verdicts)


def test_the_whole_of_the_chart_was_allowed() -> None:
    for listed in CASES.values():
        for record in listed:
            _unit, (pile,), policy = read_answer(record)
            assert policy.crane_share == 1.0
            assert pile.number == pile.count == 1


def test_a_digit_changed_in_it_is_found() -> None:
    record = copy.deepcopy(CASES["format 2"][0])
    record["verdict"]["checks"][0]["demand"] += 1e-9 * record["verdict"]["checks"][0]["demand"]
    assert plain(verdict_again(record)) != record["verdict"]


def test_a_state_that_failed_then_stands_in_the_way_now() -> None:
    record = next(
        each
        for each in CASES["format 2"]
        if each["unit"]["out_of_service"] and each["verdict"]["verdict"] == "not suitable"
    )
    condition = recorded_verdict(record).condition(ConditionKey.SERVICE)
    assert condition is not None
    assert condition.state is ConditionState.BLOCKS
