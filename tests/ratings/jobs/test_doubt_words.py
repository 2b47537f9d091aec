"""A doubt of the ground is told in the reader's units."""

from __future__ import annotations

import pytest

from ratings.jobs.doubt_words import doubt_sentence
from ratings.jobs.soil_profiles import GENERIC_PROFILES
from ratings.mechanics.extraction.doubts import Measure, layer_doubts
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.soil import Layer, LayerKind

LIGHT = Layer(LayerKind.OTHER, 0.0, 40.0, 64.0, friction_psf=20.0, vibration_factor=0.5)


@pytest.mark.parametrize(("system", "weight"), [("us", "64 lb/ft³"), ("si", "kN/m³")])
def test_a_doubt_is_told_in_the_readers_units(system: str, weight: str) -> None:
    doubts = layer_doubts((LIGHT,), 5.0, ExtractionPolicy(), True, 40.0)
    sentences = [doubt_sentence(each, system) for each in doubts]
    assert {measure for each in doubts for measure, _ in each.figures} == {
        Measure.UNIT_WEIGHT,
        Measure.STRESS,
    }
    assert any(weight in each for each in sentences)
    assert not any("{" in each for each in sentences)


@pytest.mark.parametrize("name", GENERIC_PROFILES)
def test_no_profile_to_start_from_is_doubtful(name: str) -> None:
    profile = GENERIC_PROFILES[name]
    doubts = layer_doubts(profile.ground, profile.water_depth_ft, ExtractionPolicy(), True, 40.0)
    assert doubts == ()
