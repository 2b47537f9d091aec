"""An open pipe: what the soil within holds or weighs, worked by hand.

Published, as read: a static capacity exercise to API RP 2A (2000) takes the unit friction within
as that without, each on its own perimeter (its 20 in pipe with 1 in of wall in 1 m of clay of
2 kPa: 3.192 kN without, 2.872 kN within). API RP 2GEO itself was not opened.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.extraction.check import check, embedment_to_suit_ft
from ratings.mechanics.extraction.demand import demand_curve, load_path
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.holds import HoldKind, OtherHold
from ratings.mechanics.extraction.job import Job, Pile, PileEnd, PileKind, PullMethod
from ratings.mechanics.extraction.outcomes import BEARS_GROUND, CheckKey
from ratings.mechanics.soil import Layer, LayerKind
from tests.ratings.mechanics.pulls import CRANE, GROUND, POLICY, UNIT

# 24 in across, 1/2 in of wall: 23 in within.
OUTSIDE_IN, INSIDE_IN, PLUG_IN2 = math.pi * 24.0, math.pi * 23.0, math.pi / 4.0 * 23.0**2
PIPE = Pile(
    PileKind.PIPE,
    weight_lb_ft=125.6,
    perimeter_in=OUTSIDE_IN,
    length_ft=50.0,
    embedment_ft=40.0,
    area_in2=36.9,
    plug_area_in2=PLUG_IN2,
    yield_strength_ksi=50.0,
    inside_perimeter_in=INSIDE_IN,
)
# By hand: 500 psf · 2π ft · 40 ft = 125,664 lbf without at rest, 0.2 of it 25,133 vibrated; within
# 23/24 of that, 24,085; the plug 2.885 ft² · 40 ft · 120 lb/ft³ = 13,849 lb. Pile 6,280 lb,
# exciter and clamp 10,000 lb.
WITHOUT, WITHIN, PLUG, HANGING = 25_132.74, 24_085.54, 13_849.18, 16_280.0


def with_end(end: PileEnd | None, **more: Any) -> Job:
    return Job(replace(PIPE, end=end), GROUND, CRANE, **more)


@pytest.mark.parametrize(
    ("end", "at_pads"),
    [
        (PileEnd.CLOSED, HANGING + WITHOUT),
        (PileEnd.OPEN_CORED, HANGING + WITHOUT + WITHIN),
        (PileEnd.OPEN_PLUGGED, HANGING + WITHOUT + PLUG),
        (PileEnd.OPEN_UNKNOWN, HANGING + WITHOUT + WITHIN),
    ],
)
def test_the_pads_bear_what_the_end_makes_of_the_soil_within(end: PileEnd, at_pads: float) -> None:
    job = with_end(end)
    pull = check(UNIT, job, POLICY).check(CheckKey.LINE_PULL)
    assert pull is not None
    assert pull.demand == pytest.approx(at_pads, abs=0.05)
    assert load_path(UNIT, job, POLICY).at_pads_lbf == pytest.approx(at_pads, abs=0.05)
    assert demand_curve(UNIT, job, POLICY)[0].expected_lbf == pytest.approx(at_pads, abs=0.05)


def test_a_published_pipe_in_soft_clay_rubs_without_and_within() -> None:
    pile = replace(
        PIPE,
        perimeter_in=math.pi * 20.0,
        inside_perimeter_in=math.pi * 18.0,
        end=PileEnd.OPEN_CORED,
    )
    metre_ft, kn_lbf, kpa_psf = 1.0 / 0.3048, 224.80894, 20.885434
    clay = Layer(LayerKind.OTHER, 0.0, metre_ft, 120.0, friction_psf=2.0 * kpa_psf)
    job = Job(replace(pile, embedment_ft=metre_ft), (clay,), method=PullMethod.STILL)
    held = ground(job, POLICY)
    assert held.outside_lbf == pytest.approx(3.192 * kn_lbf, rel=5e-4)
    assert held.inside_lbf == pytest.approx(2.872 * kn_lbf, rel=5e-4)


def test_the_steps_name_the_soil_within_and_add_up() -> None:
    path = load_path(UNIT, with_end(PileEnd.OPEN_CORED), POLICY)
    steps = {each.name: each.force_lbf for each in path.steps}
    assert steps["ground"] == pytest.approx(WITHOUT, abs=0.05)
    assert steps["soil within"] == pytest.approx(WITHIN, abs=0.05)
    assert "plug" not in steps


def test_a_light_soil_within_weighs_more_than_it_holds_where_the_end_is_not_known() -> None:
    # A hundredth of the friction: the plug's weight is the worse, and its step is told.
    slick = (replace(GROUND[0], friction_psf=5.0),)
    path = load_path(UNIT, replace(with_end(PileEnd.OPEN_UNKNOWN), layers=slick), POLICY)
    assert {"plug", "soil within"} & {each.name for each in path.steps} == {"plug"}


@pytest.mark.parametrize("method", PullMethod)
@pytest.mark.parametrize("friction_psf", [5.0, 100.0, 500.0])
@pytest.mark.parametrize(
    "holds", [(), (OtherHold(HoldKind.CONCRETE, force_lbf=4_000.0, note="spilled"),)]
)
def test_an_end_not_known_takes_the_worse_of_both_in_every_check(
    method: PullMethod, friction_psf: float, holds: tuple[OtherHold, ...]
) -> None:
    layers = (replace(GROUND[0], friction_psf=friction_psf),)
    unknown, cored, plugged = (
        check(UNIT, replace(with_end(end, method=method, holds=holds), layers=layers), POLICY)
        for end in (PileEnd.OPEN_UNKNOWN, PileEnd.OPEN_CORED, PileEnd.OPEN_PLUGGED)
    )
    assert [each.key for each in unknown.checks] == [each.key for each in cored.checks]
    for key in (*BEARS_GROUND, CheckKey.AMPLITUDE):
        found, *both = (each.check(key) for each in (unknown, cored, plugged))
        if found is None:
            continue
        margins = [each.margin for each in both if each is not None and each.margin is not None]
        assert found.margin == pytest.approx(min(margins), rel=1e-12)


@given(st.floats(10.0, 900.0), st.floats(1.0, 1.5))
def test_the_range_of_an_end_not_known_is_as_bad_as_that_of_either(
    friction_psf: float, margin: float
) -> None:
    layers = (replace(GROUND[0], friction_psf=friction_psf),)
    jobs = [
        replace(with_end(end), layers=layers)
        for end in (PileEnd.OPEN_UNKNOWN, PileEnd.OPEN_CORED, PileEnd.OPEN_PLUGGED)
    ]
    order = ["suitable", "suitable with care", "cannot be judged", "not suitable"]
    unknown, cored, plugged = (check(UNIT, each, POLICY) for each in jobs)
    assert unknown.high == max(cored.high, plugged.high, key=order.index)
    assert unknown.low == max(cored.low, plugged.low, key=order.index)
    bites = [embedment_to_suit_ft(UNIT, each, POLICY, margin) or 0.0 for each in jobs]
    assert bites[0] == pytest.approx(min(bites[1:]), abs=1e-4)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_a_wider_inside_or_plug_never_lowers_the_demand(one: float, other: float) -> None:
    shares = [max(each, 1e-6) for each in sorted((one, other))]
    cored = [
        replace(PIPE, end=PileEnd.OPEN_CORED, inside_perimeter_in=INSIDE_IN * each)
        for each in shares
    ]
    plugged = [
        replace(PIPE, end=PileEnd.OPEN_PLUGGED, plug_area_in2=PLUG_IN2 * each) for each in shares
    ]
    for piles in (cored, plugged):
        less, more = (at_pads(replace(with_end(None), pile=each)) for each in piles)
        assert more >= less * (1.0 - 1e-12)


def at_pads(job: Job) -> float:
    demand = load_path(UNIT, job, POLICY).at_pads_lbf
    assert demand is not None
    return demand


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"end": "open, cored", "inside_perimeter_in": 0.0}, "inside_perimeter_in is 0: give it"),
        ({"end": "open, plugged", "plug_area_in2": 0.0}, "plug_area_in2 is 0: give it"),
        ({"end": "open, not known", "plug_area_in2": 0.0}, "plug_area_in2 is 0: give it"),
        ({"end": "open, not known", "inside_perimeter_in": 0.0}, "inside_perimeter_in is 0"),
        ({"end": "open, cored", "inside_perimeter_in": 80.0}, "give less than the 75.3982 in"),
        ({"end": "open"}, "not a valid PileEnd"),
        ({"end": "closed", "kind": "H"}, "only for a pipe"),
        ({"inside_perimeter_in": -1.0}, "give 0 in or more"),
    ],
)
def test_an_end_that_cannot_be_is_refused(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        replace(PIPE, **changes)


def test_a_pile_nobody_was_asked_of_is_judged_as_before() -> None:
    held = ground(with_end(None), POLICY)
    assert held.inside_lbf == 0.0
    assert held.resistance_lbf == pytest.approx(WITHOUT, abs=0.05)
    assert with_end(None).plug_weight_lb == pytest.approx(PLUG, abs=0.05)
