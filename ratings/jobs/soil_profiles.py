"""Soil profiles to start a job from: a few generic ones, and those the yard kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fleet.fields import whole_number
from ratings.mechanics.soil import Density, Layer, LayerKind
from ratings.models import SoilTemplate

NO_SOURCE = "Common values, no published source: put the site’s own in their place."


@dataclass(frozen=True)
class SoilProfile:
    """Layers of ground under a name, and the depth of the water in it, ft."""

    name: str
    water_depth_ft: float | None
    layers: tuple[Layer, ...]
    note: str = NO_SOURCE


GENERIC_PROFILES = {
    "sand": SoilProfile(
        "medium dense sand",
        5.0,
        (
            Layer(
                LayerKind.GRANULAR,
                0.0,
                100.0,
                120.0,
                density=Density.MEDIUM_DENSE_SAND,
                soil="round medium sand, round gravel",
            ),
        ),
    ),
    "dense": SoilProfile(
        "dense angular sand",
        10.0,
        (
            Layer(
                LayerKind.GRANULAR,
                0.0,
                100.0,
                125.0,
                density=Density.DENSE_SAND,
                soil="angular sand, coarse gravel",
            ),
        ),
    ),
    "clay": SoilProfile(
        "stiff clay",
        10.0,
        (
            Layer(
                LayerKind.COHESIVE,
                0.0,
                100.0,
                120.0,
                undrained_strength_psf=1500.0,
                soil="marl, stiff or very stiff clay",
            ),
        ),
    ),
    "loam": SoilProfile(
        "soft loam over medium dense sand",
        5.0,
        (
            Layer(
                LayerKind.COHESIVE,
                0.0,
                15.0,
                105.0,
                undrained_strength_psf=500.0,
                soil="soft loam or marl, soft loess, stiff cliff",
            ),
            Layer(
                LayerKind.GRANULAR,
                15.0,
                100.0,
                120.0,
                density=Density.MEDIUM_DENSE_SAND,
                soil="round medium sand, round gravel",
            ),
        ),
    ),
}


def profile_of(template: SoilTemplate) -> SoilProfile:
    """Return a kept template as a profile."""
    return SoilProfile(
        name=template.name,
        water_depth_ft=template.water_depth_ft,
        layers=tuple(Layer(**record) for record in template.layers),
        note=template.note,
    )


def find_profile(key: str) -> SoilProfile | None:
    """Return the profile of a key that profile_choices gave, None for any other."""
    source, _, rest = key.partition(":")
    if source == "generic":
        return GENERIC_PROFILES.get(rest)
    key_of_template = whole_number(rest) if source == "yard" else None
    if key_of_template is None:
        return None
    template = SoilTemplate.objects.filter(pk=key_of_template).first()
    return None if template is None else profile_of(template)


def profile_choices() -> list[tuple[str, Any]]:
    """Return the profiles as choices of a form's field, the yard's own first."""
    own = [(f"yard:{row.pk}", row.name) for row in SoilTemplate.objects.only("name")]
    generic = [(f"generic:{key}", each.name) for key, each in GENERIC_PROFILES.items()]
    kept = [("The yard’s own", own)] if own else []
    return [("", "choose a profile"), *kept, ("Generic", generic)]
