"""Save a job: its numbers, its piles, its ground and its distances, all or nothing."""

from __future__ import annotations

import math
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
from ratings.mechanics.extraction.holds import OtherHold
from ratings.mechanics.extraction.job import (
    Crane,
    Job,
    Pile,
    PileEnd,
    PileKind,
    PileOfJob,
    SetUp,
)
from ratings.mechanics.soil import Layer
from ratings.models import ExtractionJob, JobHold, PileGroup, SoilLayer, YardDistance


def jobs_of(
    row: ExtractionJob,
    groups: Sequence[PileGroup] | None = None,
    layers: Sequence[Layer] | None = None,
    holds: Sequence[OtherHold] | None = None,
) -> tuple[PileOfJob, ...]:
    """Return each group of piles of a job as the mechanics take it, numbered from 1.

    groups, layers, holds: of the job, where not recorded with it yet. Raises ValueError where the
    mechanics refuse a number.
    """
    ground = [layer_of(each) for each in row.layers.all()] if layers is None else layers
    other_holds = [hold_of(each) for each in row.holds.all()] if holds is None else holds
    crane = made_by_name(Crane, row)
    set_up = SetUp(row.set_up_low, row.set_up_expected, row.set_up_high)
    return tuple(
        PileOfJob(
            number,
            group.name,
            group.count,
            made_by_name(
                Job,
                row,
                pile=pile_of(group),
                layers=ground,
                crane=crane,
                set_up=set_up,
                holds=other_holds,
            ),
        )
        for number, group in enumerate(row.pile_groups.all() if groups is None else groups, start=1)
    )


def pile_of(group: PileGroup) -> Pile:
    """Return a pile of a group as the mechanics take it.

    A pipe of before its end was asked is taken as open, and which way not known. Raises
    ValueError where the mechanics refuse a number.
    """
    end = None
    is_pipe = group.kind == PileKind.PIPE
    if is_pipe:
        end = PileEnd(group.end) if group.end else PileEnd.OPEN_UNKNOWN
    carries = group.is_plugged or end in (PileEnd.OPEN_PLUGGED, PileEnd.OPEN_UNKNOWN)
    plug_area_in2 = (_plug_area_in2(group) if is_pipe else group.plug_area_in2) if carries else None
    rubs = end in (PileEnd.OPEN_CORED, PileEnd.OPEN_UNKNOWN)
    return made_by_name(
        Pile,
        group,
        end=end,
        plug_area_in2=plug_area_in2 or 0.0,
        inside_perimeter_in=_inside_perimeter_in(group) if rubs else 0.0,
    )


def _plug_area_in2(group: PileGroup) -> float:
    """Return the area within a pipe, in²: where nobody gave it, a round pipe's less its steel."""
    if group.plug_area_in2:
        return group.plug_area_in2
    outside_in2 = group.perimeter_in**2 / (4.0 * math.pi)
    return max(outside_in2 - (group.area_in2 or 0.0), 0.01 * outside_in2)


def _inside_perimeter_in(group: PileGroup) -> float:
    """Return the perimeter inside a pipe, in: where nobody gave it, a round pipe's."""
    within_in = group.inside_perimeter_in or 2.0 * math.sqrt(math.pi * _plug_area_in2(group))
    return min(within_in, 0.999 * group.perimeter_in)


def job_of(row: ExtractionJob) -> Job:
    """Return the first group of piles of a job as the mechanics take it.

    Raises ValueError where the mechanics refuse a number.
    """
    return jobs_of(row)[0].job


def hold_of(row: JobHold) -> OtherHold:
    """Return a hold of a job, recorded or not, as the mechanics take it."""
    return made_by_name(OtherHold, row)


def layer_of(row: SoilLayer) -> Layer:
    """Return a layer of a job, recorded or not, as the mechanics take it."""
    return made_by_name(Layer, row, density=row.density or None)


@transaction.atomic
def save_job(
    *,
    submission_id: uuid.UUID,
    job: ExtractionJob | None,
    fields: Mapping[str, Any],
    piles: Sequence[Mapping[str, Any]],
    layers: Sequence[Layer],
    distances: Mapping[int, float],
    holds: Sequence[OtherHold] = (),
    tests: Sequence[Mapping[str, Any]] = (),
    by: User,
) -> ExtractionJob:
    """Save a new job, or the changes of one. A second copy of a new one changes nothing.

    fields: of the ExtractionJob, by name. piles: its groups in their order, each the fields of a
    PileGroup by name. distances: miles by the yard's key. holds: what else holds the piles.
    tests: of each layer, what a penetration test gave: fields of a SoilLayer by name.
    Answers already given stay as they were. Raises ValidationError where there is no pile, and
    where the days of a job that holds units would change.
    """
    if not piles:
        raise ValidationError("There is no pile: give a group of piles or more.")
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
    _replace_piles(saved, piles)
    _replace_holds(saved, holds)
    _replace_ground(saved, layers, tests)
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


def _replace_piles(job: ExtractionJob, piles: Sequence[Mapping[str, Any]]) -> None:
    PileGroup.objects.filter(job=job).delete()
    PileGroup.objects.bulk_create(
        PileGroup(job=job, place=place, **pile) for place, pile in enumerate(piles)
    )


def _replace_holds(job: ExtractionJob, holds: Sequence[OtherHold]) -> None:
    JobHold.objects.filter(job=job).delete()
    JobHold.objects.bulk_create(
        JobHold(job=job, place=place, **asdict(hold)) for place, hold in enumerate(holds)
    )


def _replace_ground(
    job: ExtractionJob, layers: Sequence[Layer], tests: Sequence[Mapping[str, Any]]
) -> None:
    SoilLayer.objects.filter(job=job).delete()
    SoilLayer.objects.bulk_create(
        SoilLayer(
            job=job,
            place=place,
            **asdict(layer) | {"density": layer.density or ""},
            **(tests[place] if tests else {}),
        )
        for place, layer in enumerate(layers)
    )


def _replace_distances(job: ExtractionJob, distances: Mapping[int, float]) -> None:
    YardDistance.objects.filter(job=job).delete()
    YardDistance.objects.bulk_create(
        YardDistance(job=job, yard_id=yard_id, distance_mi=distance_mi)
        for yard_id, distance_mi in distances.items()
    )
