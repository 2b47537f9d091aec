"""What soils keep of their resistance while vibrated, and how the yard's table is asked.

Factors: Jonker 1987, OTC 5422, from memory; that paper and its reprints were not opened. That
resistance is so reduced, layer by layer, is published, as read: US Army EI 02G001, 1 July 1997,
page 2-9. Amplitudes: common practice, no published source.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.job import Job, PullMethod, SetUp
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.soils import (
    COMMON_PRACTICE,
    DEFAULT_SOILS,
    JONKER,
    PRACTICE_SOILS,
    PUBLISHED_SOILS,
    SoilResponse,
)
from ratings.mechanics.soil import Layer, LayerFault, LayerKind
from tests.ratings.mechanics.pulls import GROUND, JOB, POLICY, with_pile

FACTORS = {
    "round coarse sand": 0.10,
    "soft loam or marl, soft loess, stiff cliff": 0.12,
    "round medium sand, round gravel": 0.15,
    "fine angular gravel, angular loam, angular loess": 0.18,
    "round fine sand": 0.20,
    "angular sand, coarse gravel": 0.25,
    "angular or dry fine sand": 0.35,
    "marl, stiff or very stiff clay": 0.40,
}


def of_soil(name: str, **changes: Any) -> Job:
    layer = Layer(LayerKind.OTHER, 0.0, 40.0, 120.0, friction_psf=500.0, soil=name)
    return replace(JOB, layers=(replace(layer, **changes),))


@pytest.mark.parametrize(("soil", "factor"), FACTORS.items())
def test_each_soil_keeps_its_share_of_the_static_resistance(soil: str, factor: float) -> None:
    # 500 psf · 5 ft · 40 ft = 100,000 lbf at rest.
    held = ground(of_soil(soil), POLICY)
    assert held.static_lbf == pytest.approx(100_000.0, rel=1e-14)
    assert held.vibrated_lbf == pytest.approx(factor * 100_000.0, rel=1e-12)
    assert held.resistance_lbf == held.vibrated_lbf


def test_the_published_soils_are_these_and_no_other() -> None:
    assert {soil.name: soil.factor for soil in PUBLISHED_SOILS} == FACTORS
    assert DEFAULT_SOILS[: len(PUBLISHED_SOILS)] == PUBLISHED_SOILS


def test_each_value_of_the_table_names_its_source() -> None:
    assert {soil.factor_source for soil in PUBLISHED_SOILS} == {JONKER}
    assert {soil.factor_source for soil in PRACTICE_SOILS} == {COMMON_PRACTICE}
    assert {soil.amplitude_source for soil in DEFAULT_SOILS} == {COMMON_PRACTICE}


def test_a_soil_of_common_practice_never_keeps_less_than_the_published_one_it_is_like() -> None:
    like = {
        "silty sand or sandy silt": "round fine sand",
        "silt": "fine angular gravel, angular loam, angular loess",
        "gravel with cobbles": "angular sand, coarse gravel",
        "very soft or soft clay": "soft loam or marl, soft loess, stiff cliff",
        "medium clay": "soft loam or marl, soft loess, stiff cliff",
        "hard clay": "marl, stiff or very stiff clay",
        "peat or organic soil": "soft loam or marl, soft loess, stiff cliff",
        "glacial till": "marl, stiff or very stiff clay",
        "mixed fill": "marl, stiff or very stiff clay",
        "rubble or slag fill": "angular sand, coarse gravel",
        "chalk or weathered rock": "marl, stiff or very stiff clay",
    }
    assert set(like) == {soil.name for soil in PRACTICE_SOILS}
    for soil in PRACTICE_SOILS:
        published = POLICY.soil(like[soil.name])
        assert soil.factor >= published.factor
        assert soil.needed_amplitude_in >= published.needed_amplitude_in


def test_soils_on_record_from_before_kinds_were_asked_read_theirs_by_name() -> None:
    clay = SoilResponse("marl, stiff or very stiff clay", 0.40, JONKER, 0.24)
    assert clay.kinds == (LayerKind.COHESIVE, LayerKind.OTHER)
    assert SoilResponse("quarry waste", 0.3, "yard trial", 0.25).kinds == tuple(LayerKind)
    own = SoilResponse("quarry waste", 0.3, "yard trial", 0.25, kinds=("granular",))  # type: ignore[arg-type]
    assert own.kinds == (LayerKind.GRANULAR,)
    with pytest.raises(ValueError, match="not a valid LayerKind"):
        SoilResponse("mud", 0.3, "x", 0.2, kinds=("wet",))  # type: ignore[arg-type]


def test_the_source_of_the_factors_is_named_in_full() -> None:
    assert "Jonker 1987" in JONKER
    assert "OTC 5422" in JONKER


def test_what_was_entered_for_a_layer_stands_in_place_of_the_table() -> None:
    job = of_soil("round fine sand", vibration_factor=0.5, needed_amplitude_in=0.4)
    held = ground(job, POLICY)
    assert held.vibrated_lbf == pytest.approx(50_000.0, rel=1e-12)
    assert held.needed_amplitude_in == 0.4


def test_a_soil_the_yard_added_is_found() -> None:
    own = SoilResponse("quarry waste", 0.3, "yard trial", 0.25)
    policy = ExtractionPolicy(soils=(*DEFAULT_SOILS, own))
    held = ground(of_soil("quarry waste"), policy)
    assert held.vibrated_lbf == pytest.approx(30_000.0, rel=1e-12)
    assert held.needed_amplitude_in == 0.25


def test_the_amplitude_needed_is_the_largest_of_the_layers_the_shaft_touches() -> None:
    layers = (
        replace(GROUND[0], bottom_ft=20.0, needed_amplitude_in=0.1),
        replace(GROUND[0], top_ft=20.0, bottom_ft=40.0, needed_amplitude_in=0.3),
    )
    job = replace(JOB, layers=layers)
    assert ground(job, POLICY).needed_amplitude_in == 0.3
    assert ground(with_pile(job, embedment_ft=20.0), POLICY).needed_amplitude_in == 0.1


def test_layers_keep_each_its_own_share() -> None:
    # 20 ft · 5 ft · 500 psf = 50,000 lbf in each; 0.1 and 0.4 of them.
    layers = (
        replace(GROUND[0], bottom_ft=20.0, vibration_factor=0.1),
        replace(GROUND[0], top_ft=20.0, bottom_ft=40.0, vibration_factor=0.4),
    )
    held = ground(replace(JOB, layers=layers), POLICY)
    assert held.vibrated_lbf == pytest.approx(5_000.0 + 20_000.0, rel=1e-12)


def test_every_piece_can_be_retraced() -> None:
    held = ground(of_soil("round fine sand"), POLICY)
    for piece in held.slices:
        static = piece.friction_psf * 5.0 * (piece.bottom_ft - piece.top_ft)
        assert piece.static_lbf == pytest.approx(static, rel=1e-14)
        assert piece.factor == 0.20
        assert piece.vibrated_lbf == pytest.approx(0.20 * static, rel=1e-14)
    assert math.fsum(piece.static_lbf for piece in held.slices) == held.static_lbf


def test_a_pull_by_the_crane_alone_has_the_whole_static_resistance_against_it() -> None:
    held = ground(replace(of_soil("round fine sand"), method=PullMethod.STILL), POLICY)
    assert held.vibrated_lbf is None
    assert held.resistance_lbf == held.static_lbf
    assert held.needed_amplitude_in == 0.0


def test_a_still_pull_asks_nothing_of_the_soils_answer_to_vibration() -> None:
    held = ground(replace(of_soil(""), method=PullMethod.STILL), POLICY)
    assert held.resistance_lbf == pytest.approx(100_000.0, rel=1e-14)


def test_set_up_since_driving_raises_the_resistance() -> None:
    held = ground(replace(JOB, set_up=SetUp(1.2, 1.5, 2.0)), POLICY)
    assert held.static_lbf == pytest.approx(150_000.0, rel=1e-14)
    assert held.resistance_lbf == pytest.approx(30_000.0, rel=1e-14)


def test_the_range_is_that_of_the_policy_times_that_of_the_set_up() -> None:
    # By hand: 20,000·1.2·0.7 = 16,800 and 20,000·2.0·1.5 = 60,000.
    held = ground(replace(JOB, set_up=SetUp(1.2, 1.5, 2.0)), POLICY)
    assert held.low_lbf == pytest.approx(16_800.0, rel=1e-12)
    assert held.high_lbf == pytest.approx(60_000.0, rel=1e-12)


@pytest.mark.parametrize(
    ("job", "field", "says"),
    [
        (of_soil("moon dust"), "soil", "“moon dust” is not in"),
        (of_soil(""), "soil", "choose a soil"),
        (of_soil("", needed_amplitude_in=0.2), "soil", "enter a factor"),
        (of_soil("", vibration_factor=0.2), "needed_amplitude_in", "enter the amplitude"),
    ],
)
def test_a_soil_that_says_nothing_of_vibration_is_refused_at_its_layer(
    job: Job, field: str, says: str
) -> None:
    above = replace(GROUND[0], bottom_ft=10.0)
    job = replace(job, layers=(above, replace(job.layers[0], top_ft=10.0)))
    with pytest.raises(LayerFault, match=says) as refused:
        ground(job, POLICY)
    assert (refused.value.layer, refused.value.field) == (1, field)


def test_beside_concrete_the_ground_keeps_a_quarter_more() -> None:
    # Published, as read: EI 02G001, page 2-9, divides by 0.8 for concrete.
    steel, concrete = (ground(with_pile(kind=kind), POLICY) for kind in ("pipe", "concrete"))
    assert concrete.vibrated_lbf == pytest.approx((steel.vibrated_lbf or 0.0) / 0.8, rel=1e-12)
    assert concrete.static_lbf == steel.static_lbf


def test_a_soil_twice_in_the_table_is_refused() -> None:
    with pytest.raises(ValueError, match="twice"):
        ExtractionPolicy(soils=(DEFAULT_SOILS[0], DEFAULT_SOILS[0]))
