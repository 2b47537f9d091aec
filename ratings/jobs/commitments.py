"""Commitments of units to jobs: made, released, and whether they still hold."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction
from django.db.models import QuerySet
from django.utils import timezone

from fleet import clock
from fleet.dates import days_words
from fleet.fields import PlainText, SubmissionForm
from fleet.housings import lock_housing
from fleet.models import Hammer, Mounting, OutOfService, SuppressorHousing
from ratings.jobs.candidates import Candidate, candidates
from ratings.jobs.recording import job_of
from ratings.jobs.rules import rules_in_force
from ratings.ledger.answers import FORMAT
from ratings.ledger.canonical import canonical_text, digest
from ratings.mechanics.extraction.check import check
from ratings.mechanics.extraction.record import answer_record, read_answer
from ratings.mechanics.standing import Standing
from ratings.models import Commitment, CurrentRating, ExtractionJob, JobAnswer, LedgerEntry


class CommitForm(SubmissionForm):
    """Commit a unit to a job; with care only by somebody who says so."""

    with_care = forms.BooleanField(
        error_messages={"required": "Tick this, or choose a unit that is suitable outright."}
    )

    def __init__(
        self, *args: Any, needs_care: bool, holds_over_range: bool = True, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        known = ["it is suitable with care only"] if needs_care else []
        if not holds_over_range:
            known.append("the verdict does not hold over the range of the ground")
        if known:
            words = f"I know that {' and that '.join(known)}, and who watches the pull"
            self.fields["with_care"].label = words
        else:
            del self.fields["with_care"]


class ReleaseForm(PlainText, forms.Form):
    """Why a unit is released from a job."""

    reason = forms.CharField(label="Why it is released", max_length=200)


class CannotCommit(ValidationError):
    """A unit that can't be committed to a job, in words for the dispatcher."""


def commit_unit(
    *, submission_id: uuid.UUID, job: ExtractionJob, housing: SuppressorHousing, by: User
) -> Commitment:
    """Commit a unit to a job for its days, on the answer calculated now.

    A second copy of a submission changes nothing. Raises CannotCommit where the unit is not
    suitable or can't be judged, and where it is held on any of the days already.
    """
    try:
        with transaction.atomic():
            return _commit(submission_id, job, housing, by)
    except DatabaseError as refusal:
        if "held by another commitment" in str(refusal) or "no_overlap" in str(refusal):
            raise CannotCommit(
                f"{housing} or its hammer is held by another job on some of these days: release "
                "it there, or choose another unit or other days."
            ) from None
        raise


@transaction.atomic
def release_unit(*, commitment: Commitment, reason: str, by: User) -> Commitment:
    """Release a unit from its job; one that was released stays as it was.

    Raises ValidationError where no reason is given.
    """
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why the unit is released."})
    locked = Commitment.objects.select_for_update().get(pk=commitment.pk)
    if locked.is_in_force:
        locked.released_at, locked.released_by = clock.now(), by
        locked.release_reason = reason.strip()
        locked.save(update_fields=["released_at", "released_by", "release_reason"])
    return locked


def _commit(
    submission_id: uuid.UUID, job: ExtractionJob, housing: SuppressorHousing, by: User
) -> Commitment:
    locked = lock_housing(housing.pk)
    known = JobAnswer.objects.filter(submission_id=submission_id).first()
    if known is not None:
        if known.housing_id != locked.pk:
            raise CannotCommit(
                f"This form was sent for {known.housing} already: open the page of {locked} again "
                "and send it there."
            )
        return known.commitment
    # Locked too, so that its days can't change under the unit it is given.
    asked = ExtractionJob.objects.select_for_update().get(pk=job.pk)
    # Its own commitments count too: no unit is committed twice to one job.
    found = candidates(asked.first_day, asked.last_day, asked.distances_mi, only_housing=locked.pk)
    if not found:
        raise CannotCommit(f"{locked} is on no hammer: choose a unit that is.")
    candidate = found[0]
    if candidate.unit.committed:
        raise CannotCommit(
            f"{locked} or its hammer is held by {candidate.unit.committed}: release it there, or "
            "choose another unit or other days."
        )
    answer = _answer(submission_id, asked, candidate, by)
    return Commitment.objects.create(
        answer=answer,
        job=asked,
        housing=locked,
        hammer=candidate.hammer,
        first_day=asked.first_day,
        last_day=asked.last_day,
    )


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


# From good to bad; a step to the right is a fall.
ORDER = (
    Standing.MEETS_LISTING,
    Standing.NOT_PROVEN,
    Standing.BELOW_LISTING,
    Standing.UNRATED,
)


