"""Save a job: its numbers, its ground and its distances, all or nothing."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet import clock
from fleet.dates import days_words
from ratings.mechanics.extraction.job import Crane, Job, Pile, PileKind, PullMethod, SetUp
from ratings.mechanics.soil import Density, Layer, LayerKind
from ratings.models import ExtractionJob, SoilLayer, YardDistance


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


@transaction.atomic
def save_job(
    *,
    submission_id: uuid.UUID,
    job: ExtractionJob | None,
    fields: Mapping[str, Any],
    layers: Sequence[Layer],
    distances: Mapping[int, float],
    by: User,
) -> ExtractionJob:
    """Save a new job, or the changes of one. A second copy of a new one changes nothing.

    fields: of the ExtractionJob, by name. distances: miles by the yard's key.
    Answers already given stay as they were. Raises ValidationError where the days of a job
    that holds units would change.
    """
    if job is None:
        known = ExtractionJob.objects.filter(submission_id=submission_id).first()
        if known is not None:
            return known
        saved = ExtractionJob(submission_id=submission_id, created_by=by)
    else:
        saved = ExtractionJob.objects.select_for_update().get(pk=job.pk)
        _refuse_other_days(saved, fields)
    for name, value in fields.items():
        setattr(saved, name, value)
    saved.changed_at, saved.changed_by = clock.now(), by
    saved.save()
    _replace_ground(saved, layers)
    _replace_distances(saved, distances)
    return saved


def _refuse_other_days(job: ExtractionJob, fields: Mapping[str, Any]) -> None:
    days = (fields.get("first_day", job.first_day), fields.get("last_day", job.last_day))
    if days == (job.first_day, job.last_day):
        return
    held = job.commitments.in_force().select_related("housing")
    if held:
        marks = ", ".join(each.housing.mark for each in held)
        raise ValidationError(
            {
                "first_day": f"{marks} {'is' if len(held) == 1 else 'are'} committed to this job "
                f"for {days_words(job.first_day, job.last_day)}: release "
                f"{'it' if len(held) == 1 else 'them'} first, then change the days."
            }
        )


def _replace_ground(job: ExtractionJob, layers: Sequence[Layer]) -> None:
    SoilLayer.objects.filter(job=job).delete()
    SoilLayer.objects.bulk_create(
        SoilLayer(job=job, place=place, **_plain(layer)) for place, layer in enumerate(layers)
    )


def _plain(layer: Layer) -> dict[str, Any]:
    return asdict(layer) | {"kind": str(layer.kind), "density": str(layer.density or "")}


def _replace_distances(job: ExtractionJob, distances: Mapping[int, float]) -> None:
    YardDistance.objects.filter(job=job).delete()
    YardDistance.objects.bulk_create(
        YardDistance(job=job, yard_id=yard_id, distance_mi=distance_mi)
        for yard_id, distance_mi in distances.items()
    )
