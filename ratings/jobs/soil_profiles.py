"""Soil profiles to start a job from: a few generic ones, and those the yard kept."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.contrib.auth.models import User

from fleet.fields import whole_number
from fleet.people.yards import in_no_yard
from ratings.jobs.recording import layer_of
from ratings.mechanics.soil import Density, Layer, LayerKind
from ratings.models import ExtractionJob, SoilTemplate

NO_SOURCE = "Common values, no published source: put the site’s own in their place."


def _profile(name: str, water_depth_ft: float, *layers: Layer) -> SoilTemplate:
    return SoilTemplate(
        name=name,
        water_depth_ft=water_depth_ft,
        layers=[asdict(layer) for layer in layers],
        note=NO_SOURCE,
    )


def _granular(top_ft: float, unit_weight_lb_ft3: float, density: Density, soil: str) -> Layer:
    return Layer(LayerKind.GRANULAR, top_ft, 100.0, unit_weight_lb_ft3, density=density, soil=soil)


def _cohesive(
    bottom_ft: float, unit_weight_lb_ft3: float, undrained_strength_psf: float, soil: str
) -> Layer:
    return Layer(
        LayerKind.COHESIVE,
        0.0,
        bottom_ft,
        unit_weight_lb_ft3,
        undrained_strength_psf=undrained_strength_psf,
        soil=soil,
    )


ROUND_SAND = "round medium sand, round gravel"
ANGULAR_SAND = "angular sand, coarse gravel"
STIFF_CLAY = "marl, stiff or very stiff clay"
SOFT_LOAM = "soft loam or marl, soft loess, stiff cliff"
GENERIC_PROFILES = {
    "sand": _profile(
        "medium dense sand", 5.0, _granular(0.0, 120.0, Density.MEDIUM_DENSE_SAND, ROUND_SAND)
    ),
    "dense": _profile(
        "dense angular sand", 10.0, _granular(0.0, 125.0, Density.DENSE_SAND, ANGULAR_SAND)
    ),
    "clay": _profile("stiff clay", 10.0, _cohesive(100.0, 120.0, 1500.0, STIFF_CLAY)),
    "loam": _profile(
        "soft loam over medium dense sand",
        5.0,
        _cohesive(15.0, 105.0, 500.0, SOFT_LOAM),
        _granular(15.0, 120.0, Density.MEDIUM_DENSE_SAND, ROUND_SAND),
    ),
}


@in_no_yard("the ground is of no yard")
def keep_profile(*, template: SoilTemplate, job: ExtractionJob, by: User) -> SoilTemplate:
    """Let jobs start from a job's ground as it is now, by the name that a template bears.

    Raises ValidationError naming the field of what can't be.
    """
    template.recorded_by = by
    template.water_depth_ft = job.water_depth_ft
    template.layers = [asdict(layer_of(each)) for each in job.layers.all()]
    # A job with no layers has ground to start from too.
    template.full_clean(exclude={"layers"})
    template.save(force_insert=True)
    return template


def find_profile(key: str) -> SoilTemplate | None:
    """Return the profile of a key that profile_choices gave, None for any other."""
    source, _, rest = key.partition(":")
    if source == "generic":
        return GENERIC_PROFILES.get(rest)
    key_of_template = whole_number(rest) if source == "yard" else None
    if key_of_template is None:
        return None
    return SoilTemplate.objects.filter(pk=key_of_template).first()


def profile_choices() -> list[tuple[str, Any]]:
    """Return the profiles as choices of a form's field, the yard's own first."""
    own = [(f"yard:{row.pk}", row.name) for row in SoilTemplate.objects.only("name")]
    generic = [(f"generic:{key}", each.name) for key, each in GENERIC_PROFILES.items()]
    kept = [("The yard’s own", own)] if own else []
    return [("", "choose a profile"), *kept, ("Generic", generic)]
