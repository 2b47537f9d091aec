"""Commit a unit to a job on the answer it was given, and release it again."""

from __future__ import annotations

import uuid

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction

from fleet import clock
from fleet.locking import lock_housing
from fleet.models import SuppressorHousing
from ratings.extraction.candidates import Candidate, candidates
from ratings.extraction.recompute import FORMAT
from ratings.extraction.rules import rules_in_force
from ratings.extraction.stored import distances_of, job_of
from ratings.ledger.canonical import canonical_text, digest
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.record import answer_record
from ratings.models import Commitment, ExtractionJob, JobAnswer


class CannotCommit(ValidationError):
    """A unit that can't be committed to a job, in words for the dispatcher."""


def commit_unit(
    *, submission_id: uuid.UUID, job: ExtractionJob, housing: SuppressorHousing, by: User
) -> Commitment:
    """Commit a unit to a job for its days, on the answer reckoned now.

    A second copy of a submission changes nothing. Raises CannotCommit where the unit is not
    suitable or can't be judged, and where it is held on any of the days already.
    """
    try:
        with transaction.atomic():
            return _commit(submission_id, job, housing, by)
    except DatabaseError as refusal:
        if "held by another commitment" in str(refusal) or "no_overlap" in str(refusal):
            raise CannotCommit(_overlap_words(housing)) from None
        raise


@transaction.atomic
def release_unit(*, commitment: Commitment, reason: str, by: User) -> Commitment:
    """Release a unit from its job; one that was released stays as it was.

    Raises ValidationError where no reason is given.
    """
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why the unit is released."})
    held = Commitment.objects.select_for_update().get(pk=commitment.pk)
    if held.is_in_force:
        held.released_at, held.released_by, held.release_reason = clock.now(), by, reason.strip()
        held.save(update_fields=["released_at", "released_by", "release_reason"])
    return held


def _commit(
    submission_id: uuid.UUID, job: ExtractionJob, housing: SuppressorHousing, by: User
) -> Commitment:
    locked = lock_housing(housing.pk)
    known = JobAnswer.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return _same(known, locked)
    # Locked too, so that its days can't change under the unit it is given.
    asked = ExtractionJob.objects.select_for_update().get(pk=job.pk)
    candidate = _candidate(asked, locked)
    answer = _answer(submission_id, asked, candidate, by)
    return Commitment.objects.create(
        answer=answer,
        job=asked,
        housing=locked,
        hammer=candidate.hammer,
        first_day=asked.first_day,
        last_day=asked.last_day,
    )


def _same(known: JobAnswer, housing: SuppressorHousing) -> Commitment:
    if known.housing_id != housing.pk:
        raise CannotCommit(
            f"This form was sent for {known.housing} already: open the page of {housing} again "
            "and send it there."
        )
    return known.commitment


def _candidate(job: ExtractionJob, housing: SuppressorHousing) -> Candidate:
    # Its own commitments count too: no unit is committed twice to one job.
    found = candidates(job.first_day, job.last_day, distances_of(job), only_housing=housing.pk)
    if not found:
        raise CannotCommit(f"{housing} is on no hammer: choose a unit that is.")
    if found[0].unit.committed:
        raise CannotCommit(
            f"{housing} or its hammer is held by {found[0].unit.committed}: release it there, or "
            "choose another unit or other days."
        )
    return found[0]


def _answer(
    submission_id: uuid.UUID, job: ExtractionJob, candidate: Candidate, by: User
) -> JobAnswer:
    asked, rules, entry = job_of(job), rules_in_force(), candidate.entry
    verdict = check(candidate.unit, asked, rules)
    if not verdict.verdict.may_go or entry is None:
        raise CannotCommit(
            f"{candidate.housing} is {verdict.verdict} for this job ({verdict.governing}): choose "
            "another unit, or change what stands in the way."
        )
    document = canonical_text(
        {
            "format": FORMAT,
            "job_record": job.pk,
            "site": job.site,
            "first_day": job.first_day.isoformat(),
            "last_day": job.last_day.isoformat(),
            "housing": candidate.housing.mark,
            "hammer": candidate.hammer.mark,
            "ledger": {"sequence": entry.sequence, "hash": entry.hash},
            **answer_record(candidate.unit, asked, rules, verdict),
        }
    )
    return JobAnswer.objects.create(
        submission_id=submission_id,
        job=job,
        housing=candidate.housing,
        hammer=candidate.hammer,
        entry=entry,
        verdict=verdict.verdict,
        document=document,
        hash=digest(document),
        recorded_by=by,
    )


def _overlap_words(housing: SuppressorHousing) -> str:
    return (
        f"{housing} or its hammer is held by another job on some of these days: release it there, "
        "or choose another unit or other days."
    )
