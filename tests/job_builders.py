"""Jobs, and units fit to be asked about one, made through the functions the site records with."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.utils import timezone

from fleet.machines.recording import fit_clamp
from fleet.models import Clamp, Hammer, SuppressorHousing, Transfer
from ratings.jobs.attachments import attach
from ratings.jobs.commitments import commit_unit
from ratings.jobs.recording import jobs_of, save_job
from ratings.mechanics.extraction.holds import OtherHold
from ratings.mechanics.extraction.job import Job
from ratings.mechanics.soil import Density, Layer, LayerKind
from ratings.models import Commitment, ExtractionJob, JobAttachment, PileGroup, PullRecord
from ratings.pulls.recording import PullDone, record_pull
from ratings.transfers.recording import plan_transfer
from tests.builders import MONDAY, Unit, count, picture, rated_unit
from tests.factories import ClampFactory, DispatcherFactory, YardFactory

FIGURES: dict[str, float] = {
    "eccentric_moment_lb_in": 4400.0,
    "frequency_vpm": 1600.0,
    "exciter_weight_lb": 8000.0,
    "clamp_weight_lb": 2000.0,
    "clamp_force_lbf": 250_000.0,
}

PILE: dict[str, Any] = {
    "kind": "H",
    "area_in2": 21.4,
    "weight_lb_ft": 73.0,
    "perimeter_in": 56.4,
    "length_ft": 50.0,
    "embedment_ft": 40.0,
    "yield_strength_ksi": 50.0,
}

PLAIN: dict[str, Any] = {
    "site": "Ferry slip",
    "water_depth_ft": 10.0,
    "capacity_lbf": 120_000.0,
    "hook_block_lb": 2000.0,
    "rigging_weight_lb": 800.0,
    "rigging_limit_lbf": 100_000.0,
}

PILE_FIELDS = {each.name for each in PileGroup._meta.get_fields()} - {"id", "job", "place"}

GROUND = (
    Layer(
        LayerKind.COHESIVE,
        0.0,
        20.0,
        115.0,
        undrained_strength_psf=500.0,
        soil="soft loam or marl, soft loess, stiff cliff",
    ),
    Layer(
        LayerKind.GRANULAR,
        20.0,
        50.0,
        120.0,
        density=Density.MEDIUM_DENSE_SAND,
        soil="round fine sand",
    ),
)


def fitted_clamp(unit: Unit, **given: Any) -> Clamp:
    """A clamp on a unit's hammer, which holds every kind of pile unless told otherwise."""
    clamp = ClampFactory(yard=unit.hammer.yard, figures_source="Data plate", **given)
    fit_clamp(clamp=clamp, hammer=unit.hammer, at=MONDAY, by=unit.manager)
    return clamp


def figured_unit(
    figures: dict[str, float | None] | None = None,
    counted_at: datetime | None = None,
    **more: Any,
) -> Unit:
    """A rated unit whose hammer's and clamp's figures are on record, counted today unless told."""
    unit = rated_unit(**more)
    given: dict[str, float | None] = {**FIGURES, **(figures or {})}
    weight_lb, force_lbf = given.pop("clamp_weight_lb"), given.pop("clamp_force_lbf")
    Hammer.objects.filter(pk=unit.hammer.pk).update(**given)
    fitted_clamp(unit, weight_lb=weight_lb, clamp_force_lbf=force_lbf)
    SuppressorHousing.objects.filter(pk=unit.housing.pk).update(weight_lb=4000.0)
    at = counted_at or timezone.now()
    count(unit.housing, unit.manager, unit.lot, at=at, unsound=more.get("unsound"))
    unit.housing.refresh_from_db()
    unit.hammer.refresh_from_db()
    return unit


def extraction_job(
    by: User | None = None,
    *,
    piles: Sequence[dict[str, Any]] = (),
    layers: tuple[Layer, ...] = GROUND,
    distances: dict[int, float] | None = None,
    holds: Sequence[OtherHold] = (),
    first_day: date | None = None,
    days: int = 3,
    **fields: Any,
) -> ExtractionJob:
    """A job that a unit of figured_unit suits.

    piles: groups of piles, each by what is other than PILE; without, one group, of which fields
    may be given among those of the job.
    """
    of_pile = {name: fields.pop(name) for name in list(fields) if name in PILE_FIELDS}
    begins = first_day or timezone.localdate() + timedelta(days=1)
    return save_job(
        submission_id=uuid.uuid4(),
        job=None,
        fields=PLAIN
        | {"first_day": begins, "last_day": begins + timedelta(days=days - 1)}
        | fields,
        piles=[PILE | pile for pile in piles or [of_pile]],
        layers=layers,
        distances=distances or {},
        holds=holds,
        by=by or DispatcherFactory(),
    )


def attached(job: ExtractionJob, title: str = "Boring 3", by: User | None = None) -> JobAttachment:
    """A picture attached to a job."""
    return attach(
        submission_id=uuid.uuid4(),
        job=job,
        kind="boring",
        title=title,
        sent=picture().read(),
        by=by or DispatcherFactory(),
    )


def commit(unit: Unit, job: ExtractionJob | None = None, by: User | None = None) -> Commitment:
    """A unit committed to a job."""
    return commit_unit(
        is_care_known=True,
        watched_by="Odd Brandt",
        submission_id=uuid.uuid4(),
        job=job or extraction_job(),
        housing=unit.housing,
        by=by or DispatcherFactory(),
    )


def transfer(unit: Unit, ahead: int = 20, **more: Any) -> Transfer:
    """A transfer of a unit to another yard: leaves in so many days, and takes two."""
    leaves_on = timezone.localdate() + timedelta(days=ahead)
    plain: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "housing": unit.housing,
        "hammer": None,
        "goal": more.pop("goal", None) or YardFactory(),
        "leaves_on": leaves_on,
        "arrives_on": leaves_on + timedelta(days=1),
        "by": unit.manager,
    }
    return plan_transfer(**plain | more)


def pull_done(made: Commitment, by: User | None = None, **more: Any) -> PullRecord:
    """A pull of a commitment on record: it came at 45,000 lbf, vibrated."""
    told = {name: more.pop(name) for name in ("corrects", "correction_reason") if name in more}
    is_known = more.pop("are_doubts_known", True)
    seen: dict[str, Any] = {
        "pile_group": 1,
        "pile_mark": "1",
        "pulled_at": timezone.now(),
        "outcome": "came",
        "method": "vibrated",
        "load_source": "load indicator",
        "hook_load_lbf": 45_000.0,
    }
    return record_pull(
        submission_id=more.pop("submission_id", uuid.uuid4()),
        commitment=made,
        done=PullDone(**seen | more),
        by=by or DispatcherFactory(),
        are_doubts_known=is_known,
        **told,
    ).pull


def job_of(row: ExtractionJob) -> Job:
    """Return the first group of piles of a job as the mechanics take it."""
    return jobs_of(row)[0].job
