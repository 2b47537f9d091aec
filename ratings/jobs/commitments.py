"""Commitments of units to jobs: made, confirmed, released, and their conditions met."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction

from fleet import clock
from fleet.dates import day_count_words, day_words, days_words
from fleet.housings import lock_housing
from fleet.models import SuppressorHousing
from fleet.people.yards import in_yard_of, lock_and_look_again
from ratings.jobs.ahead import Plan, as_planned, cares_of, is_before_it_goes, why_not
from ratings.jobs.candidates import Candidate, candidates, watch_of
from ratings.jobs.conditions import conditions_now
from ratings.jobs.on_the_way import in_the_way
from ratings.jobs.particulars import particulars_of
from ratings.jobs.recording import jobs_of
from ratings.jobs.rules import rules_in_force
from ratings.ledger.answers import FORMAT
from ratings.ledger.canonical import canonical_text, digest
from ratings.mechanics.extraction.check import check_piles
from ratings.mechanics.extraction.record import answer_record
from ratings.mechanics.extraction.rules import ExtractionPolicy
from ratings.models import (
    Commitment,
    CommitmentCondition,
    CommitmentConfirmation,
    ConditionKind,
    ConditionMet,
    ExtractionJob,
    JobAnswer,
)

MOST_CONDITIONS = 20


class CannotCommit(ValidationError):
    """A unit that can't be committed to a job, in words for the dispatcher."""


class CareNotKnown(CannotCommit):
    """A unit that takes care, and nobody says that they know of it. cares: as cares_of has them."""

    def __init__(self, cares: Sequence[str]) -> None:
        self.cares = tuple(cares)
        super().__init__(
            f"This unit is committed only by somebody who knows that {' and that '.join(cares)}: "
            "tick this if you do, or choose another unit."
        )


class NotWatched(CannotCommit):
    """A unit that takes care, and nobody is named who watches its pull; said at `watched_by`."""

    def __init__(self, trouble: str) -> None:
        super().__init__({"watched_by": trouble})


LONGEST_NAME = 80


@dataclass(frozen=True)
class Known:
    """What somebody says that they know: of the care a unit takes, and who watches its pull.

    must_be_named: whether somebody must be named where it takes care.
    Raises NotWatched for a name that is too long.
    """

    is_care_known: bool
    watched_by: str
    must_be_named: bool

    def __post_init__(self) -> None:
        object.__setattr__(self, "watched_by", self.watched_by.strip())
        if len(self.watched_by) > LONGEST_NAME:
            raise NotWatched(
                f"Who watches the pull has {len(self.watched_by)} characters: give a name of "
                f"{LONGEST_NAME} at the most."
            )

    def refuse_of(self, cares: Sequence[str]) -> None:
        """Raise CareNotKnown or NotWatched where what is known is not enough for these cares."""
        if not cares:
            return
        if not self.is_care_known:
            raise CareNotKnown(cares)
        if self.must_be_named and not self.watched_by:
            raise NotWatched(
                "Who watches the pull is blank: give the name, for this unit takes care, and you "
                "say that you know who it is."
            )


@in_yard_of("housing")
def commit_unit(
    *,
    submission_id: uuid.UUID,
    job: ExtractionJob,
    housing: SuppressorHousing,
    by: User,
    plans: Sequence[Plan] = (),
    is_care_known: bool = False,
    watched_by: str = "",
) -> Commitment:
    """Commit a unit to a job for its days, on the answer calculated now.

    plans: what is to be done until then or while it is held; the answer is of the unit as it is
    once all is done, and the commitment waits to be confirmed.
    is_care_known: whether somebody says that they know of the care it takes, see cares_of and
    in_the_way. watched_by: who watches the pull, by name, as its sheet has it; of a unit that
    takes care somebody must be named, unless something comes first: then it is asked again as
    the commitment is confirmed.
    A second copy of a submission changes nothing. Raises CannotCommit where the unit is not
    suitable or can't be judged, where it is held on any of the days already, and where the days
    are past or too many; CareNotKnown where it takes care that nobody knows of; NotWatched where
    it takes care and nobody is named; and ValidationError for a plan that can't be.
    """
    told = Known(is_care_known, watched_by, must_be_named=not plans)
    try:
        with transaction.atomic():
            return _commit(submission_id, job, housing, by, plans, told)
    except DatabaseError as refusal:
        if "held by another commitment" in str(refusal) or "no_overlap" in str(refusal):
            raise CannotCommit(
                f"{housing} or its hammer is held by another job on some of these days: release "
                "it there, or choose another unit or other days."
            ) from None
        raise


