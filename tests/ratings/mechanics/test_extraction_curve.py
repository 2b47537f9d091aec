"""How the demand falls as the pile comes out, and from where a unit would suit."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.extraction.check import check, embedment_to_suit_ft
from ratings.mechanics.extraction.demand import demand_curve, load_path
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job, PullMethod
from ratings.mechanics.extraction.outcomes import CheckKey
from ratings.mechanics.extraction.unit import Unit
from tests.ratings.mechanics.pulls import (
    JOB,
    PADS,
    POLICY,
    UNIT,
    held_by,
    jobs,
    units,
    with_crane,
    with_pile,
)


def test_the_curve_begins_with_the_demand_at_full_embedment() -> None:
    first = demand_curve(UNIT, JOB, POLICY)[0]
    assert first.embedment_ft == 40.0
    # 14,000 hang below the pads; 0.7, 1 and 1.5 of 20,000 lbf hold.
    assert (first.low_lbf, first.expected_lbf, first.high_lbf) == pytest.approx(
        (28_000.0, 34_000.0, 44_000.0), rel=1e-12
    )


def test_the_curve_ends_with_the_weights_alone() -> None:
    last = demand_curve(UNIT, JOB, POLICY)[-1]
    assert (last.embedment_ft, last.low_lbf, last.expected_lbf, last.high_lbf) == (
        0.0,
        14_000.0,
        14_000.0,
        14_000.0,
    )


def test_half_out_of_even_ground_half_of_it_holds() -> None:
    middle = next(
        point
        for point in demand_curve(UNIT, JOB, POLICY)
        if point.embedment_ft == pytest.approx(20)
    )
    assert middle.expected_lbf == pytest.approx(24_000.0, rel=1e-12)


@pytest.mark.parametrize("fact", ["exciter_weight_lb", "clamp_weight_lb"])
def test_there_is_no_curve_without_the_weights_below_the_pads(fact: str) -> None:
    unknown: dict[str, Any] = {fact: None}
    assert demand_curve(replace(UNIT, **unknown), JOB, POLICY) == ()


@given(jobs())
def test_the_demand_never_rises_on_the_way_out(job: Job) -> None:
    for before, after in pairwise(demand_curve(UNIT, job, POLICY)):
        assert after.embedment_ft < before.embedment_ft
        assert after.low_lbf <= before.low_lbf * (1.0 + 1e-12)
        assert after.expected_lbf <= before.expected_lbf * (1.0 + 1e-12)
        assert after.high_lbf <= before.high_lbf * (1.0 + 1e-12)


@given(jobs())
def test_it_begins_where_the_load_path_is(job: Job) -> None:
    first = demand_curve(UNIT, job, POLICY)[0]
    assert first.expected_lbf == pytest.approx(load_path(UNIT, job, POLICY).at_pads_lbf, rel=1e-12)
    assert first.low_lbf <= first.expected_lbf <= first.high_lbf


def test_a_unit_that_suits_as_it_is_may_take_the_whole_embedment() -> None:
    assert embedment_to_suit_ft(UNIT, JOB, POLICY) == 40.0
    assert embedment_to_suit_ft(UNIT, JOB, POLICY, 1.25) == 40.0


def test_the_embedment_from_which_it_suits_worked_by_hand() -> None:
    # 100,000 lbf over 40 ft; the rigging lets 72,500 pass: 29 ft. With a margin of 1.25, 54,500:
    # 21.8 ft.
    job = held_by(100_000.0)
    assert embedment_to_suit_ft(UNIT, job, POLICY) == pytest.approx(29.0, abs=1e-4)
    assert embedment_to_suit_ft(UNIT, job, POLICY, 1.25) == pytest.approx(21.8, abs=1e-4)


def test_there_is_none_where_the_weights_alone_are_too_much() -> None:
    assert embedment_to_suit_ft(UNIT, with_crane(capacity_lbf=15_000.0), POLICY) is None


def test_there_is_none_where_a_check_isnt_known() -> None:
    assert embedment_to_suit_ft(UNIT, with_crane(capacity_lbf=None), POLICY) is None


@given(jobs(), st.floats(0.02, 1.0), st.sampled_from([1.0, 1.25]))
def test_at_that_embedment_every_check_of_force_holds_and_a_little_deeper_one_doesnt(
    job: Job, share: float, margin: float
) -> None:
    # The crane takes all weights and a share of the ground, and all else is strong enough. A plug
    # keeps the weight of the beginning, so it is left out.
    full_ft = job.pile.embedment_ft
    job = replace(with_pile(job, plug_area_in2=0.0, tension_limit_lbf=1e8), method=PullMethod.STILL)
    held = ground(job, POLICY).resistance_lbf
    weights = 13_000.0 + job.pile.weight_lb + job.crane.rigging_weight_lb + job.crane.hook_block_lb
    # A hair more, for a share of so much over that share may round below it.
    capacity = margin * (weights + share * held) / POLICY.crane_share * (1.0 + 1e-12)
    job = with_crane(job, capacity_lbf=capacity, rigging_limit_lbf=1e8)
    strong = replace(
        UNIT,
        groups=(replace(PADS, count=30_000),),
        clamp_force_lbf=1e8,
    )
    embedment_ft = embedment_to_suit_ft(strong, job, POLICY, margin)
    assert embedment_ft is not None
    assert 0.0 <= embedment_ft <= full_ft
    assert ground(job, POLICY, embedment_ft).resistance_lbf <= share * held * (1.0 + 1e-9) + 1e-3
    # Deeper it holds more, unless the ground there holds with nothing more.
    if embedment_ft < full_ft * 0.9999:
        deeper_ft = min(full_ft, embedment_ft + full_ft * 1e-6)
        at_deeper = check(strong, with_pile(job, embedment_ft=deeper_ft)).check(CheckKey.CRANE)
        assert at_deeper is not None
        assert at_deeper.margin is not None
        assert at_deeper.margin <= margin * (1.0 + 1e-9)


@given(units(), jobs())
def test_a_wider_margin_never_allows_more_embedment(unit: Unit, job: Job) -> None:
    plain = embedment_to_suit_ft(unit, job, POLICY)
    wide = embedment_to_suit_ft(unit, job, POLICY, 1.25)
    if wide is not None:
        assert plain is not None
        assert wide <= plain + 1e-6 * job.pile.embedment_ft
