"""Save a job: its numbers, its piles, its ground and its distances, all or nothing."""

from __future__ import annotations

import math
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Model

from fleet import clock
from fleet.dates import days_words
from fleet.models import Yard
from fleet.people.yards import in_yard_of, lock_and_look_again
from ratings.by_name import made_by_name
from ratings.jobs.history import Document, is_same, job_document, recorded_document
from ratings.ledger.canonical import canonical_text
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
from ratings.models import ExtractionJob, JobHold, JobVersion, PileGroup, SoilLayer, YardDistance


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
        return float(group.plug_area_in2)
    outside_in2 = float(group.perimeter_in) ** 2 / (4.0 * math.pi)
    return max(outside_in2 - float(group.area_in2 or 0.0), 0.01 * outside_in2)


def _inside_perimeter_in(group: PileGroup) -> float:
    """Return the perimeter inside a pipe, in: where nobody gave it, a round pipe's."""
    within_in = group.inside_perimeter_in or 2.0 * math.sqrt(math.pi * _plug_area_in2(group))
    return min(float(within_in), 0.999 * float(group.perimeter_in))


def hold_of(row: JobHold) -> OtherHold:
    """Return a hold of a job, recorded or not, as the mechanics take it."""
    return made_by_name(OtherHold, row)


def layer_of(row: SoilLayer) -> Layer:
    """Return a layer of a job, recorded or not, as the mechanics take it."""
    return made_by_name(Layer, row, density=row.density or None)


@in_yard_of("job")
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
    drawn_with: int | None = None,
    by: User,
) -> ExtractionJob:
    """Save a new job, or the changes of one, as a version of its own.

    A second copy of a new one changes nothing, and neither does a save that asks what is on
    record already.

    fields: of the ExtractionJob, by name. piles: its groups in their order, each the fields of a
    PileGroup by name. distances: miles by the yard's key. holds: what else holds the piles.
    tests: of each layer, what a penetration test gave: fields of a SoilLayer by name.
    drawn_with: the version of the job that the changes were made to; the one `job` was read at
    where not given.
    Answers already given stay as they were. Raises JobChangedMeanwhile where the job is at
    another version by now and asks otherwise than these changes would have it, ValidationError
    where there is no pile, and where the days of a job that holds units would change.
    """
    if not piles:
        raise ValidationError("There is no pile: give a group of piles or more.")
    if job is None:
        known = ExtractionJob.objects.filter(submission_id=submission_id).first()
        if known is not None:
            return known
        saved = ExtractionJob(submission_id=submission_id, created_by=by)
    else:
        lock_and_look_again()
        saved = ExtractionJob.objects.select_for_update().get(pk=job.pk)
    written = _Written(
        [PileGroup(place=place, **pile) for place, pile in enumerate(piles)],
        _layers(layers, tests),
        [JobHold(place=place, **asdict(hold)) for place, hold in enumerate(holds)],
        dict(distances),
    )
    if job is not None:
        on_record = recorded_document(saved)
        days = (saved.first_day, saved.last_day)
        was_changed = (saved.changed_at, saved.changed_by)
    for name, value in fields.items():
        setattr(saved, name, value)
    document = written.document_of(saved)
    if job is not None:
        if is_same(document, on_record):
            saved.refresh_from_db()
            return saved
        if (job.version if drawn_with is None else drawn_with) != saved.version:
            raise JobChangedMeanwhile(saved.pk, on_record, document)
        _refuse_other_days(saved, days)
        if not saved.versions.exists():
            # Of a job from before versions were kept: what it was is its first.
            _keep_version(saved, on_record, *was_changed)
        saved.version += 1
    saved.changed_at, saved.changed_by = clock.now(), by
    saved.save()
    written.replace_rows_of(saved)
    _keep_version(saved, document, saved.changed_at, by)
    return saved


class JobChangedMeanwhile(Exception):
    """A job that somebody else saved since it was drawn: nothing of these changes is kept.

    theirs: the document on record. yours: what these changes would have made of it.
    """

    def __init__(self, job_id: int, theirs: Document, yours: Document) -> None:
        self.job_id, self.theirs, self.yours = job_id, theirs, yours
        super().__init__("The job was saved by somebody else meanwhile.")


@dataclass(frozen=True)
class _Written:
    """The rows of a job as they are to be, not recorded yet."""

    piles: list[PileGroup]
    layers: list[SoilLayer]
    holds: list[JobHold]
    distances: dict[int, float]

    def document_of(self, job: ExtractionJob) -> Document:
        """Return what the job asks with these rows."""
        names = Yard.objects.filter(pk__in=self.distances).values_list("pk", "name")
        by_name = {name: float(self.distances[key]) for key, name in names}
        return job_document(job, self.piles, self.layers, self.holds, by_name)

    def replace_rows_of(self, job: ExtractionJob) -> None:
        """Put these rows in the place of those on record."""
        distances = [
            YardDistance(yard_id=yard, distance_mi=miles) for yard, miles in self.distances.items()
        ]
        of_models: tuple[tuple[type[Model], list[Any]], ...] = (
            (PileGroup, self.piles),
            (SoilLayer, self.layers),
            (JobHold, self.holds),
            (YardDistance, distances),
        )
        for model, rows in of_models:
            model._default_manager.filter(job=job).delete()
            for row in rows:
                row.job = job
            model._default_manager.bulk_create(rows)


def _keep_version(job: ExtractionJob, document: Document, at: datetime, by: User) -> None:
    JobVersion.objects.create(
        submission_id=uuid.uuid4(),
        job=job,
        number=job.version,
        document=canonical_text(document),
        recorded_at=at,
        recorded_by=by,
    )


def _layers(layers: Sequence[Layer], tests: Sequence[Mapping[str, Any]]) -> list[SoilLayer]:
    return [
        SoilLayer(
            place=place,
            **asdict(layer) | {"density": layer.density or ""},
            **(tests[place] if tests else {}),
        )
        for place, layer in enumerate(layers)
    ]


def _refuse_other_days(job: ExtractionJob, days: tuple[date, date]) -> None:
    """Refuse other days than these, which the job has on record, while it holds units."""
    if days == (job.first_day, job.last_day):
        return
    held = job.commitments.in_force().select_related("housing")
    if held:
        marks = ", ".join(each.housing.mark for each in held)
        raise ValidationError(
            {
                "first_day": f"{marks} {'is' if len(held) == 1 else 'are'} committed to this job "
                f"for {days_words(*days)}: release "
                f"{'it' if len(held) == 1 else 'them'} first, then change the days."
            }
        )