@dataclass(frozen=True)
class CommitmentNow:
    """A commitment as it stands now. words: what to say at the top, "" where all is as it was.

    head: of the unit's ledger. out_of_service: why it is, "" where it isn't. hammer: the one the
    housing is on now. is_job_changed: whether the job asks something else than it did then.
    """

    commitment: Commitment
    head: LedgerEntry | None
    out_of_service: str
    hammer: Hammer | None
    is_job_changed: bool

    @property
    def fell(self) -> bool:
        """Whether the unit stands worse than when it was committed, or can't go as it was."""
        then = self.commitment.answer.entry.judged
        worse = ORDER.index(self._standing) > ORDER.index(then)
        return bool(self.out_of_service) or self.is_moved or worse

    @property
    def is_moved(self) -> bool:
        """Whether the housing is on another hammer now, or on none."""
        return self.hammer is None or self.hammer.pk != self.commitment.hammer_id

    @property
    def is_void(self) -> bool:
        """Whether the answer and its sheet hold no more."""
        changed = self.head is None or self.head.pk != self.commitment.answer.entry_id
        return changed or self.is_moved or not self.commitment.is_in_force

    @property
    def is_over(self) -> bool:
        """Whether its last day is past, so that nothing is sent out on it any more."""
        return self.commitment.last_day < timezone.localdate()

    @property
    def lead(self) -> str:
        """What it comes to, in a few words."""
        if self.fell:
            return "Do not send it out."
        return "Its sheet is void." if self.is_void else "Ask again."

    @property
    def hindrances(self) -> list[str]:
        """What keeps the unit from going as it was committed, whatever its rating: sentences."""
        unit, found = self.commitment.housing.mark, []
        if self.out_of_service:
            found.append(f"{unit} is out of service: {self.out_of_service.rstrip('.')}.")
        if self.is_moved:
            now_on = f"on {self.hammer.mark}" if self.hammer else "off the hammer"
            then_on = self.commitment.hammer.mark
            found.append(f"{unit} was committed on {then_on} and is {now_on} now.")
        return found

    @property
    def words(self) -> str:
        if not self.commitment.is_in_force or self.is_over:
            return ""
        unit = self.commitment.housing.mark
        if self.hindrances:
            return self.hindrances[0]
        if self.fell:
            fall = f"from {self.commitment.answer.entry.judged} to {self._standing}"
            return f"The standing of {unit} fell {fall} since it was committed."
        if self.is_void:
            return f"The rating of {unit} changed since it was committed."
        if self.is_job_changed:
            return (
                f"The numbers of the job changed since {unit} was committed: its answer and its "
                "sheet are on the old ones. Release it and commit it again."
            )
        return ""

    @property
    def days(self) -> str:
        return days_words(self.commitment.first_day, self.commitment.last_day)

    @property
    def _standing(self) -> Standing:
        return self.head.judged if self.head else Standing.UNRATED


def commitments_of_job(job: ExtractionJob) -> list[CommitmentNow]:
    """Return every commitment of a job, those in force first."""
    return _now(job.commitments.all())


def commitments_of_unit(housing: SuppressorHousing) -> list[CommitmentNow]:
    """Return the commitments of a unit in force, but for those that are over."""
    return _now(housing.commitments.not_over(timezone.localdate()))


def commitment_now(pk: int) -> CommitmentNow:
    """Return one commitment as it stands now."""
    return _now(Commitment.objects.filter(pk=pk))[0]


def _now(commitments: QuerySet[Commitment]) -> list[CommitmentNow]:
    listed = list(
        commitments.select_related(
            "job", "housing", "hammer", "answer__entry", "answer__recorded_by", "released_by"
        ).prefetch_related("job__layers", "job__pile_groups", "job__holds")
    )
    ids = [each.housing_id for each in listed]
    heads = {
        rating.housing_id: rating.head
        for rating in CurrentRating.objects.filter(housing__in=ids).select_related("head")
    }
    out = dict(
        OutOfService.objects.open().filter(housing__in=ids).values_list("housing_id", "reason")
    )
    hammers = Mounting.objects.hammers_by_housing(ids)
    rows = [
        CommitmentNow(
            each,
            heads.get(each.housing_id),
            out.get(each.housing_id, ""),
            hammers.get(each.housing_id),
            is_job_changed=each.is_in_force and _is_job_changed(each),
        )
        for each in listed
    ]
    return sorted(rows, key=lambda row: (not row.commitment.is_in_force, row.commitment.first_day))


def _is_job_changed(commitment: Commitment) -> bool:
    try:
        _unit, asked, _policy = read_answer(commitment.answer.contents)
    except (KeyError, TypeError, ValueError):
        # One that can't be read is named where it is calculated again.
        return True
    return asked != job_of(commitment.job)
