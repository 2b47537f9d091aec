"""A fleet checked together: every unit fares as it would alone."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.extraction.check import check, check_fleet, ranking
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.extraction.outcomes import Verdict
from ratings.mechanics.extraction.rules import BelowListing, ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.soil import LayerFault
from tests.ratings.mechanics.pulls import JOB, POLICY, UNIT, jobs, units, with_crane

fleets = st.lists(units(), min_size=1, max_size=6)
policies = st.sampled_from(
    [
        POLICY,
        ExtractionPolicy(
            care_margin=1.6, low_factor=0.4, high_factor=3.0, below_listing=BelowListing.CARE
        ),
    ]
)


@given(fleets, jobs(), policies)
def test_one_unit_alone_gets_the_same_verdict_as_among_others(
    fleet: list[Unit], job: Job, policy: ExtractionPolicy
) -> None:
    judged = check_fleet(fleet, job, policy)
    assert len(judged) == len(fleet)
    for place, unit in enumerate(fleet):
        # Equal in every field, to the last digit.
        assert judged[place] == check(unit, job, policy)


@given(fleets, jobs(), st.randoms(use_true_random=False))
def test_the_order_of_the_fleet_changes_no_verdict(
    fleet: list[Unit], job: Job, random: Random
) -> None:
    order = list(range(len(fleet)))
    random.shuffle(order)
    judged, shuffled = check_fleet(fleet, job), check_fleet([fleet[at] for at in order], job)
    for place, at in enumerate(order):
        assert shuffled[place] == judged[at]


@given(fleets, jobs())
def test_the_ranking_names_every_unit_once_better_verdicts_first(
    fleet: list[Unit], job: Job
) -> None:
    judged = check_fleet(fleet, job)
    places = ranking(judged)
    assert sorted(places) == list(range(len(fleet)))
    ranks = [list(Verdict).index(judged[place].verdict) for place in places]
    assert ranks == sorted(ranks)


def test_of_the_same_verdict_the_larger_margin_comes_first() -> None:
    # What governs is the clamp's grip, then the rigging.
    weak, middling, strong = (
        replace(UNIT, mark=str(force), clamp_force_lbf=force)
        for force in (200_000.0, 250_000.0, 300_000.0)
    )
    assert ranking(check_fleet([middling, weak, strong], JOB)) == [2, 0, 1]


def test_units_alike_stay_in_the_order_given() -> None:
    assert ranking(check_fleet([UNIT, UNIT, UNIT], JOB)) == [0, 1, 2]


def test_a_unit_with_no_figure_comes_after_those_with_some() -> None:
    bare = Unit(mark="Bare", standing=UNIT.standing, days_since_count=1)
    unsure = replace(UNIT, clamp_force_lbf=None)
    judged = check_fleet([bare, unsure, UNIT], JOB)
    assert ranking(judged) == [2, 1, 0]
    assert [each.verdict for each in judged] == [
        Verdict.CANNOT_BE_JUDGED,
        Verdict.CANNOT_BE_JUDGED,
        Verdict.SUITABLE,
    ]


def test_no_unit_outranks_a_better_verdict_by_its_margin() -> None:
    strong_but_away = replace(UNIT, clamp_force_lbf=900_000.0, committed="Ferry slip")
    assert ranking(check_fleet([strong_but_away, UNIT], JOB)) == [1, 0]


def test_a_yard_without_a_unit_has_an_answer_without_a_row() -> None:
    assert check_fleet([], JOB) == []
    assert ranking([]) == []


def test_where_nobody_read_the_cranes_chart_no_unit_of_a_fleet_is_suitable() -> None:
    judged = check_fleet([UNIT] * 3, with_crane(capacity_lbf=None))
    assert [each.verdict for each in judged] == [Verdict.CANNOT_BE_JUDGED] * 3


def test_ground_that_wont_do_is_refused_before_any_unit_is_judged() -> None:
    with pytest.raises(LayerFault, match="toe"):
        check_fleet([], replace(JOB, layers=(replace(JOB.layers[0], bottom_ft=30.0),)))
