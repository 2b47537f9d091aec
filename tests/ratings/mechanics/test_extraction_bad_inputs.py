"""A pile, a crane, a unit or a policy that can't be is refused by name and value."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Crane, Job, Pile, SetUp
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.soils import SoilResponse
from ratings.mechanics.extraction.supply import capacity_lbf, stretch_at_pull_in
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.soil import LayerFault
from tests.ratings.mechanics.pulls import CRANE, JOB, PILE, POLICY, UNIT, with_pile

NEVER: list[object] = ["5", math.nan, math.inf, -math.inf, 1e308, 10**400, True]

Call = Callable[[Any], object]


def pile(name: str) -> Call:
    return lambda value: replace(PILE, **{name: value})


def crane(name: str) -> Call:
    return lambda value: replace(CRANE, **{name: value})


def job(name: str) -> Call:
    return lambda value: replace(JOB, **{name: value})


def unit(name: str) -> Call:
    return lambda value: replace(UNIT, **{name: value})


def policy(name: str) -> Call:
    return lambda value: replace(POLICY, **{name: value})


# argument as its message names it, a call that gives it a value, whether zero is refused too
ARGUMENTS: list[tuple[str, Call, bool]] = [
    ("weight_lb_ft", pile("weight_lb_ft"), True),
    ("perimeter_in", pile("perimeter_in"), True),
    ("length_ft", pile("length_ft"), True),
    ("embedment_ft", pile("embedment_ft"), True),
    ("area_in2", pile("area_in2"), True),
    ("plug_area_in2", pile("plug_area_in2"), False),
    ("yield_strength_ksi", pile("yield_strength_ksi"), True),
    ("tension_limit_lbf", pile("tension_limit_lbf"), True),
    ("capacity_lbf", crane("capacity_lbf"), True),
    ("hook_block_lb", crane("hook_block_lb"), False),
    ("rigging_weight_lb", crane("rigging_weight_lb"), False),
    ("rigging_limit_lbf", crane("rigging_limit_lbf"), True),
    ("set-up low", lambda v: SetUp(v, 1.0, 1.0), True),
    ("set-up expected", lambda v: SetUp(1.0, v, 1.0), True),
    ("set-up high", lambda v: SetUp(1.0, 1.0, v), True),
    ("haul_limit_mi", job("haul_limit_mi"), False),
    ("usable_travel_in", unit("usable_travel_in"), True),
    ("travel_uncertainty_in", unit("travel_uncertainty_in"), False),
    ("eccentric_moment_lb_in", unit("eccentric_moment_lb_in"), True),
    ("frequency_vpm", unit("frequency_vpm"), True),
    ("exciter_weight_lb", unit("exciter_weight_lb"), True),
    ("clamp_weight_lb", unit("clamp_weight_lb"), False),
    ("clamp_force_lbf", unit("clamp_force_lbf"), True),
    ("housing_weight_lb", unit("housing_weight_lb"), False),
    ("distance_mi", unit("distance_mi"), False),
    ("care_margin", policy("care_margin"), True),
    ("low_factor", policy("low_factor"), True),
    ("high_factor", policy("high_factor"), True),
    ("jaw_friction", policy("jaw_friction"), True),
    ("steel_share", policy("steel_share"), True),
    ("factor", lambda v: SoilResponse("mud", v, "yard trial", 0.2), True),
    ("needed_amplitude_in", lambda v: SoilResponse("mud", 0.2, "yard trial", v), False),
]


@pytest.mark.parametrize("given", NEVER)
@pytest.mark.parametrize(("name", "call", "refuses_zero"), ARGUMENTS)
def test_no_other_kind_of_number_is_taken(
    name: str, call: Call, refuses_zero: bool, given: object
) -> None:
    with pytest.raises(ValueError, match=rf"^{name} is .*: give"):
        call(given)


@pytest.mark.parametrize(("name", "call", "refuses_zero"), ARGUMENTS)
def test_nothing_below_zero_is_taken(name: str, call: Call, refuses_zero: bool) -> None:
    with pytest.raises(ValueError, match=re.escape(f"{name} is -1: give")):
        call(-1.0)


@pytest.mark.parametrize(("name", "call", "refuses_zero"), ARGUMENTS)
def test_zero_is_taken_only_where_it_can_be(name: str, call: Call, refuses_zero: bool) -> None:
    if refuses_zero:
        with pytest.raises(ValueError, match=re.escape(f"{name} is 0: give more than 0")):
            call(0.0)
    else:
        call(0.0)


@pytest.mark.parametrize("given", ["5", math.nan, math.inf, True])
def test_the_water_must_be_a_number_of_either_sign(given: Any) -> None:
    assert replace(JOB, water_depth_ft=-4.0).water_depth_ft == -4.0
    with pytest.raises(ValueError, match=r"^water_depth_ft is .*: give"):
        replace(JOB, water_depth_ft=given)


@pytest.mark.parametrize("given", ["5", math.nan, math.inf, 1.5, True])
def test_days_since_an_inspection_are_counted(given: Any) -> None:
    with pytest.raises(ValueError, match=r"^days_since_count is .*: give"):
        replace(UNIT, days_since_count=given)


def test_an_inspection_after_the_first_day_counts_as_of_that_day() -> None:
    assert replace(UNIT, days_since_count=-3).days_since_count == 0


@pytest.mark.parametrize("given", [0, -1, 2.5, "31", math.nan, True])
def test_days_an_inspection_holds_are_counted(given: Any) -> None:
    with pytest.raises(ValueError, match=r"^inspection_days is .*: give"):
        ExtractionPolicy(inspection_days=given)


def test_a_pile_isnt_deeper_in_the_ground_than_it_is_long() -> None:
    with pytest.raises(
        ValueError, match="embedment_ft is 51: give no more than the length of 50 ft"
    ):
        replace(PILE, embedment_ft=51.0)


def test_a_pile_may_stand_in_the_ground_to_its_head() -> None:
    assert replace(PILE, embedment_ft=50.0).embedment_ft == 50.0


def test_rigging_that_cant_lift_itself_is_refused() -> None:
    with pytest.raises(ValueError, match=r"rigging_limit_lbf is 400: give more .* 500 lb"):
        replace(CRANE, rigging_limit_lbf=400.0)


def test_set_up_rises_from_low_to_high() -> None:
    with pytest.raises(ValueError, match=r"set-up is 1\.2, 1, 1\.5: give them rising"):
        SetUp(1.2, 1.0, 1.5)


def test_a_unit_is_worth_no_more_beyond_what_its_lots_were_tested_to() -> None:
    # No extrapolation: 24 pads of 1,000 lbf/in tested to 6 in.
    beyond = replace(UNIT, usable_travel_in=6.5)
    assert capacity_lbf(beyond, 6.5) == 144_000.0
    assert stretch_at_pull_in(beyond, 144_000.0) is None
    with pytest.raises(ValueError, match=r"stretch_in is 6\.5: .*tested stretch of 6 in"):
        capacity_lbf(replace(beyond, rating_format=1), 6.5)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"care_margin": 0.9}, "care_margin is 0.9: give 1 or more"),
        ({"low_factor": 1.1}, "must have 1 between them"),
        ({"high_factor": 0.9}, "must have 1 between them"),
        ({"steel_share": 1.1}, "steel_share is 1.1: give 1 or less"),
        ({"below_listing": "allow"}, "below_listing is 'allow': give 'refuse' or 'care'"),
    ],
)
def test_a_policy_that_cant_be_is_refused(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=re.escape(says)):
        ExtractionPolicy(**changes)


@pytest.mark.parametrize("given", [0.5, 1.0, math.nan, "0.95", True])
def test_a_confidence_that_cant_be_is_refused_when_the_unit_is_judged(given: Any) -> None:
    with pytest.raises(ValueError, match=r"^confidence is .*: give"):
        check(replace(UNIT, confidence=given), JOB)


@pytest.mark.parametrize(
    "call",
    [
        lambda: pile("kind")("stone"),
        lambda: job("method")("stone"),
        lambda: unit("standing")("stone"),
    ],
)
def test_a_word_it_doesnt_know_is_refused_by_name(call: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match="stone"):
        call()


def test_layers_that_end_above_the_toe_are_refused_at_the_last() -> None:
    with pytest.raises(LayerFault, match="end at 40 ft, the toe is at 45 ft") as refused:
        check(UNIT, with_pile(embedment_ft=45.0))
    assert (refused.value.layer, refused.value.field) == (0, "bottom_ft")


def test_no_more_of_the_pile_is_asked_about_than_the_ground_is_known_for() -> None:
    with pytest.raises(LayerFault, match="toe"):
        ground(JOB, POLICY, 41.0)


def test_a_job_without_a_crane_or_a_unit_without_a_fact_can_be_asked_about() -> None:
    bare = Job(Pile(PILE.kind, 80.0, 60.0, 50.0, 40.0), JOB.layers)
    assert bare.crane == Crane()
    assert check(Unit(mark="Bare"), bare).mark == "Bare"
