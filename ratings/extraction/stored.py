"""A stored job as the mechanics take it."""

from __future__ import annotations

from ratings.mechanics.extraction.job import Crane, Job, Pile, PileKind, PullMethod, SetUp
from ratings.mechanics.soil import Density, Layer, LayerKind
from ratings.models import ExtractionJob, SoilLayer


def job_of(row: ExtractionJob) -> Job:
    """Return a stored job as the mechanics take it."""
    return Job(
        pile=_pile(row),
        layers=tuple(layer_of(layer) for layer in row.layers.all()),
        crane=_crane(row),
        water_depth_ft=row.water_depth_ft,
        set_up=SetUp(row.set_up_low, row.set_up_expected, row.set_up_high),
        method=PullMethod(row.method),
        haul_limit_mi=row.haul_limit_mi,
    )


def distances_of(row: ExtractionJob) -> dict[int, float]:
    """Return how far each yard is from a stored job, by the yard's key, where it was entered."""
    return {each.yard_id: each.distance_mi for each in row.distances.all()}


def layer_of(row: SoilLayer) -> Layer:
    """Return a stored layer as the mechanics take it."""
    return Layer(
        kind=LayerKind(row.kind),
        top_ft=row.top_ft,
        bottom_ft=row.bottom_ft,
        unit_weight_lb_ft3=row.unit_weight_lb_ft3,
        undrained_strength_psf=row.undrained_strength_psf,
        density=Density(row.density) if row.density else None,
        friction_psf=row.friction_psf,
        soil=row.soil,
        vibration_factor=row.vibration_factor,
        needed_amplitude_in=row.needed_amplitude_in,
    )


def _pile(row: ExtractionJob) -> Pile:
    return Pile(
        kind=PileKind(row.pile_kind),
        weight_lb_ft=row.weight_lb_ft,
        perimeter_in=row.perimeter_in,
        length_ft=row.length_ft,
        embedment_ft=row.embedment_ft,
        area_in2=row.area_in2,
        plug_area_in2=(row.plug_area_in2 or 0.0) if row.is_plugged else 0.0,
        yield_strength_ksi=row.yield_strength_ksi,
        tension_limit_lbf=row.tension_limit_lbf,
    )


def _crane(row: ExtractionJob) -> Crane:
    return Crane(
        capacity_lbf=row.capacity_lbf,
        hook_block_lb=row.hook_block_lb,
        rigging_weight_lb=row.rigging_weight_lb,
        rigging_limit_lbf=row.rigging_limit_lbf,
        legs=row.legs,
        leg_angle_deg=row.leg_angle_deg,
    )