@in_yard_of("commitment")
@transaction.atomic
def confirm_commitment(
    *,
    submission_id: uuid.UUID,
    commitment: Commitment,
    by: User,
    is_care_known: bool = False,
    watched_by: str = "",
) -> CommitmentConfirmation:
    """Confirm a commitment on a new answer, calculated now: from then on its sheet is of that one.

    So is one answered again of which something changed. The answer it was promised on stays.
    is_care_known: as commit_unit has it, of what its days on the way run into as well.
    watched_by: who watches the pull, by name; whom its sheet named before where not given.
    A second copy of a submission changes nothing. Raises CannotCommit where it was released or
    is over, where something that comes first isn't done, where the housing hangs from another
    hammer, where the unit may not go, where it takes care that nobody knows of, and where it
    takes care and nobody is named to watch it.
    """
    housing = lock_housing(commitment.housing_id)
    known = CommitmentConfirmation.objects.filter(submission_id=submission_id).first()
    if known is not None:
        if known.commitment_id != commitment.pk:
            raise CannotCommit(
                "This form was sent for another commitment already: open the page of this one "
                "again and send it there."
            )
        return known
    made = Commitment.objects.select_for_update().get(pk=commitment.pk)
    if not made.is_in_force:
        raise CannotCommit(f"{housing} was released from this job: commit it again.")
    if made.last_day < clock.today():
        raise CannotCommit(f"Its last day was {day_words(made.last_day)}: nothing is confirmed.")
    conditions = conditions_now([made]).get(made.pk, [])
    wanting = [each for each in conditions if each.is_wanting]
    if wanting:
        listed = "; ".join(each.words for each in wanting)
        raise CannotCommit(f"This is not done yet: {listed}.")
    asked = ExtractionJob.objects.select_for_update().get(pk=made.job_id)
    candidate = _candidate(asked, housing, leave_out_job=asked.pk)
    if candidate.hammer.pk != made.hammer_id:
        raise CannotCommit(
            f"{housing} was committed on {made.hammer} and is on {candidate.hammer} now: hang it "
            "there again, or release it and commit it as it is."
        )
    plans = [each.plan for each in conditions if not each.is_met]
    named = made.newest_answer.contents.get("particulars", {}).get("watched_by", "")
    told = Known(is_care_known, watched_by.strip() or named, must_be_named=True)
    ways = in_the_way(asked, candidate)
    answer = _answer(submission_id, asked, candidate, by, plans, ways, told)
    return CommitmentConfirmation.objects.create(
        submission_id=submission_id, commitment=made, answer=answer, recorded_by=by
    )


