"""Static friction of the ground on a pile's shaft, layer by layer.

Cohesive layers by the alpha method, granular ones by the beta method with a limit (API RP 2GEO,
ISO 19901-4, main text). No resistance at the toe: a pile that is pulled has none.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from ratings.mechanics.arguments import not_negative, number, positive, set_checked

# Weight of fresh water, lb/ft³ (62.4 in every handbook of the field).
WATER_LB_FT3 = 62.4
# Thicker pieces would blur how friction grows with depth.
THICKEST_SLICE_FT = 5.0
# Below a wide hole stress bends with depth, so the pieces are finer.
THICKEST_RELIEVED_FT = 1.0
# Below this a gap between two depths is rounding, not ground.
DEPTH_ROUNDING_FT = 1e-6


class LayerKind(StrEnum):
    """What a layer is, and so which method gives its friction."""

    COHESIVE = "cohesive"
    GRANULAR = "granular"
    OTHER = "other"


class Density(StrEnum):
    """Classes of granular soil the beta method has values for, and what it has none for."""

    LOOSER = "looser than any class below"
    MEDIUM_DENSE_SAND_SILT = "medium dense sand-silt"
    MEDIUM_DENSE_SAND = "medium dense sand"
    DENSE_SAND_SILT = "dense sand-silt"
    DENSE_SAND = "dense sand"
    VERY_DENSE_SAND_SILT = "very dense sand-silt"
    VERY_DENSE_SAND = "very dense sand"


@dataclass(frozen=True)
class Beta:
    """Shaft friction factor of a class, and the unit friction it never passes, psf."""

    factor: float
    limit_psf: float


BETAS = {
    Density.MEDIUM_DENSE_SAND_SILT: Beta(0.29, 1400.0),
    Density.MEDIUM_DENSE_SAND: Beta(0.37, 1700.0),
    Density.DENSE_SAND_SILT: Beta(0.37, 1700.0),
    Density.DENSE_SAND: Beta(0.46, 2000.0),
    Density.VERY_DENSE_SAND_SILT: Beta(0.46, 2000.0),
    Density.VERY_DENSE_SAND: Beta(0.56, 2400.0),
}


class LayerFault(ValueError):
    """A layer that gives no friction: which (from 0), which field, and what would do."""

    def __init__(self, layer: int, field: str, message: str) -> None:
        super().__init__(message)
        self.layer, self.field = layer, field


@dataclass(frozen=True)
class Layer:
    """One layer of ground.

    top_ft, bottom_ft: depth below the ground, ft.
    unit_weight_lb_ft3: total unit weight, that of the water in it included.
    undrained_strength_psf: of a cohesive layer.
    density: class of a granular layer.
    friction_psf: static unit friction somebody enters in place of a method's.
    soil: name of the soil in the policy's table of soils under vibration.
    vibration_factor, needed_amplitude_in: entered in place of the table's.
    """

    kind: LayerKind
    top_ft: float
    bottom_ft: float
    unit_weight_lb_ft3: float
    undrained_strength_psf: float | None = None
    density: Density | None = None
    friction_psf: float | None = None
    soil: str = ""
    vibration_factor: float | None = None
    needed_amplitude_in: float | None = None

    def __post_init__(self) -> None:
        set_checked(
            self,
            kind=LayerKind(self.kind),
            density=None if self.density is None else Density(self.density),
            top_ft=not_negative("top_ft", self.top_ft, "ft"),
            bottom_ft=positive("bottom_ft", self.bottom_ft, "ft"),
            unit_weight_lb_ft3=positive("unit_weight_lb_ft3", self.unit_weight_lb_ft3, "lb/ft³"),
        )
        for name, symbol in (("undrained_strength_psf", "psf"), ("vibration_factor", "")):
            if getattr(self, name) is not None:
                set_checked(self, **{name: positive(name, getattr(self, name), symbol)})
        for name, symbol in (("friction_psf", "psf"), ("needed_amplitude_in", "in")):
            if getattr(self, name) is not None:
                set_checked(self, **{name: not_negative(name, getattr(self, name), symbol)})


@dataclass(frozen=True)
class Slice:
    """A piece of a layer along the shaft and its static friction at its middle.

    layer: which layer, from 0. stress_psf: effective vertical stress at the middle.
    """

    layer: int
    top_ft: float
    bottom_ft: float
    stress_psf: float
    friction_psf: float

    @property
    def thickness_ft(self) -> float:
        """How much of the shaft it lies along, ft."""
        return self.bottom_ft - self.top_ft


def check_profile(
    layers: Sequence[Layer], water_depth_ft: float | None, embedment_ft: float
) -> None:
    """Refuse layers that don't follow each other from the ground to the toe.

    water_depth_ft: depth of the water level below the ground, negative where water stands
        above it, None where there is none.
    Raises LayerFault for a thickness of 0, a gap, an overlap, a unit weight under water below
    that of water, a layer its method has no value for, and layers that end above the toe.
    """
    if not layers:
        raise LayerFault(0, "kind", "There is no layer: give the ground from its top to the toe.")
    if water_depth_ft is not None:
        number("water_depth_ft", water_depth_ft)
    above_ft = 0.0
    for place, layer in enumerate(layers):
        _check_place(place, layer, above_ft)
        _check_weight(place, layer, water_depth_ft)
        _check_method(place, layer)
        above_ft = layer.bottom_ft
    toe_ft = not_negative("embedment_ft", embedment_ft, "ft")
    if above_ft < toe_ft - DEPTH_ROUNDING_FT:
        raise LayerFault(
            len(layers) - 1, "bottom_ft", f"The layers end at {above_ft:g} ft, the toe is at "
            f"{toe_ft:g} ft: make the last layer thicker or add one."
        )  # fmt: skip


def total_stress_psf(layers: Sequence[Layer], depth_ft: float) -> float:
    """Return the weight of the ground above a depth, water in it included, psf: Σ γ·h."""
    return math.fsum(
        layer.unit_weight_lb_ft3 * (min(layer.bottom_ft, depth_ft) - layer.top_ft)
        for layer in layers
        if layer.top_ft < depth_ft
    )


def effective_stress_psf(
    layers: Sequence[Layer], water_depth_ft: float | None, depth_ft: float
) -> float:
    """Return the effective vertical stress at a depth, psf: weight above less water pressure.

    σ′ = Σ γ·h − γ_w·(z − z_w). Water standing above the ground weighs as much as it presses
    and so changes nothing. Raises ValueError for a depth below the last layer.
    """
    depth = not_negative("depth_ft", depth_ft, "ft")
    end_ft = max((layer.bottom_ft for layer in layers), default=0.0)
    if depth > end_ft + DEPTH_ROUNDING_FT:
        raise ValueError(
            f"depth_ft is {depth:g}: give no more than the {end_ft:g} ft of the layers"
        )
    total = total_stress_psf(layers, depth)
    if water_depth_ft is None:
        return total
    under_water_ft = max(0.0, depth - max(0.0, number("water_depth_ft", water_depth_ft)))
    return max(0.0, total - WATER_LB_FT3 * under_water_ft)


@dataclass(frozen=True)
class Hole:
    """A hole dug about a pile.

    depth_ft: below the ground, all around the pile. width_ft: of its level bottom, the pile in
        the middle; 0 for a narrow one, which takes no load off the ground below it.
    """

    depth_ft: float
    width_ft: float = 0.0

    def __post_init__(self) -> None:
        set_checked(
            self,
            depth_ft=not_negative("depth_ft", self.depth_ft, "ft"),
            width_ft=not_negative("width_ft", self.width_ft, "ft"),
        )


def relieved_share(width_ft: float, below_ft: float) -> float:
    """Return the share of a weight taken off at a hole's bottom that is missed so far below it.

    1 − [1 + (b/z)²]^(−3/2), b half the width, z the depth below: Boussinesq, vertical stress
    under the middle of a uniformly loaded circle (in every handbook of the field), with its sign
    turned. There is no width from which a hole counts as wide: one half as wide as it is far
    relieves 9 %, one four times as wide 91 %. Raises ValueError for a number below 0.
    """
    half_ft = not_negative("width_ft", width_ft, "ft") / 2.0
    below = not_negative("below_ft", below_ft, "ft")
    if below == 0.0:
        return 1.0 if half_ft else 0.0
    share: float = 1.0 - (1.0 + (half_ft / below) ** 2) ** -1.5
    return share


def stress_below_hole_psf(
    layers: Sequence[Layer], water_depth_ft: float | None, depth_ft: float, hole: Hole
) -> float:
    """Return the effective vertical stress at a depth below a hole, psf.

    What it was, less the share relieved of the effective weight dug out. A hole below the water
    level is full of water, and only the ground’s weight above buoyancy is missed; pumped dry, no
    less friction is left. Raises ValueError for a depth above its bottom.
    """
    if depth_ft < hole.depth_ft - DEPTH_ROUNDING_FT:
        raise ValueError(
            f"depth_ft is {depth_ft:g}: give {hole.depth_ft:g} or more, below the hole"
        )
    stress = effective_stress_psf(layers, water_depth_ft, depth_ft)
    if not hole.width_ft or not hole.depth_ft:
        return stress
    dug = effective_stress_psf(layers, water_depth_ft, hole.depth_ft)
    below_ft = max(0.0, depth_ft - hole.depth_ft)
    return max(0.0, stress - relieved_share(hole.width_ft, below_ft) * dug)


def friction_below_hole_psf(
    layers: Sequence[Layer], water_depth_ft: float | None, piece: Slice, hole: Hole
) -> float:
    """Return the static unit friction of a piece of shaft below a hole, at its middle, psf.

    Only granular layers lose friction with the weight above: a cohesive layer keeps its strength,
    and a friction somebody entered stays as entered. That a sand keeps part of the pressure it was
    under is not in it: the figure for a wide hole is the least friction to expect.
    """
    layer = layers[piece.layer]
    if layer.kind is not LayerKind.GRANULAR or layer.friction_psf is not None:
        return piece.friction_psf
    middle_ft = (piece.top_ft + piece.bottom_ft) / 2.0
    return unit_friction_psf(layer, stress_below_hole_psf(layers, water_depth_ft, middle_ft, hole))


def alpha(undrained_strength_psf: float, stress_psf: float) -> float:
    """Return the shaft friction factor of a cohesive soil (API RP 2GEO).

    With ψ = s_u/σ′: 0.5·ψ^−0.5 for ψ ≤ 1, 0.5·ψ^−0.25 beyond, and never more than 1. 0 where
    nothing presses. Raises ValueError for a strength not above 0 and a stress below 0, psf.
    """
    strength = positive("undrained_strength_psf", undrained_strength_psf, "psf")
    stress = not_negative("stress_psf", stress_psf, "psf")
    if stress == 0.0:
        return 0.0
    ratio = strength / stress
    alpha: float = 0.5 * ratio ** (-0.5 if ratio <= 1.0 else -0.25)
    return min(1.0, alpha)


def unit_friction_psf(layer: Layer, stress_psf: float) -> float:
    """Return a layer's static unit friction at an effective stress, psf.

    What was entered, else α·s_u for a cohesive layer, else β·σ′ up to the limit of its class.
    Raises ValueError where the method has no value: enter one.
    """
    if layer.friction_psf is not None:
        return layer.friction_psf
    if layer.kind is LayerKind.COHESIVE and layer.undrained_strength_psf is not None:
        return alpha(layer.undrained_strength_psf, stress_psf) * layer.undrained_strength_psf
    beta = BETAS.get(layer.density) if layer.density else None
    if layer.kind is LayerKind.GRANULAR and beta is not None:
        return min(beta.factor * not_negative("stress_psf", stress_psf, "psf"), beta.limit_psf)
    raise ValueError("The method has no unit friction for this layer: enter one.")


def slices(
    layers: Sequence[Layer],
    water_depth_ft: float | None,
    toe_ft: float,
    hole: Hole | None = None,
) -> tuple[Slice, ...]:
    """Cut the ground along the shaft, and give each piece its static friction.

    hole: cut at its bottom too, and every foot below it where its width relieves the ground; the
        friction is that of the ground as it was.
    Cut at every layer, at the water level, at every 5 ft, where friction bends (granular comes to
    its limit, alpha changes its branch), and at the toe; friction is that at the middle of a
    piece. The cuts don't move with the toe, so a longer shaft never has less.
    Raises LayerFault as check_profile does.
    """
    check_profile(layers, water_depth_ft, toe_ft)
    return tuple(
        _slice(layers, water_depth_ft, top_ft, bottom_ft)
        for top_ft, bottom_ft in pairwise(_cuts(layers, water_depth_ft, toe_ft, hole))
    )


def _cuts(
    layers: Sequence[Layer], water_depth_ft: float | None, toe_ft: float, hole: Hole | None
) -> list[float]:
    thick_ft = THICKEST_SLICE_FT if hole is None or not hole.width_ft else THICKEST_RELIEVED_FT
    many = math.ceil(toe_ft / thick_ft)
    depths_ft = [thick_ft * each for each in range(1, many)]
    depths_ft += [] if hole is None else [hole.depth_ft]
    depths_ft += [layer.bottom_ft for layer in layers]
    depths_ft += [water_depth_ft or 0.0, *_bend_depths_ft(layers, water_depth_ft)]
    cuts = [0.0]
    for depth_ft in [*sorted(each for each in depths_ft if 0.0 < each < toe_ft), toe_ft]:
        if depth_ft - cuts[-1] > DEPTH_ROUNDING_FT:
            cuts.append(depth_ft)
    return cuts


def _bend_depths_ft(layers: Sequence[Layer], water_depth_ft: float | None) -> list[float]:
    """Return where friction bends within a layer.

    Cut there, granular friction is straight along every piece, and that at the middle is the
    mean to the last digit; cohesive friction flattens along every piece, and that at the middle
    is never less than the mean.
    """
    depths = []
    for layer in layers:
        bend_psf = _bend_psf(layer)
        if bend_psf is None:
            continue
        water_ft = min(max(water_depth_ft or layer.top_ft, layer.top_ft), layer.bottom_ft)
        for top_ft, bottom_ft in pairwise((layer.top_ft, water_ft, layer.bottom_ft)):
            above, below = (
                effective_stress_psf(layers, water_depth_ft, depth_ft)
                for depth_ft in (top_ft, bottom_ft)
            )
            if above < bend_psf < below:
                share = (bend_psf - above) / (below - above)
                depths.append(top_ft + share * (bottom_ft - top_ft))
    return depths


def _bend_psf(layer: Layer) -> float | None:
    """Return the effective stress at which a layer's friction bends, None where it never does."""
    if layer.friction_psf is not None:
        return None
    if layer.kind is LayerKind.COHESIVE:
        return layer.undrained_strength_psf
    beta = BETAS.get(layer.density) if layer.density else None
    return None if beta is None else beta.limit_psf / beta.factor


