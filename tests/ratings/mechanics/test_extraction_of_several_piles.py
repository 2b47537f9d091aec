"""A job of several groups of piles: the verdict is that of the one that comes out worst."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.extraction.check import check, check_fleet_piles, check_piles
from ratings.mechanics.extraction.job import Job, PileKind, PileOfJob
from ratings.mechanics.extraction.outcomes import ConditionKey, ConditionState, Verdict
from ratings.mechanics.extraction.unit import Unit
from tests.ratings.mechanics.pulls import JOB, UNIT, held_by, jobs, one, units, with_pile

EASY, HARD = PileOfJob(1, "short", 4, held_by(20_000.0)), PileOfJob(2, "long", 2, held_by(60_000.0))


@pytest.mark.parametrize("piles", [(EASY, HARD), (HARD, EASY)])
def test_the_hardest_group_is_the_verdict(piles: tuple[PileOfJob, ...]) -> None:
    verdict = check_piles(UNIT, piles)
    assert verdict.pile == HARD.number
    assert verdict.checks == check(UNIT, HARD.job).checks
    assert [each.pile for each in verdict.piles] == [each.number for each in piles]
    assert check_piles(UNIT, (EASY,)).verdict is Verdict.SUITABLE


def test_one_group_is_judged_as_a_pile_alone() -> None:
    alone, grouped = check(UNIT, JOB), check_piles(UNIT, one())
    assert replace(grouped, piles=()) == alone
    assert grouped.piles == (alone,)


def test_a_clamp_must_hold_the_piles_of_every_group() -> None:
    pipes = PileOfJob(2, "pipes", 1, with_pile(kind=PileKind.PIPE, tension_limit_lbf=1e6))
    verdict = check_piles(replace(UNIT, clamp_kinds=(PileKind.H,)), (*one(), pipes))
    condition = verdict.condition(ConditionKey.CLAMP_KIND)
    assert condition is not None
    assert condition.state is ConditionState.BLOCKS
    assert not verdict.may_be_promised


@given(units(), jobs(), st.lists(jobs(), max_size=2))
def test_one_more_group_never_makes_a_verdict_better(
    unit: Unit, job: Job, others: list[Job]
) -> None:
    listed = tuple(
        PileOfJob(number, "", 1, each) for number, each in enumerate([job, *others], start=1)
    )
    alone, together = check_piles(unit, listed[:1]), check_piles(unit, listed)
    order = list(Verdict)
    for before, after in (
        (alone.verdict, together.verdict),
        (alone.low, together.low),
        (alone.high, together.high),
    ):
        assert order.index(after) >= order.index(before)
    assert together.may_go <= alone.may_go


def test_a_fleet_is_judged_as_each_of_its_units() -> None:
    weak = replace(UNIT, clamp_force_lbf=50_000.0)
    piles = (EASY, HARD)
    assert check_fleet_piles([UNIT, weak], piles) == [
        check_piles(UNIT, piles),
        check_piles(weak, piles),
    ]


def test_no_pile_at_all_is_refused() -> None:
    with pytest.raises(ValueError, match="piles is empty"):
        check_piles(UNIT, ())
