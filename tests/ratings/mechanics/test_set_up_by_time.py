"""A set-up suggested from the days since driving, by Skov and Denver's growth, from memory."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.extraction.set_up_by_time import growth_factors, suggested_set_up
from ratings.mechanics.soil import Density, Layer, LayerFault, LayerKind
from tests.ratings.mechanics.pulls import GROUND

CLAY = Layer(LayerKind.COHESIVE, 0.0, 40.0, 120.0, undrained_strength_psf=1_000.0)
SAND = Layer(LayerKind.GRANULAR, 0.0, 40.0, 120.0, density=Density.DENSE_SAND)


def test_growth_by_hand() -> None:
    # Clay after a year, over that at 100 days: (1 + 0.6·log 365) / (1 + 0.6·2).
    by_hand = (1.0 + 0.6 * math.log10(365.0)) / 2.2
    assert growth_factors(LayerKind.COHESIVE, 365.0)[1] == pytest.approx(by_hand)
    # Sand after 50 days, over that at 10: (1 + 0.2·2) / (1 + 0.2·log 20).
    by_hand = 1.4 / (1.0 + 0.2 * math.log10(20.0))
    assert growth_factors(LayerKind.GRANULAR, 50.0)[1] == pytest.approx(by_hand)


def test_at_the_age_of_the_tests_friction_is_that_of_the_method() -> None:
    assert growth_factors(LayerKind.COHESIVE, 100.0) == (1.0, 1.0, 1.0)
    assert growth_factors(LayerKind.GRANULAR, 10.0) == (1.0, 1.0, 1.0)


def test_a_young_pile_may_come_more_easily_and_is_not_promised_to() -> None:
    low, expected, high = growth_factors(LayerKind.COHESIVE, 3.0)
    assert low < 1.0
    assert (expected, high) == (1.0, 1.0)


def test_other_ground_grows_by_nothing_published() -> None:
    assert growth_factors(LayerKind.OTHER, 1_000.0) == (1.0, 1.0, 1.0)
    assert "no growth is published" in suggested_set_up(GROUND, None, 40.0, 365.0).sentence


def test_layers_count_by_their_share_of_friction() -> None:
    half = Layer(LayerKind.OTHER, 0.0, 20.0, 120.0, friction_psf=500.0)
    clay = Layer(
        LayerKind.COHESIVE, 20.0, 40.0, 120.0, undrained_strength_psf=1e3, friction_psf=500.0
    )
    found = suggested_set_up((half, clay), None, 40.0, 365.0)
    mean = (1.0 + growth_factors(LayerKind.COHESIVE, 365.0)[1]) / 2.0
    assert found.set_up.expected == pytest.approx(mean)
    assert "50 % of the friction in cohesive ground" in found.sentence
    assert "from memory" in found.source


def test_ground_without_friction_has_nothing_to_grow() -> None:
    nothing = Layer(LayerKind.OTHER, 0.0, 40.0, 120.0, friction_psf=0.0)
    assert suggested_set_up((nothing,), None, 40.0, 365.0).set_up.high == 1.0


@given(st.sampled_from([CLAY, SAND]), st.floats(0.0, 7e4), st.floats(0.0, 7e4))
def test_a_longer_stand_never_suggests_less(layer: Layer, one: float, other: float) -> None:
    young, old = (
        suggested_set_up((layer,), 5.0, 40.0, each).set_up for each in sorted((one, other))
    )
    assert young.low <= old.low * (1.0 + 1e-12)
    assert young.expected <= old.expected * (1.0 + 1e-12)
    assert young.high <= old.high * (1.0 + 1e-12)
    assert old.low <= old.expected <= old.high


@pytest.mark.parametrize("days", [-1.0, 73_001.0, float("inf"), "long ago"])
def test_days_that_cannot_be_are_refused(days: object) -> None:
    with pytest.raises(ValueError, match="days_since_driving"):
        suggested_set_up((CLAY,), None, 40.0, days)  # type: ignore[arg-type]


def test_layers_that_end_above_the_toe_are_refused() -> None:
    with pytest.raises(LayerFault, match="the toe is at"):
        suggested_set_up((CLAY,), None, 50.0, 365.0)
