"""Ground that contradicts itself is doubted at its field; sound ground is not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from ratings.mechanics.extraction.doubts import Doubt, layer_doubts
from ratings.mechanics.extraction.ground import ground
from ratings.mechanics.extraction.soils import DEFAULT_SOILS, SoilResponse
from ratings.mechanics.soil import Density, Layer, LayerKind
from tests.ratings.mechanics.pulls import JOB, POLICY

CLAY = Layer(
    LayerKind.COHESIVE,
    0.0,
    40.0,
    120.0,
    undrained_strength_psf=2_000.0,
    soil="marl, stiff or very stiff clay",
)
SAND = Layer(
    LayerKind.GRANULAR, 0.0, 40.0, 120.0, density=Density.MEDIUM_DENSE_SAND, soil="round fine sand"
)
OTHER = Layer(LayerKind.OTHER, 0.0, 40.0, 120.0, friction_psf=400.0, soil="mixed fill")


def doubts_of(
    layer: Layer, water_depth_ft: float | None = 5.0, is_vibrating: bool = True
) -> list[Doubt]:
    return list(layer_doubts((layer,), water_depth_ft, POLICY, is_vibrating, 40.0))


@pytest.mark.parametrize("layer", [CLAY, SAND, OTHER, replace(CLAY, soil="", vibration_factor=0.4)])
def test_sound_ground_is_not_doubted(layer: Layer) -> None:
    assert doubts_of(layer) == []


@pytest.mark.parametrize("soil", DEFAULT_SOILS)
def test_every_soil_of_the_table_goes_with_some_layer_undoubted(soil: Any) -> None:
    tried = [replace(each, soil=soil.name) for each in (CLAY, SAND, OTHER)]
    tried += [replace(CLAY, soil=soil.name, undrained_strength_psf=400.0)]
    tried += [replace(CLAY, soil=soil.name, undrained_strength_psf=800.0)]
    tried += [
        replace(CLAY, soil=soil.name, undrained_strength_psf=5_000.0, top_ft=0.0, bottom_ft=60.0)
    ]
    assert any(doubts_of(each) == [] for each in tried)


@pytest.mark.parametrize(
    ("layer", "field", "says"),
    [
        (replace(CLAY, soil="round coarse sand"), "soil", "does not go with a cohesive layer"),
        (replace(SAND, soil="hard clay"), "soil", "only with cohesive, other ones"),
        (replace(CLAY, unit_weight_lb_ft3=65.0), "unit_weight_lb_ft3", "weight less the water"),
        (replace(SAND, unit_weight_lb_ft3=165.0), "unit_weight_lb_ft3", "heavier than soil"),
        (replace(SAND, vibration_factor=0.01), "vibration_factor", "10 times as much"),
        (
            replace(CLAY, soil="", undrained_strength_psf=300.0, vibration_factor=0.1),
            "vibration_factor",
            "less than any published or in common practice for a cohesive layer (0.12",
        ),
        (
            replace(OTHER, soil="", vibration_factor=0.05),
            "vibration_factor",
            "a layer of another kind (0.1, of “round coarse sand”)",
        ),
        (
            replace(SAND, soil="round medium sand, round gravel", vibration_factor=0.06),
            "vibration_factor",
            "typed here, 0.06, is taken in place of the soil’s 0.15",
        ),
        (
            replace(SAND, needed_amplitude_in=0.12),
            "needed_amplitude_in",
            "typed here, 0.12 in, is taken in place of the soil’s 0.16 in",
        ),
        (
            replace(CLAY, soil="", undrained_strength_psf=300.0, vibration_factor=0.12),
            "vibration_factor",
            "2.08 times as much",
        ),
        (
            replace(CLAY, soil="", undrained_strength_psf=800.0, vibration_factor=0.25),
            "vibration_factor",
            "“medium clay” keeps 0.35",
        ),
        (
            replace(
                CLAY,
                soil="",
                undrained_strength_psf=None,
                friction_psf=300.0,
                vibration_factor=0.15,
            ),
            "vibration_factor",
            "no soil is named for this clay",
        ),
        (replace(SAND, vibration_factor=1.5), "vibration_factor", "counts as 1"),
        (replace(CLAY, vibration_factor=0.1), "vibration_factor", "A clay of 2,000 psf is stiff"),
        (
            replace(CLAY, undrained_strength_psf=600.0),
            "undrained_strength_psf",
            "goes with 1,000 psf to 4,000 psf",
        ),
        (replace(CLAY, soil="hard clay"), "undrained_strength_psf", "goes with 4,000 psf or more"),
        (
            replace(CLAY, bottom_ft=4.0, undrained_strength_psf=3_900.0),
            "undrained_strength_psf",
            "few tests",
        ),
        (replace(OTHER, friction_psf=10.0), "friction_psf", "next to nothing"),
        (replace(OTHER, friction_psf=3_000.0), "friction_psf", "densest sand"),
        (replace(SAND, needed_amplitude_in=0.01), "needed_amplitude_in", "in any soil"),
    ],
)
def test_ground_that_contradicts_itself_is_doubted_at_its_field(
    layer: Layer, field: str, says: str
) -> None:
    messages = [each.message for each in doubts_of(layer) if each.field == field]
    assert any(says in each for each in messages)


@pytest.mark.parametrize(
    "layer",
    [
        replace(SAND, soil="", vibration_factor=0.1),
        replace(SAND, vibration_factor=0.2, needed_amplitude_in=0.16),
        replace(SAND, vibration_factor=0.3, needed_amplitude_in=0.2),
        replace(CLAY, soil="", undrained_strength_psf=300.0, vibration_factor=0.25),
        replace(CLAY, soil="", undrained_strength_psf=800.0, vibration_factor=0.35),
    ],
)
def test_a_typed_factor_that_is_no_less_than_its_soils_or_kinds_is_not_doubted(
    layer: Layer,
) -> None:
    assert doubts_of(layer) == []


def test_a_stiff_clay_with_the_factor_of_a_coarse_sand_is_told_what_that_hides() -> None:
    wrong = replace(CLAY, soil="round coarse sand")
    right, hidden = (
        ground(replace(JOB, layers=(each,)), POLICY).resistance_lbf for each in (CLAY, wrong)
    )
    assert right / hidden == pytest.approx(4.0)
    messages = " ".join(each.message for each in doubts_of(wrong))
    assert "hold with 4 times as much" in messages


def test_ground_that_holds_next_to_nothing_is_doubted_as_a_whole() -> None:
    found = doubts_of(replace(OTHER, friction_psf=5.0))
    assert (found[-1].layer, found[-1].field) == (None, "")
    assert "5 psf over its shaft" in found[-1].message


def test_a_pull_by_the_crane_alone_doubts_nothing_of_vibration() -> None:
    assert doubts_of(replace(CLAY, soil="round coarse sand"), is_vibrating=False) == []


def test_peat_may_be_light() -> None:
    peat = replace(
        CLAY,
        soil="peat or organic soil",
        unit_weight_lb_ft3=70.0,
        undrained_strength_psf=200.0,
        bottom_ft=40.0,
    )
    assert doubts_of(peat) == []


def test_each_layer_is_doubted_at_its_own_place_even_where_the_whole_will_not_do() -> None:
    gap = (replace(SAND, bottom_ft=5.0), replace(SAND, top_ft=8.0, vibration_factor=0.01))
    assert {each.layer for each in layer_doubts(gap, None, POLICY, True, 40.0)} == {1}


def test_a_soil_named_with_braces_is_told_as_it_was_named() -> None:
    own = SoilResponse("mud {soft}", 0.3, "yard trial", 0.2, kinds=(LayerKind.GRANULAR,))
    policy = replace(POLICY, soils=(*POLICY.soils, own))
    layer = replace(CLAY, soil="mud {soft}")
    messages = [each.message for each in layer_doubts((layer,), None, policy)]
    assert any("“mud {soft}” does not go" in each for each in messages)