@in_yard_of("condition")
@transaction.atomic
def meet_condition(
    *, submission_id: uuid.UUID, condition: CommitmentCondition, note: str, by: User
) -> ConditionMet:
    """Record that a condition no record can show is met. A second copy changes nothing.

    Raises ValidationError without a note, and where the condition is met by records alone, is met
    already, or belongs to a commitment that holds no more.
    """
    lock_and_look_again()
    Commitment.objects.select_for_update().get(pk=condition.commitment_id)
    known = ConditionMet.objects.filter(condition=condition).first()
    if known is not None and known.submission_id == submission_id:
        return known
    if known is not None:
        raise ValidationError("Somebody has said already that it is done.")
    if condition.kind != ConditionKind.OTHER:
        raise ValidationError("This is met by what is on record, not by saying so.")
    condition.commitment.refresh_from_db()
    if not condition.commitment.is_in_force:
        raise ValidationError("The unit was released: nothing is to be done for it any more.")
    if not note.strip():
        raise ValidationError({"note": "This is blank: say how it is known to be done."})
    return ConditionMet.objects.create(
        submission_id=submission_id, condition=condition, note=note.strip(), recorded_by=by
    )


@in_yard_of("commitment")
@transaction.atomic
def release_unit(*, commitment: Commitment, reason: str, by: User) -> Commitment:
    """Release a unit from its job; one that was released stays as it was.

    Raises ValidationError where no reason is given.
    """
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why the unit is released."})
    lock_and_look_again()
    locked = Commitment.objects.select_for_update().get(pk=commitment.pk)
    if locked.is_in_force:
        locked.released_at, locked.released_by = clock.now(), by
        locked.release_reason = reason.strip()
        locked.save(update_fields=["released_at", "released_by", "release_reason"])
    return locked


def _commit(
    submission_id: uuid.UUID,
    job: ExtractionJob,
    housing: SuppressorHousing,
    by: User,
    plans: Sequence[Plan],
    told: Known,
) -> Commitment:
    locked = lock_housing(housing.pk)
    known = JobAnswer.objects.filter(submission_id=submission_id).first()
    if known is not None:
        if known.housing_id != locked.pk or known.job_id != job.pk:
            raise CannotCommit(
                f"This form was sent for {known.housing} already: open the page of {locked} again "
                "and send it there."
            )
        return known.commitment
    # Locked too, so that its days can't change under the unit it is given.
    asked = ExtractionJob.objects.select_for_update().get(pk=job.pk)
    _refuse_days(asked, rules_in_force())
    _refuse_plans(asked, plans)
    # Its own commitments count too: no unit is committed twice to one job.
    candidate = _candidate(asked, locked, leave_out_job=None)
    if candidate.unit.committed:
        raise CannotCommit(
            f"{locked} or its hammer is held by {candidate.unit.committed}: release it there, or "
            "choose another unit or other days."
        )
    ways = in_the_way(asked, candidate)
    made = Commitment.objects.create(
        answer=_answer(submission_id, asked, candidate, by, plans, ways, told),
        job=asked,
        housing=locked,
        hammer=candidate.hammer,
        first_day=asked.first_day,
        last_day=asked.last_day,
    )
    for plan in plans:
        CommitmentCondition.objects.create(
            submission_id=uuid.uuid4(),
            commitment=made,
            kind=plan.kind,
            from_day=plan.from_day,
            to_day=plan.to_day,
            lot=plan.lot,
            positions=[list(place) for place in plan.positions],
            indicator=plan.indicator,
            words=plan.words,
            recorded_by=by,
        )
    return made


def _candidate(
    job: ExtractionJob, housing: SuppressorHousing, leave_out_job: int | None
) -> Candidate:
    found = candidates(
        job.first_day,
        job.last_day,
        job.distances_mi,
        leave_out_job=leave_out_job,
        only_housing=housing.pk,
        watch=watch_of(job.indicator, job.last_day),
    )
    if not found:
        raise CannotCommit(f"{housing} is on no hammer: choose a unit that is.")
    return found[0]


def _refuse_days(job: ExtractionJob, rules: ExtractionPolicy) -> None:
    """Raise CannotCommit for days that no unit can be committed for."""
    trouble = days_trouble(job.first_day, job.last_day, rules)
    if trouble:
        raise CannotCommit(trouble)


