"""Both criteria of the ground's hold are shown, and which one judges."""

from __future__ import annotations

from dataclasses import replace

from ratings.jobs.answer_page import criteria, other_criterion_words
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.job import PullMethod
from ratings.mechanics.extraction.outcomes import CheckKey, Verdict
from ratings.mechanics.extraction.rules import Criterion, ExtractionPolicy
from tests.ratings.jobs.plain_unit import JOB, UNIT

ALONE = ExtractionPolicy()
ADDED = replace(ALONE, criterion=Criterion.ADDED.value)


def test_the_yards_rule_comes_first() -> None:
    for policy, name in ((ALONE, "each alone"), (ADDED, "added together")):
        first, second = criteria(check(UNIT, JOB, policy), policy)
        assert name in first.name
        assert (first.is_rule, second.is_rule) == (True, False)


def test_each_names_its_checks_with_their_margins() -> None:
    verdict = check(UNIT, JOB, ALONE)
    first, second = criteria(verdict, ALONE)
    for key, line in (
        (CheckKey.LINE_PULL, first),
        (CheckKey.CENTRIFUGAL, first),
        (CheckKey.TOGETHER, second),
        (CheckKey.ACCELERATION, second),
    ):
        found = verdict.check(key)
        assert found is not None
        assert found.margin is not None
        assert f"{key} {int(found.margin * 100) / 100:.2f}×" in line.words


def test_a_row_says_where_the_other_criterion_comes_out_otherwise() -> None:
    # Pads too soft to carry it alone, that carry it with the turning weights' help.
    soft = replace(UNIT, groups=(replace(UNIT.groups[0], rate_lbf_in=350.0),))
    verdict = check(soft, JOB, ALONE)
    assert verdict.verdict is Verdict.NOT_SUITABLE
    told = other_criterion_words(verdict, ALONE)
    assert told.startswith("By the other criterion, vibration and line pull added together")
    assert ": holds (" in told
    assert check(soft, JOB, ADDED).verdict.may_go


def test_a_row_says_nothing_where_both_come_to_the_same() -> None:
    assert other_criterion_words(check(UNIT, JOB, ALONE), ALONE) == ""


def test_a_pull_with_the_hammer_still_has_no_second_criterion() -> None:
    still = replace(JOB, method=PullMethod.STILL)
    assert criteria(check(UNIT, still, ALONE), ALONE) == ()


def test_a_margin_nobody_knows_is_told_so() -> None:
    unknown = replace(UNIT, frequency_vpm=None)
    first, second = criteria(check(unknown, JOB, ALONE), ALONE)
    assert "centrifugal force not known" in first.words
    assert "peak acceleration not known" in second.words
