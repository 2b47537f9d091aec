"""Ground that can't be calculated with is refused at its layer and field, with what would do."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from ratings.mechanics.soil import (
    Density,
    Layer,
    LayerFault,
    LayerKind,
    alpha,
    check_profile,
    effective_stress_psf,
    slices,
    unit_friction_psf,
)

CLAY = Layer(LayerKind.COHESIVE, 0.0, 10.0, 110.0, undrained_strength_psf=500.0)
SAND = Layer(LayerKind.GRANULAR, 10.0, 30.0, 120.0, density=Density.DENSE_SAND)

# layers, depth of water ft, which layer, which field, what the message says
PROFILES: list[tuple[list[Layer], float | None, int, str, list[str]]] = [
    ([], None, 0, "kind", ["no layer", "give"]),
    ([replace(CLAY, top_ft=2.0), SAND], None, 0, "top_ft", ["0 to 2 ft", "begin"]),
    ([CLAY, replace(SAND, top_ft=12.0)], None, 1, "top_ft", ["10 to 12 ft", "put one between"]),
    ([CLAY, replace(SAND, top_ft=8.0)], None, 1, "top_ft", ["8 ft", "ends at 10 ft", "begin"]),
    ([replace(CLAY, top_ft=10.0), SAND], None, 0, "bottom_ft", ["10 to 10 ft", "more than 0"]),
    ([CLAY, replace(SAND, bottom_ft=10.0)], None, 1, "bottom_ft", ["no thickness", "give more"]),
    ([CLAY, replace(SAND, bottom_ft=6.0)], None, 1, "bottom_ft", ["10 to 6 ft", "give more"]),
    ([CLAY, replace(SAND, bottom_ft=24.0)], None, 1, "bottom_ft", ["24 ft", "25 ft", "thicker"]),
    (
        [CLAY, replace(SAND, unit_weight_lb_ft3=60.0)],
        10.0,
        1,
        "unit_weight_lb_ft3",
        ["60 lb/ft³", "total unit weight", "62.4 or more"],
    ),
    (
        [CLAY, replace(SAND, unit_weight_lb_ft3=62.3)],
        -5.0,
        1,
        "unit_weight_lb_ft3",
        ["62.3 lb/ft³", "62.4 or more"],
    ),
    (
        [replace(CLAY, undrained_strength_psf=None), SAND],
        None,
        0,
        "undrained_strength_psf",
        ["undrained strength", "give it", "unit friction"],
    ),
    ([CLAY, replace(SAND, density=None)], None, 1, "density", ["density class", "give it"]),
    (
        [CLAY, replace(SAND, density=Density.LOOSER)],
        None,
        1,
        "friction_psf",
        ["No published method", "enter"],
    ),
    (
        [CLAY, replace(SAND, kind=LayerKind.OTHER, density=None)],
        None,
        1,
        "friction_psf",
        ["No published method", "enter"],
    ),
]

NEVER: list[object] = ["5", math.nan, math.inf, -math.inf, 1e308, 10**400, True]

# argument as its message names it, a call that gives it a value, whether zero is refused too
ARGUMENTS: list[tuple[str, Callable[[Any], object], bool]] = [
    ("top_ft", lambda v: replace(CLAY, top_ft=v), False),
    ("bottom_ft", lambda v: replace(CLAY, bottom_ft=v), True),
    ("unit_weight_lb_ft3", lambda v: replace(CLAY, unit_weight_lb_ft3=v), True),
    ("undrained_strength_psf", lambda v: replace(CLAY, undrained_strength_psf=v), True),
    ("friction_psf", lambda v: replace(CLAY, friction_psf=v), False),
    ("vibration_factor", lambda v: replace(CLAY, vibration_factor=v), True),
    ("needed_amplitude_in", lambda v: replace(CLAY, needed_amplitude_in=v), False),
    ("undrained_strength_psf", lambda v: alpha(v, 500.0), True),
    ("stress_psf", lambda v: alpha(500.0, v), False),
    ("stress_psf", lambda v: unit_friction_psf(CLAY, v), False),
    ("stress_psf", lambda v: unit_friction_psf(SAND, v), False),
    ("embedment_ft", lambda v: slices([CLAY, SAND], None, v), False),
    ("depth_ft", lambda v: effective_stress_psf([CLAY, SAND], None, v), False),
]


@pytest.mark.parametrize(("layers", "water_ft", "place", "field", "says"), PROFILES)
def test_a_profile_is_refused_at_its_layer_and_field(
    layers: list[Layer], water_ft: float | None, place: int, field: str, says: list[str]
) -> None:
    with pytest.raises(LayerFault) as refused:
        check_profile(layers, water_ft, 25.0)
    assert (refused.value.layer, refused.value.field) == (place, field)
    for words in says:
        assert words in str(refused.value)


@pytest.mark.parametrize(("layers", "water_ft", "place", "field", "says"), PROFILES)
def test_the_shaft_is_not_cut_through_such_a_profile(
    layers: list[Layer], water_ft: float | None, place: int, field: str, says: list[str]
) -> None:
    with pytest.raises(LayerFault):
        slices(layers, water_ft, 25.0)


def test_layers_to_the_toe_and_beyond_will_do() -> None:
    check_profile([CLAY, SAND], 10.0, 30.0)
    check_profile([CLAY, SAND], -10.0, 4.0)
    check_profile([CLAY, SAND], None, 0.0)


def test_an_entered_friction_makes_up_for_what_the_method_lacks() -> None:
    check_profile(
        [
            replace(CLAY, undrained_strength_psf=None, friction_psf=300.0),
            replace(SAND, density=Density.LOOSER, friction_psf=0.0),
        ],
        None,
        30.0,
    )


def test_ground_lighter_than_water_will_do_above_the_water() -> None:
    check_profile([replace(CLAY, unit_weight_lb_ft3=50.0), SAND], 10.0, 30.0)


def test_ground_of_the_weight_of_water_will_do_in_it() -> None:
    check_profile([replace(CLAY, unit_weight_lb_ft3=62.4), SAND], 0.0, 30.0)


@pytest.mark.parametrize("given", NEVER)
@pytest.mark.parametrize(("name", "call", "refuses_zero"), ARGUMENTS)
def test_no_other_kind_of_number_is_taken(
    name: str, call: Callable[[Any], object], refuses_zero: bool, given: object
) -> None:
    with pytest.raises(ValueError, match=rf"^{name} is .*: give"):
        call(given)


@pytest.mark.parametrize(("name", "call", "refuses_zero"), ARGUMENTS)
def test_nothing_below_zero_is_taken(
    name: str, call: Callable[[Any], object], refuses_zero: bool
) -> None:
    with pytest.raises(ValueError, match=re.escape(f"{name} is -1: give")):
        call(-1.0)


@pytest.mark.parametrize(("name", "call", "refuses_zero"), ARGUMENTS)
def test_zero_is_taken_only_where_it_can_be(
    name: str, call: Callable[[Any], object], refuses_zero: bool
) -> None:
    if refuses_zero:
        with pytest.raises(ValueError, match=re.escape(f"{name} is 0: give more than 0")):
            call(0.0)
    else:
        call(0.0)


@pytest.mark.parametrize("given", [math.nan, math.inf, "3", True])
def test_the_depth_of_water_must_be_a_number(given: Any) -> None:
    for call in (check_profile, slices):
        with pytest.raises(ValueError, match=r"^water_depth_ft is .*: give"):
            call([CLAY, SAND], given, 25.0)
    with pytest.raises(ValueError, match=r"^water_depth_ft is .*: give"):
        effective_stress_psf([CLAY, SAND], given, 25.0)


def test_there_is_no_stress_below_the_last_layer() -> None:
    with pytest.raises(ValueError, match=re.escape("depth_ft is 31: give no more than the 30 ft")):
        effective_stress_psf([CLAY, SAND], 10.0, 31.0)


@pytest.mark.parametrize(("field", "given"), [("kind", "mud"), ("density", "quite dense")])
def test_a_word_it_doesnt_know_is_refused_by_name(field: str, given: Any) -> None:
    with pytest.raises(ValueError, match=given):
        replace(CLAY, **{field: given})