def _slice(
    layers: Sequence[Layer], water_depth_ft: float | None, top_ft: float, bottom_ft: float
) -> Slice:
    middle_ft = (top_ft + bottom_ft) / 2.0
    place = next(
        (at for at, layer in enumerate(layers) if middle_ft <= layer.bottom_ft), len(layers) - 1
    )
    stress_psf = effective_stress_psf(layers, water_depth_ft, middle_ft)
    return Slice(place, top_ft, bottom_ft, stress_psf, unit_friction_psf(layers[place], stress_psf))


def _check_place(place: int, layer: Layer, above_ft: float) -> None:
    if layer.bottom_ft - layer.top_ft <= DEPTH_ROUNDING_FT:
        raise LayerFault(
            place, "bottom_ft", f"This layer is from {layer.top_ft:g} to {layer.bottom_ft:g} ft "
            "and so has no thickness: give more than 0."
        )  # fmt: skip
    if layer.top_ft < above_ft - DEPTH_ROUNDING_FT:
        raise LayerFault(
            place, "top_ft", f"This layer begins at {layer.top_ft:g} ft, within the one above, "
            f"which ends at {above_ft:g} ft: begin it there."
        )  # fmt: skip
    if layer.top_ft > above_ft + DEPTH_ROUNDING_FT:
        raise LayerFault(
            place, "top_ft", f"Nothing is given from {above_ft:g} to {layer.top_ft:g} ft: begin "
            f"this layer at {above_ft:g} ft or put one between."
        )  # fmt: skip