def days_trouble(first_day: date, last_day: date, rules: ExtractionPolicy) -> str:
    """Return why no unit can be committed for a job's days, "" where one can be.

    They are past, or more than the yard holds a unit for.
    """
    if last_day < clock.today():
        return (
            f"The days of this job, {days_words(first_day, last_day)}, are past: give it the days "
            "it is to be done on."
        )
    days, most = (last_day - first_day).days + 1, rules.longest_hold_days
    if days > most:
        return (
            f"This job runs {day_count_words(days)}; by the yard’s rules a unit is held for "
            f"{day_count_words(most)} at the most, since nobody can answer for its pads, its "
            "rates and its inspections longer than that. Commit it for part of the job, and again "
            "later."
        )
    return ""


def _refuse_plans(job: ExtractionJob, plans: Sequence[Plan]) -> None:
    """Raise ValidationError for something to be done that can't be."""
    today = clock.today()
    if len(plans) > MOST_CONDITIONS:
        raise ValidationError(f"{len(plans)} things are to be done: {MOST_CONDITIONS} at the most.")
    for plan in plans:
        trouble = plan_trouble(plan, job.first_day, job.last_day, today)
        if trouble:
            raise ValidationError(f"{plan.said[0].upper()}{plan.said[1:]}: {trouble}")


def plan_trouble(plan: Plan, first_day: date, last_day: date, today: date) -> str:
    """Return what is wrong with the days of something to be done, "" where nothing is."""
    if plan.to_day < plan.from_day:
        return (
            f"it ends {day_words(plan.to_day)}, before it begins {day_words(plan.from_day)}: turn "
            "the days round."
        )
    if plan.to_day < today:
        return f"its last day, {day_words(plan.to_day)}, is past: give one from today on."
    latest = first_day if is_before_it_goes(plan, first_day) else last_day
    if plan.kind is ConditionKind.OTHER or plan.kind is ConditionKind.CALIBRATION:
        latest = last_day
    if plan.to_day > max(latest, today):
        which = "first" if latest == first_day else "last"
        return (
            f"{day_words(plan.to_day)} is after the {which} day of the job, {day_words(latest)}: "
            "it is to be done by then."
        )
    if plan.kind is ConditionKind.OTHER and not plan.words.strip():
        return "say what is to be done."
    if plan.kind is ConditionKind.PADS and not (plan.lot and plan.positions):
        return "say which pads, and where."
    return ""


def _answer(
    submission_id: uuid.UUID,
    job: ExtractionJob,
    candidate: Candidate,
    by: User,
    plans: Sequence[Plan],
    ways: tuple[str, ...],
    told: Known,
) -> JobAnswer:
    """Keep the answer on a unit as it is once all that is planned is done.

    ways: what its days on the way run into, of which somebody must know too.
    """
    asked, rules, entry = jobs_of(job), rules_in_force(), candidate.entry
    unit = as_planned(candidate, plans, candidate.counted_on, job.first_day, job.last_day)
    verdict = check_piles(unit, asked, rules)
    if not verdict.may_go or entry is None:
        would = "Even with all that is planned done, " if plans else ""
        is_it = "would still be" if plans else "is"
        raise CannotCommit(
            f"{would}{candidate.housing} {is_it} {why_not(verdict)}. Choose another unit, or "
            "change what stands in the way."
        )
    told.refuse_of((*cares_of(verdict), *ways))
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
            "particulars": particulars_of(job, candidate.clamp, told.watched_by),
            "on_the_way": list(ways),
            **({"planned": [plan_record(each) for each in plans]} if plans else {}),
            **answer_record(unit, asked, rules, verdict),
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


def plan_record(plan: Plan) -> dict[str, Any]:
    """Return something to be done as JSON values, for the document of an answer."""
    return {
        "kind": str(plan.kind),
        "from_day": plan.from_day.isoformat(),
        "to_day": plan.to_day.isoformat(),
        "lot": plan.lot.mark if plan.lot else None,
        "positions": [list(place) for place in plan.positions],
        "said": plan.said,
    }
