"""One extraction whose every check is worked by hand, and what each part of it adds.

Allowable tension 0.6·F_y·A: AISC's allowable stress, from memory. Published, as read in open-source
code after AISC 360 section D2(a): yield in tension is divided by 1.67, and 1/1.67 = 0.599.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job, Pile, PileKind, PullMethod, SetUp
from ratings.mechanics.extraction.outcomes import Check, CheckKey, Outcome, Verdict
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.soil import Density, Layer, LayerKind
from tests.ratings.mechanics.pulls import GROUND, JOB, POLICY, UNIT, with_crane, with_pile

# 3,500·(2π·1,500/60)²/386.0886.
CENTRIFUGAL_LBF = 223_676.77

# demand, supply
BY_HAND = {
    # ground 20,000 + pile 80·50 + clamp 2,000 + exciter 8,000; amplitude 2·3,500/14,000 = 0.5 in,
    # so 24·1,000·(5 − 0.25).
    CheckKey.LINE_PULL: (34_000.0, 114_000.0),
    # + housing 3,000 + rigging 500 + hook block 1,500.
    CheckKey.CRANE: (39_000.0, 100_000.0),
    # the same without the hook block, on one straight leg.
    CheckKey.RIGGING: (37_500.0, 90_000.0),
    CheckKey.CENTRIFUGAL: (20_000.0, CENTRIFUGAL_LBF),
    CheckKey.AMPLITUDE: (0.2, 0.5),
    # ground 20,000 + pile 4,000 + its share of the shaking, F·4,000/14,000; jaws 2·0.3·300,000.
    CheckKey.CLAMP: (24_000.0 + CENTRIFUGAL_LBF * 4.0 / 14.0, 180_000.0),
    # 0.6·50,000·20.
    CheckKey.TENSION: (24_000.0 + CENTRIFUGAL_LBF * 4.0 / 14.0, 600_000.0),
}


def one(
    key: CheckKey, unit: Unit = UNIT, job: Job = JOB, policy: ExtractionPolicy = POLICY
) -> Check:
    found = check(unit, job, policy).check(key)
    assert found is not None
    return found


@pytest.mark.parametrize(("key", "demand", "supply"), [(k, *v) for k, v in BY_HAND.items()])
def test_each_demand_and_supply(key: CheckKey, demand: float, supply: float) -> None:
    found = one(key)
    assert found.demand == pytest.approx(demand, rel=1e-7)
    assert found.supply == pytest.approx(supply, rel=1e-7)
    assert found.margin == pytest.approx(supply / demand, rel=1e-7)
    assert found.outcome is Outcome.HOLDS


def test_the_least_margin_governs() -> None:
    # 2.40 of the rigging, 2.50 of the amplitude, 2.56 of the crane; the clamp's is 180,000/87,908.
    verdict = check(UNIT, JOB)
    assert verdict.verdict is Verdict.SUITABLE
    assert verdict.governing is CheckKey.CLAMP
    assert verdict.margin == pytest.approx(180_000.0 / 87_907.65, rel=1e-6)


def test_where_the_verdict_flips() -> None:
    # The rigging is the first to give way: 90,000 − 17,500, and with care 90,000/1.25 − 17,500.
    verdict = check(UNIT, JOB)
    assert verdict.flip_lbf == pytest.approx(72_500.0, rel=1e-12)
    assert verdict.care_flip_lbf == pytest.approx(54_500.0, rel=1e-12)


def test_a_real_profile_worked_by_hand() -> None:
    # 10 ft of clay, s_u 400 psf and 110 lb/ft³, on dense sand of 120 lb/ft³, water at 10 ft: the
    # friction on a foot of perimeter, worked out in test_soil_shaft: clay 168.179·3.63636 +
    # 217.945·1.36364 + 287.228·5 = 2,344.90; sand (572.24 + 704.72)·5 = 6,384.80.
    # Perimeter 5 ft: 11,724.5 and 31,924.0 lbf at rest; 0.12 and 0.20 of them while vibrated.
    layers = (
        Layer(
            LayerKind.COHESIVE,
            0.0,
            10.0,
            110.0,
            undrained_strength_psf=400.0,
            soil="soft loam or marl, soft loess, stiff cliff",
        ),
        Layer(
            LayerKind.GRANULAR,
            10.0,
            20.0,
            120.0,
            density=Density.DENSE_SAND,
            soil="round fine sand",
        ),
    )
    held = ground(
        with_pile(replace(JOB, layers=layers, water_depth_ft=10.0), embedment_ft=20.0), POLICY
    )
    assert held.static_lbf == pytest.approx(43_648.5, abs=0.5)
    assert held.vibrated_lbf == pytest.approx(0.12 * 11_724.5 + 0.20 * 31_924.0, abs=0.5)


def test_a_plug_weighs_its_area_times_the_ground_above_the_toe() -> None:
    # 1 ft² · (110·10 + 120·30) lb/ft² = 4,700 lb, water in it included.
    layers = (
        replace(GROUND[0], bottom_ft=10.0, unit_weight_lb_ft3=110.0),
        replace(GROUND[0], top_ft=10.0, bottom_ft=60.0),
    )
    job = replace(with_pile(plug_area_in2=144.0), layers=layers, water_depth_ft=2.0)
    assert job.plug_weight_lb == pytest.approx(4_700.0, rel=1e-14)
    assert one(CheckKey.LINE_PULL, job=job).demand == pytest.approx(38_700.0, rel=1e-12)


def test_a_plug_lessens_the_amplitude_but_not_what_is_kept_clear_of_the_stops() -> None:
    # The plug may not move along: 2·3,500/(14,000 + 4,800) at the toe, 0.5 in at the stops.
    job = with_pile(plug_area_in2=144.0)
    assert one(CheckKey.AMPLITUDE, job=job).supply == pytest.approx(7_000.0 / 18_800.0, rel=1e-12)
    assert one(CheckKey.LINE_PULL, job=job).supply == pytest.approx(114_000.0, rel=1e-12)


def test_an_unplugged_pile_carries_no_soil() -> None:
    assert JOB.plug_weight_lb == 0.0


def test_a_still_pull_uses_the_whole_travel_against_the_whole_resistance() -> None:
    job = replace(JOB, method=PullMethod.STILL)
    found = one(CheckKey.LINE_PULL, job=job)
    assert found.demand == pytest.approx(114_000.0, rel=1e-12)
    assert found.supply == pytest.approx(120_000.0, rel=1e-12)


def test_a_still_pull_shakes_neither_clamp_nor_pile() -> None:
    job = replace(JOB, method=PullMethod.STILL)
    assert one(CheckKey.CLAMP, job=job).demand == pytest.approx(104_000.0, rel=1e-12)
    assert one(CheckKey.TENSION, job=job).demand == pytest.approx(104_000.0, rel=1e-12)


@pytest.mark.parametrize("key", [CheckKey.CENTRIFUGAL, CheckKey.AMPLITUDE])
def test_a_still_pull_asks_nothing_of_the_vibration(key: CheckKey) -> None:
    assert check(UNIT, replace(JOB, method=PullMethod.STILL)).check(key) is None


def test_an_amplitude_beyond_twice_the_travel_leaves_no_pull_at_all() -> None:
    unit = replace(UNIT, eccentric_moment_lb_in=80_000.0)
    found = one(CheckKey.LINE_PULL, unit=unit)
    assert found.supply == 0.0
    assert found.outcome is Outcome.FAILS


@pytest.mark.parametrize("kind", [PileKind.SHEET_PAIR, PileKind.H, PileKind.PIPE])
def test_steel_may_be_pulled_to_six_tenths_of_its_yield(kind: PileKind) -> None:
    assert one(CheckKey.TENSION, job=with_pile(kind=kind)).supply == pytest.approx(600_000.0)


@pytest.mark.parametrize("kind", [PileKind.TIMBER, PileKind.CONCRETE])
def test_what_another_pile_may_be_pulled_with_is_asked_for(kind: PileKind) -> None:
    job = with_pile(kind=kind)
    assert one(CheckKey.TENSION, job=job).outcome is Outcome.UNKNOWN
    given = with_pile(job, tension_limit_lbf=100_000.0)
    assert one(CheckKey.TENSION, job=given).supply == 100_000.0


def test_a_tension_somebody_gave_stands_in_place_of_the_steels() -> None:
    assert one(CheckKey.TENSION, job=with_pile(tension_limit_lbf=90_000.0)).supply == 90_000.0


def test_set_up_is_in_the_demand() -> None:
    job = replace(JOB, set_up=SetUp(1.0, 1.5, 2.0))
    assert one(CheckKey.LINE_PULL, job=job).demand == pytest.approx(44_000.0, rel=1e-12)


@pytest.mark.parametrize(
    ("capacity_lbf", "outcome"),
    [
        (38_999.0, Outcome.FAILS),
        (39_000.0, Outcome.CARE),
        (48_749.0, Outcome.CARE),
        (48_750.0, Outcome.HOLDS),
    ],
)
def test_a_check_holds_with_care_within_the_margin(capacity_lbf: float, outcome: Outcome) -> None:
    # 39,000 hang from the crane; 1.25 times that is 48,750. A pull may use 75 % of its chart.
    job = with_crane(capacity_lbf=capacity_lbf / 0.75)
    assert one(CheckKey.CRANE, job=job).outcome is outcome


def test_weights_are_those_of_a_whole_pile_in_air() -> None:
    pile = Pile(PileKind.PIPE, 62.4, 90.0, 33.0, 20.0)
    assert pile.weight_lb == pytest.approx(62.4 * 33.0, rel=1e-15)


def test_the_share_of_yield_is_near_the_published_safety_factor() -> None:
    assert POLICY.steel_share == pytest.approx(1.0 / 1.67, abs=0.002)


def test_nothing_hangs_from_what_isnt_on_record() -> None:
    found = one(CheckKey.CRANE, unit=replace(UNIT, housing_weight_lb=None))
    assert found.demand is None
    assert found.outcome is Outcome.UNKNOWN
    assert not any(
        value is not None and math.isnan(value)
        for each in check(replace(UNIT, housing_weight_lb=None), JOB).checks
        for value in (each.demand, each.supply, each.margin)
    )