def _check_weight(place: int, layer: Layer, water_depth_ft: float | None) -> None:
    is_wet = water_depth_ft is not None and layer.bottom_ft > water_depth_ft
    if is_wet and layer.unit_weight_lb_ft3 < WATER_LB_FT3:
        raise LayerFault(
            place, "unit_weight_lb_ft3", f"{layer.unit_weight_lb_ft3:g} lb/ft³ is lighter than "
            f"the water this layer stands in: give the total unit weight, {WATER_LB_FT3} or more."
        )  # fmt: skip


def _check_method(place: int, layer: Layer) -> None:
    if layer.friction_psf is not None:
        return
    if layer.kind is LayerKind.COHESIVE and layer.undrained_strength_psf is None:
        raise LayerFault(
            place, "undrained_strength_psf", "The alpha method needs the undrained strength: "
            "give it, or enter a unit friction."
        )  # fmt: skip
    if layer.kind is LayerKind.GRANULAR and layer.density is None:
        raise LayerFault(
            place, "density", "The beta method needs the density class: give it, or enter a unit "
            "friction."
        )  # fmt: skip
    if layer.kind is LayerKind.OTHER or layer.density is Density.LOOSER:
        raise LayerFault(
            place, "friction_psf", "No published method covers this layer: enter its unit "
            "friction, from somebody who knows this ground."
        )  # fmt: skip
