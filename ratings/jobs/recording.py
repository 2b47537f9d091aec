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
from ratings.by_name import made_by_name
from ratings.mechanics.extraction.job import Crane, Job, Pile, SetUp
from ratings.mechanics.soil import Layer
from ratings.models import ExtractionJob, SoilLayer, YardDistance


def job_of(row: ExtractionJob, layers: Sequence[Layer] | None = None) -> Job:
    """Return a job as the mechanics take it. layers: its ground, where not recorded with it yet.

    Raises ValueError where the mechanics refuse a number.
    """
    plug_area_in2 = row.plug_area_in2 if row.is_plugged else None
    return made_by_name(
        Job,
        row,
        pile=made_by_name(
            Pile,
            row,
            kind=row.pile_kind,
            plug_area_in2=plug_area_in2 or 0.0,
            end=None,
            inside_perimeter_in=0.0,
        ),
        layers=[layer_of(each) for each in row.layers.all()] if layers is None else layers,
        crane=made_by_name(Crane, row),
        set_up=SetUp(row.set_up_low, row.set_up_expected, row.set_up_high),
        holds=(),
        days_since_driving=None,
    )


def layer_of(row: SoilLayer) -> Layer:
    """Return a layer of a job, recorded or not, as the mechanics take it."""
    return made_by_name(Layer, row, density=row.density or None)


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
        SoilLayer(job=job, place=place, **asdict(layer) | {"density": layer.density or ""})
        for place, layer in enumerate(layers)
    )


def _replace_distances(job: ExtractionJob, distances: Mapping[int, float]) -> None:
    YardDistance.objects.filter(job=job).delete()
    YardDistance.objects.bulk_create(
        YardDistance(job=job, yard_id=yard_id, distance_mi=distance_mi)
        for yard_id, distance_mi in distances.items()
    )
