"""What contradicts itself in a job's ground: said beside the field and on the answer.

A doubt refuses nothing. What can't be is refused elsewhere, as LayerFault.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.mechanics.extraction.soils import (
    DEFAULT_SOILS,
    LIGHT_SOILS,
    STRENGTHS_PSF,
    SoilResponse,
)
from ratings.mechanics.soil import (
    BETAS,
    Layer,
    LayerFault,
    LayerKind,
    effective_stress_psf,
    slices,
)

# Below it a total unit weight is more likely one less the water: sands and clays in water weigh 95
# to 140 lb/ft³ in all, 40 to 75 less the water. Common practice, no published source.
LIGHT_LB_FT3 = 80.0
HEAVY_LB_FT3 = 150.0
# The least factor published (Jonker 1987, from memory).
LEAST_FACTOR = 0.10
# From this strength on a clay is stiff: Texas DOT Geotechnical Manual (LRFD), table 4-2, as read.
STIFF_PSF = 1_000.0
# From this strength on a clay is no longer soft (the same table).
MEDIUM_PSF = 500.0
# Of marl and stiff or very stiff clay (Jonker 1987, from memory); doubted below three quarters.
FACTOR_OF_STIFF = 0.40
LEAST_FACTOR_OF_STIFF = 0.30
# Less than a very soft clay holds with: common practice, no published source.
NEXT_TO_NOTHING_PSF = 50.0
# API RP 2GEO has few tests of strengths beyond so many times the effective stress, as read in the
# documentation of an open library of the field.
MOST_STRENGTH_OVER_STRESS = 3.0
# Half of the least amplitude of the table.
LEAST_AMPLITUDE_IN = 0.06


class Measure(StrEnum):
    """What a figure in a doubt is of, by the name that those who word it for a reader know."""

    STRESS = "psf"
    UNIT_WEIGHT = "lb/ft³"
    DIAMETER = "in"


@dataclass(frozen=True)
class Doubt:
    """Something in the ground that looks wrong. layer: from 0, None where it is of the whole.

    field: of the layer; of the whole "". words: with a {} for each of its figures that has a unit.
    """

    layer: int | None
    field: str
    words: str
    figures: tuple[tuple[Measure, float], ...] = ()

    @property
    def message(self) -> str:
        """The words with their figures, in US units."""
        return self.words.format(*(f"{value:,.6g} {measure}" for measure, value in self.figures))


def layer_doubts(
    layers: Sequence[Layer],
    water_depth_ft: float | None,
    policy: ExtractionPolicy,
    is_vibrating: bool = True,
    embedment_ft: float | None = None,
) -> tuple[Doubt, ...]:
    """Return what looks wrong in the ground, from its top down, then of the whole.

    embedment_ft: of the pile, so that the whole of its friction is looked at; None leaves that
    out. Layers that won't do at all are looked at one by one only.
    """
    found = []
    for place, layer in enumerate(layers):
        doubts = (
            *_of_weight(layer, water_depth_ft),
            *_of_strength(layer, _stress_at_end(layers, place, water_depth_ft)),
            *_of_friction(layer),
            *(_of_vibration(layer, policy) if is_vibrating else ()),
        )
        found += [Doubt(place, *each) for each in doubts]
    if embedment_ft is not None:
        found += _of_the_whole(layers, water_depth_ft, embedment_ft)
    return tuple(found)


# A field, what is doubtful of it, and its figures.
_Said = Iterator[tuple[str, str, tuple[tuple[Measure, float], ...]]]


def _stresses(*values: float) -> tuple[tuple[Measure, float], ...]:
    return tuple((Measure.STRESS, each) for each in values)


def _of_weight(layer: Layer, water_depth_ft: float | None) -> _Said:
    weight = ((Measure.UNIT_WEIGHT, layer.unit_weight_lb_ft3),)
    is_in_water = water_depth_ft is not None and layer.bottom_ft > water_depth_ft
    if layer.unit_weight_lb_ft3 < LIGHT_LB_FT3 and layer.soil not in LIGHT_SOILS:
        less = ", or it is the weight less the water" if is_in_water else ""
        yield (
            "unit_weight_lb_ft3",
            f"{{}} is light for a total unit weight{less}: give the total weight, the water in it "
            "included, unless this is peat.",
            weight,
        )
    elif layer.unit_weight_lb_ft3 > HEAVY_LB_FT3:
        yield (
            "unit_weight_lb_ft3",
            "{} is heavier than soil commonly is: look again whether it is rock, or a weight in "
            "other units.",
            weight,
        )


def _of_strength(layer: Layer, stress_psf: float | None) -> _Said:
    strength = layer.undrained_strength_psf
    if layer.kind is not LayerKind.COHESIVE or strength is None:
        return
    low, high = STRENGTHS_PSF.get(layer.soil, (0.0, None))
    if strength < low or (high is not None and strength > high):
        yield (
            "undrained_strength_psf",
            f"{{}} is not “{_braced(layer.soil)}”, which goes with {{}} "
            f"{'or more' if high is None else 'to {}'}: correct the strength, or choose another "
            "soil.",
            _stresses(strength, low, *([] if high is None else [high])),
        )
    if (
        layer.friction_psf is None
        and stress_psf
        and strength > MOST_STRENGTH_OVER_STRESS * stress_psf
    ):
        yield (
            "undrained_strength_psf",
            f"{{}} is more than {MOST_STRENGTH_OVER_STRESS:g} times the effective stress even at "
            "the end of this layer, {}: the method rests on few tests there.",
            _stresses(strength, stress_psf),
        )


def _of_friction(layer: Layer) -> _Said:
    friction = layer.friction_psf
    if friction is None:
        return
    most = max(beta.limit_psf for beta in BETAS.values())
    if friction < NEXT_TO_NOTHING_PSF:
        yield (
            "friction_psf",
            "A friction of {} is next to nothing: less than a very soft clay has.",
            _stresses(friction),
        )
    elif friction > most:
        yield (
            "friction_psf",
            "{} is more than the densest sand ever has, {}: look again whether it is of the "
            "shaft’s surface.",
            _stresses(friction, most),
        )


def _of_vibration(layer: Layer, policy: ExtractionPolicy) -> _Said:
    soil = _soil_of(layer, policy)
    if soil is not None and layer.kind not in soil.kinds:
        fits = ", ".join(each for each in LayerKind if each in soil.kinds)
        yield (
            "soil",
            f"“{_braced(soil.name)}” does not go with a {layer.kind} layer, only with {fits} ones: "
            "choose a soil that does, or correct the layer.",
            (),
        )
    amplitude = layer.needed_amplitude_in
    if amplitude is not None and amplitude < LEAST_AMPLITUDE_IN:
        yield (
            "needed_amplitude_in",
            "An amplitude of {} is less than moves a pile in any soil of the table.",
            ((Measure.DIAMETER, amplitude),),
        )
    elif amplitude is not None and soil is not None and amplitude < soil.needed_amplitude_in:
        yield (
            "needed_amplitude_in",
            "The amplitude typed here, {}, is taken in place of the soil’s {}, and is less: clear "
            "it to take the soil’s.",
            ((Measure.DIAMETER, amplitude), (Measure.DIAMETER, soil.needed_amplitude_in)),
        )
    factor = layer.vibration_factor
    field = "soil" if factor is None else "vibration_factor"
    if factor is not None:
        yield from _of_typed_factor(factor, layer.kind, soil)
        yield from _of_unnamed_clay(factor, layer)
    elif soil is not None:
        factor = soil.factor
    if factor is None:
        return
    if field == "soil" and factor < LEAST_FACTOR:
        yield (
            field,
            f"A factor of {factor:g} is less than any published ({LEAST_FACTOR:g}): the ground "
            f"would hold with {LEAST_FACTOR / factor:.3g} times as much at that one.",
            (),
        )
    elif factor > 1.0:
        yield (
            field,
            f"A factor of {factor:g} counts as 1: vibration never makes ground hold more.",
            (),
        )
    strength = layer.undrained_strength_psf
    is_stiff = layer.kind is LayerKind.COHESIVE and strength is not None and strength >= STIFF_PSF
    if is_stiff and factor < LEAST_FACTOR_OF_STIFF:
        yield (
            field,
            f"A clay of {{}} is stiff, and keeps about {FACTOR_OF_STIFF:g} of its resistance while "
            f"vibrated, not {factor:g}: at that it would hold with "
            f"{FACTOR_OF_STIFF / factor:.3g} times as much.",
            _stresses(strength or 0.0),
        )


def _of_typed_factor(factor: float, kind: LayerKind, soil: SoilResponse | None) -> _Said:
    """Doubt a factor below that of the soil chosen, and below that of every soil of its kind."""
    if soil is not None and factor < soil.factor:
        yield (
            "vibration_factor",
            f"The factor typed here, {factor:g}, is taken in place of the soil’s {soil.factor:g}: "
            f"at the soil’s the ground would hold with {soil.factor / factor:.3g} times as much. "
            "Clear it to take the soil’s.",
            (),
        )
    least = min((each for each in DEFAULT_SOILS if kind in each.kinds), key=lambda it: it.factor)
    if factor < least.factor:
        layers = "a layer of another kind" if kind is LayerKind.OTHER else f"a {kind} layer"
        yield (
            "vibration_factor",
            f"A factor of {factor:g} is less than any published or in common practice for "
            f"{layers} ({least.factor:g}, of “{least.name}”): the ground would hold with "
            f"{least.factor / factor:.3g} times as much at that one.",
            (),
        )


def _of_unnamed_clay(factor: float, layer: Layer) -> _Said:
    """Doubt the factor of a sand or loam typed for a clay whose soil nobody named.

    By the clay its strength goes with, the softest where no strength is given. A stiff clay, and
    a factor below that of every soil of its kind, are doubted by themselves.
    """
    strength = layer.undrained_strength_psf
    is_stiff = strength is not None and strength >= STIFF_PSF
    if layer.kind is not LayerKind.COHESIVE or layer.soil or is_stiff:
        return
    named = "very soft or soft clay"
    if strength is not None and strength >= MEDIUM_PSF:
        named = "medium clay"
    clay = next(each for each in DEFAULT_SOILS if each.name == named)
    least = min(each.factor for each in DEFAULT_SOILS if layer.kind in each.kinds)
    if least <= factor < clay.factor:
        yield (
            "vibration_factor",
            f"A factor of {factor:g} is one of loam or sand, and no soil is named for this clay: a "
            f"“{clay.name}” keeps {clay.factor:g} of its resistance ({clay.factor_source}), and "
            f"would hold with {clay.factor / factor:.3g} times as much. Choose its soil and clear "
            "the factor, or name the soil this factor is of.",
            (),
        )


def _of_the_whole(
    layers: Sequence[Layer], water_depth_ft: float | None, embedment_ft: float
) -> Iterator[Doubt]:
    try:
        pieces = slices(layers, water_depth_ft, embedment_ft)
    except LayerFault:
        return
    length_ft = math.fsum(piece.thickness_ft for piece in pieces)
    mean_psf = math.fsum(piece.friction_psf * piece.thickness_ft for piece in pieces) / length_ft
    if mean_psf < NEXT_TO_NOTHING_PSF:
        yield Doubt(
            None,
            "",
            "The ground holds the pile with next to nothing: {} over its shaft, less than a very "
            "soft clay has. Look at every layer again.",
            _stresses(mean_psf),
        )


def _soil_of(layer: Layer, policy: ExtractionPolicy) -> SoilResponse | None:
    return next((each for each in policy.soils if each.name == layer.soil), None)


def _stress_at_end(
    layers: Sequence[Layer], place: int, water_depth_ft: float | None
) -> float | None:
    """Return the effective stress at a layer's end, None where the layers above don't say."""
    try:
        return effective_stress_psf(layers[: place + 1], water_depth_ft, layers[place].bottom_ft)
    except ValueError:
        return None


def _braced(name: str) -> str:
    """Return a name somebody typed so that no brace in it is taken for the place of a figure."""
    return name.replace("{", "{{").replace("}", "}}")
