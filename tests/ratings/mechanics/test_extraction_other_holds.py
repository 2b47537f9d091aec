"""What else holds a pile: in the demand of every check, outside the range of the ground."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.extraction.check import (
    check,
    check_piles,
    embedment_to_suit_ft,
)
from ratings.mechanics.extraction.demand import demand_curve, load_path
from ratings.mechanics.extraction.excavation import excavation_to_suit_ft
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.holds import HoldKind, OtherHold
from ratings.mechanics.extraction.job import Job, PileOfJob, PullMethod
from ratings.mechanics.extraction.outcomes import BEARS_GROUND
from ratings.mechanics.extraction.record import answer_record, read_answer
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.soil import Hole
from tests.ratings.mechanics.pulls import JOB, POLICY, UNIT, jobs_with_holds, units

CONCRETE = OtherHold(HoldKind.CONCRETE, force_lbf=5_000.0, note="skirt of lean concrete")
INTERLOCK = OtherHold(HoldKind.INTERLOCK, per_ft_lbf=100.0, note="100 lbf/ft, yard’s own")


def test_a_hold_stands_in_every_check_that_bears_the_ground() -> None:
    plain, held = (check(UNIT, replace(JOB, holds=each), POLICY) for each in ((), (CONCRETE,)))
    for key in BEARS_GROUND:
        before, after = plain.check(key), held.check(key)
        assert before is not None
        assert after is not None
        assert (after.demand or 0.0) - (before.demand or 0.0) == pytest.approx(5_000.0)


@pytest.mark.parametrize("method", PullMethod)
def test_vibration_takes_nothing_off_a_hold_and_the_range_leaves_it(method: PullMethod) -> None:
    plain, held = (
        ground(replace(JOB, method=method, holds=each), POLICY) for each in ((), (CONCRETE,))
    )
    for name in ("low_lbf", "resistance_lbf", "high_lbf"):
        assert getattr(held, name) - getattr(plain, name) == pytest.approx(5_000.0)


def test_a_hold_per_foot_goes_with_the_pile_in_the_ground() -> None:
    job = replace(JOB, holds=(INTERLOCK, replace(INTERLOCK, per_ft_lbf=50.0, length_ft=10.0)))
    assert ground(job, POLICY).holds_lbf == ((HoldKind.INTERLOCK, 4_500.0),)
    assert ground(job, POLICY, 5.0).holds_lbf == ((HoldKind.INTERLOCK, 750.0),)


def test_each_kind_is_a_step_of_the_path_and_all_add_up() -> None:
    path = load_path(UNIT, replace(JOB, holds=(CONCRETE, INTERLOCK)), POLICY)
    steps = {each.name: each.force_lbf for each in path.steps}
    assert steps["ground"] == pytest.approx(20_000.0)
    assert steps["concrete or grout"] == 5_000.0
    assert steps["interlock friction"] == 4_000.0
    assert path.at_pads_lbf == pytest.approx(20_000.0 + 9_000.0 + 4_000.0 + 10_000.0)
    curve = demand_curve(UNIT, replace(JOB, holds=(CONCRETE, INTERLOCK)), POLICY)
    assert curve[0].expected_lbf == pytest.approx(path.at_pads_lbf)


def test_a_hold_nobody_put_a_figure_on_adds_nothing() -> None:
    noted = OtherHold(HoldKind.DAMAGE, note="bent at 12 ft")
    assert not noted.is_known
    assert ground(replace(JOB, holds=(noted,)), POLICY) == ground(JOB, POLICY)


def test_no_embedment_suits_where_a_hold_alone_is_too_much() -> None:
    # Good for 100,000 at the crane’s chart, the hold itself is 150,000.
    held = replace(JOB, holds=(replace(CONCRETE, force_lbf=150_000.0),))
    assert embedment_to_suit_ft(UNIT, held, POLICY) is None
    assert excavation_to_suit_ft(UNIT, held, POLICY) is None


@given(st.sampled_from(HoldKind), st.floats(0.0, 1e5), st.floats(0.0, 1e5))
def test_a_stronger_hold_never_asks_less(kind: HoldKind, one: float, other: float) -> None:
    for name in ("force_lbf", "per_ft_lbf"):
        less, more = (
            ground(replace(JOB, holds=(OtherHold(kind, note="so", **{name: each}),)), POLICY)
            for each in sorted((one, other))
        )
        assert less.resistance_lbf <= more.resistance_lbf


@given(jobs_with_holds(), st.floats(0.0, 1.0))
def test_less_pile_in_the_ground_never_asks_more_whatever_holds_it(job: Job, share: float) -> None:
    whole = ground(job, POLICY)
    raised = ground(job, POLICY, share * job.pile.embedment_ft)
    assert raised.resistance_lbf <= whole.resistance_lbf * (1.0 + 1e-12)
    dug = ground(job, POLICY, hole=Hole(share * job.pile.embedment_ft))
    assert dug.resistance_lbf <= whole.resistance_lbf * (1.0 + 1e-12)
    # The soil within stays; the hole's bottom cuts a piece in two, and the middles of two are less.
    assert 0.9 * whole.inside_lbf <= dug.inside_lbf <= whole.inside_lbf * (1.0 + 1e-12)
    assert whole.low_lbf <= whole.resistance_lbf <= whole.high_lbf


@given(units(), jobs_with_holds())
def test_no_verdict_is_better_for_a_hold(unit: Unit, job: Job) -> None:
    free, held = (check(unit, replace(job, holds=each), POLICY) for each in ((), job.holds))
    for one in free.checks:
        other = held.check(one.key)
        assert other is not None
        if one.margin is not None and other.margin is not None:
            assert other.margin <= one.margin * (1.0 + 1e-12)


@given(units(), jobs_with_holds())
def test_a_recorded_answer_reads_back_with_its_end_and_holds(unit: Unit, job: Job) -> None:
    piles = (PileOfJob(1, "north row", 3, job),)
    verdict = check_piles(unit, piles, POLICY)
    read = read_answer(json.loads(json.dumps(answer_record(unit, piles, POLICY, verdict))))
    assert read[1] == piles
    assert check_piles(*read) == verdict


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"force_lbf": 1.0, "per_ft_lbf": 1.0, "note": "x"}, "give one of them"),
        ({"force_lbf": -1.0, "note": "x"}, "give 0 lbf or more"),
        ({"per_ft_lbf": float("inf"), "note": "x"}, "finite"),
        ({"length_ft": 5.0, "note": "x"}, "give per_ft_lbf with it"),
        ({"force_lbf": 1.0, "note": "  "}, "note is blank"),
        ({"kind": "glue", "note": "x"}, "not a valid HoldKind"),
    ],
)
def test_a_hold_that_cannot_be_is_refused(fields: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        OtherHold(**{"kind": HoldKind.OTHER} | fields)
