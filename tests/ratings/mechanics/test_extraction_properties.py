"""What must hold of the demand at the pads whatever the numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.demand import load_path
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job, PullMethod, SetUp
from ratings.mechanics.extraction.outcomes import Verdict
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.soil import WATER_LB_FT3, Layer, LayerKind
from tests.ratings.mechanics.pulls import POLICY, UNIT, jobs, layers, units, with_crane, with_pile

HAIR = 1.0 - 1e-12
growths = st.floats(1.0, 4.0)


def at_pads(job: Job) -> float:
    demand = load_path(UNIT, job, POLICY).at_pads_lbf
    assert demand is not None
    return demand


def with_layer(job: Job, place: int, layer: Layer) -> Job:
    return replace(job, layers=(*job.layers[:place], layer, *job.layers[place + 1 :]))


@given(jobs(), st.floats(0.0, 1.0))
def test_more_embedment_never_lowers_the_demand(job: Job, share: float) -> None:
    end_ft = job.layers[-1].bottom_ft
    deeper_ft = job.pile.embedment_ft + share * (end_ft - job.pile.embedment_ft)
    long = with_pile(job, length_ft=max(job.pile.length_ft, end_ft))
    assert at_pads(with_pile(long, embedment_ft=min(deeper_ft, end_ft))) >= at_pads(long) * HAIR


@pytest.mark.parametrize("name", ["weight_lb_ft", "perimeter_in", "length_ft", "plug_area_in2"])
@given(job=jobs(), growth=growths)
def test_a_larger_pile_never_lowers_the_demand(name: str, job: Job, growth: float) -> None:
    larger = with_pile(job, **{name: getattr(job.pile, name) * growth})
    assert at_pads(larger) >= at_pads(job) * HAIR


@pytest.mark.parametrize(
    "name", ["undrained_strength_psf", "friction_psf", "vibration_factor", "unit_weight_lb_ft3"]
)
@given(job=jobs(), growth=growths, which=st.integers(0, 3))
def test_stronger_or_heavier_ground_never_lowers_the_demand(
    name: str, job: Job, growth: float, which: int
) -> None:
    layer = job.layers[which % len(job.layers)]
    if name == "vibration_factor":
        layer = replace(layer, vibration_factor=0.2)
        job = with_layer(job, which % len(job.layers), layer)
    given_value = getattr(layer, name)
    assume(given_value is not None)
    stronger = replace(layer, **{name: given_value * growth})
    changed = with_layer(job, which % len(job.layers), stronger)
    assert at_pads(changed) >= at_pads(job) * HAIR


@given(jobs(), growths)
def test_a_friction_somebody_entered_higher_never_lowers_the_demand(
    job: Job, growth: float
) -> None:
    entered = tuple(replace(layer, friction_psf=400.0) for layer in job.layers)
    higher = tuple(replace(layer, friction_psf=400.0 * growth) for layer in job.layers)
    assert at_pads(replace(job, layers=higher)) >= at_pads(replace(job, layers=entered)) * HAIR


@given(jobs(), growths)
def test_more_set_up_never_lowers_the_demand(job: Job, growth: float) -> None:
    set_up = job.set_up
    more = SetUp(set_up.low, set_up.expected * growth, set_up.high * growth)
    assert at_pads(replace(job, set_up=more)) >= at_pads(job) * HAIR


@given(layers((LayerKind.GRANULAR, LayerKind.OTHER)), st.floats(-20.0, 120.0), st.floats(0.0, 50.0))
def test_a_water_level_raised_never_raises_what_sand_holds(
    ground_given: tuple[Layer, ...], water_ft: float, rise_ft: float
) -> None:
    assume(all(layer.unit_weight_lb_ft3 >= WATER_LB_FT3 for layer in ground_given))
    end_ft = ground_given[-1].bottom_ft
    job = replace(
        with_pile(length_ft=end_ft, embedment_ft=end_ft),
        layers=ground_given,
        water_depth_ft=water_ft,
    )
    before = ground(job, POLICY).static_lbf
    after = ground(replace(job, water_depth_ft=water_ft - rise_ft), POLICY).static_lbf
    assert after <= before * (1.0 + 1e-9) + 1e-2


@given(jobs())
def test_vibrating_never_raises_the_resistance(job: Job) -> None:
    held = ground(replace(job, method=PullMethod.VIBRATING), POLICY)
    assert held.resistance_lbf <= held.static_lbf
    assert held.low_lbf <= held.resistance_lbf <= held.high_lbf


@given(units(), jobs(), growths)
def test_a_stronger_crane_never_makes_a_unit_less_suitable(
    unit: Unit, job: Job, growth: float
) -> None:
    assume(job.crane.capacity_lbf is not None)
    assert job.crane.capacity_lbf is not None
    stronger = with_crane(job, capacity_lbf=job.crane.capacity_lbf * growth)
    ranks = [list(Verdict).index(check(unit, each).verdict) for each in (stronger, job)]
    assert ranks == sorted(ranks)


@given(units(), jobs(), growths)
def test_heavier_rigging_never_makes_a_unit_more_suitable(
    unit: Unit, job: Job, growth: float
) -> None:
    limit = job.crane.rigging_limit_lbf
    weight_lb = (job.crane.rigging_weight_lb + 10.0) * growth
    assume(limit is None or weight_lb <= limit)
    heavier = with_crane(job, rigging_weight_lb=weight_lb)
    ranks = [list(Verdict).index(check(unit, each).verdict) for each in (job, heavier)]
    assert ranks == sorted(ranks)
