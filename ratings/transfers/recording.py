"""Units sent from one yard to another: planned, arrived or cancelled; and how far yards are."""

from __future__ import annotations

import uuid
from datetime import date, timedelta

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q

from fleet import clock
from fleet.dates import day_count_words, day_words, days_words
from fleet.housings import lock_housing
from fleet.models import (
    Clamp,
    ClampFitting,
    Hammer,
    Hire,
    Mounting,
    PowerPack,
    PowerPackConnection,
    SuppressorHousing,
    Transfer,
    TransferEnd,
    Yard,
    YardHaul,
)
from fleet.models.measured_fields import measured_field
from fleet.models.retirable import refuse_out_of_use
from fleet.outages import lock_machine
from fleet.people.yards import in_yard_of
from ratings.models import Commitment, ExtractionJob, TransferForJob

# Longer on a road than this is a slip in a month or a year.
MOST_DAYS_ON_THE_WAY = 60
LATEST_RECORDED = timedelta(days=60)


@in_yard_of("housing", "hammer")
@transaction.atomic
def plan_transfer(
    *,
    submission_id: uuid.UUID,
    housing: SuppressorHousing | None,
    hammer: Hammer | None,
    goal: Yard,
    leaves_on: date,
    arrives_on: date,
    by: User,
    haul_mi: float | None = None,
    job: ExtractionJob | None = None,
    note: str = "",
) -> Transfer:
    """Plan to send a housing with its hammer, or a hammer by itself, to another yard.

    haul_mi: None takes the distance between the two yards, where it is on record. job: for which.
    A second copy of a submission changes nothing. Raises ValidationError, naming the field, where
    it can't be: days reversed, the same yard, on its way already, or held by a job meanwhile.
    """
    if housing is None and hammer is None:
        raise ValidationError({"what": "Nothing is named: choose a unit or a hammer."})
    moved = lock_housing(housing.pk) if housing else None
    mounted = Mounting.objects.current().select_related("hammer", "housing")
    if moved is not None:
        mounting = mounted.filter(housing=moved).first()
        hammer = mounting.hammer if mounting else None
    elif hammer is not None:
        hammer = lock_machine(hammer)
        mounting = mounted.filter(hammer=hammer).first()
    known = Transfer.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return _the_same(known, moved, hammer)
    if moved is None and mounting is not None:
        raise ValidationError(
            {"what": f"Hammer {hammer} is under {mounting.housing}: move that unit instead."}
        )
    thing = moved or hammer
    assert thing is not None
    _refuse_days(leaves_on, arrives_on)
    refuse_out_of_use(leaves_on, what=thing, goal=goal)
    _refuse_goal(thing, goal)
    _refuse_open(moved, hammer)
    _refuse_held(moved, hammer, leaves_on, arrives_on)
    _refuse_on_hire(moved, hammer, leaves_on, arrives_on)
    _refuse_late_for(job, arrives_on)
    measured_field(Transfer, "haul_mi").refuse_out_of_bounds(haul_mi)
    if haul_mi is None:
        haul_mi = YardHaul.objects.in_force().get((thing.yard_id, goal.pk))
    made = Transfer.objects.create(
        submission_id=submission_id,
        housing=moved,
        hammer=hammer,
        origin=thing.yard,
        goal=goal,
        leaves_on=leaves_on,
        arrives_on=arrives_on,
        haul_mi=haul_mi,
        note=note.strip(),
        recorded_by=by,
    )
    if job is not None:
        TransferForJob.objects.create(transfer=made, job=job, recorded_by=by)
    return made


@in_yard_of("transfer", "transfer.goal", any_of_them=True)
@transaction.atomic
def record_arrival(
    *, submission_id: uuid.UUID, transfer: Transfer, arrived_on: date, by: User
) -> TransferEnd:
    """Record that what was sent is in the other yard: from now on it belongs there.

    So does what is on its hammer: clamp and power pack.

    A second copy of a submission changes nothing. Raises ValidationError where it ended already
    or the day can't be.
    """
    locked, known = _lock(submission_id, transfer)
    if known is not None:
        return known
    if arrived_on > clock.today():
        raise ValidationError(
            {"arrived_on": f"{day_words(arrived_on)} is in the future: record it once it is there."}
        )
    if arrived_on < locked.leaves_on:
        raise ValidationError(
            {
                "arrived_on": f"It leaves on {day_words(locked.leaves_on)} only: give that day or "
                "later, or cancel this transfer and plan one that left earlier."
            }
        )
    hammer = locked.hammer
    if locked.housing_id is not None:
        mounting = Mounting.objects.current().filter(housing=locked.housing_id).first()
        hammer = mounting.hammer if mounting else None
        SuppressorHousing.objects.filter(pk=locked.housing_id).update(yard=locked.goal)
    if hammer is not None:
        Hammer.objects.filter(pk=hammer.pk).update(yard=locked.goal)
        _bring_along(hammer, locked.goal)
    return TransferEnd.objects.create(
        submission_id=submission_id,
        transfer=locked,
        kind=TransferEnd.ARRIVED,
        ended_on=arrived_on,
        hammer=hammer,
        recorded_by=by,
    )


@in_yard_of("transfer")
@transaction.atomic
def cancel_transfer(
    *, submission_id: uuid.UUID, transfer: Transfer, reason: str, by: User
) -> TransferEnd:
    """Cancel a transfer, before it leaves or as it turns back: what was sent stays where it was.

    A second copy of a submission changes nothing. Raises ValidationError where it ended already
    or no reason is given.
    """
    locked, known = _lock(submission_id, transfer)
    if known is not None:
        return known
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why it is cancelled."})
    return TransferEnd.objects.create(
        submission_id=submission_id,
        transfer=locked,
        kind=TransferEnd.CANCELLED,
        ended_on=clock.today(),
        reason=reason.strip(),
        recorded_by=by,
    )


@in_yard_of("one", "other")
@transaction.atomic
def record_yard_haul(
    *, submission_id: uuid.UUID, one: Yard, other: Yard, haul_mi: float, by: User
) -> YardHaul:
    """Record how far two yards are from each other; it holds instead of what was recorded before.

    A second copy of a submission changes nothing. Raises ValidationError for one yard named
    twice, or a distance out of bounds.
    """
    known = YardHaul.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    if one == other:
        raise ValidationError({"other": "This is the same yard: choose another."})
    measured_field(YardHaul, "haul_mi").refuse_out_of_bounds(haul_mi)
    first, second = sorted((one, other), key=lambda yard: yard.pk)
    return YardHaul.objects.create(
        submission_id=submission_id,
        one_yard=first,
        other_yard=second,
        haul_mi=haul_mi,
        recorded_by=by,
    )


def _bring_along(hammer: Hammer, goal: Yard) -> None:
    """Take to a yard what is on a hammer that came there: its clamp and its power pack."""
    fitted = ClampFitting.objects.current().filter(hammer=hammer)
    connected = PowerPackConnection.objects.current().filter(hammer=hammer)
    Clamp.objects.filter(pk__in=fitted.values("clamp")).update(yard=goal)
    PowerPack.objects.filter(pk__in=connected.values("power_pack")).update(yard=goal)


def _lock(submission_id: uuid.UUID, transfer: Transfer) -> tuple[Transfer, TransferEnd | None]:
    """Return a transfer as it is now, what it moves locked, and this submission's own end of it."""
    if transfer.housing_id is not None:
        lock_housing(transfer.housing_id)
    elif transfer.hammer_id is not None:
        assert transfer.hammer is not None
        lock_machine(transfer.hammer)
    found = Transfer.objects.select_related("goal", "end", "housing", "hammer").get(pk=transfer.pk)
    if found.ended is not None:
        if found.ended.submission_id == submission_id:
            return found, found.ended
        raise ValidationError(
            f"This transfer ended already: {found.ended.kind} on {day_words(found.ended.ended_on)}."
        )
    return found, None


def _the_same(
    known: Transfer, housing: SuppressorHousing | None, hammer: Hammer | None
) -> Transfer:
    sent = housing.pk if housing else None
    if known.housing_id != sent or (sent is None and hammer and known.hammer_id != hammer.pk):
        raise ValidationError(
            f"This form was sent for {known.what} already: open it again and send it for this one."
        )
    return known


def _refuse_days(leaves_on: date, arrives_on: date) -> None:
    today = clock.today()
    if arrives_on < leaves_on:
        raise ValidationError(
            {
                "arrives_on": f"This is before it leaves, {day_words(leaves_on)}: give that day "
                "or later."
            }
        )
    days = (arrives_on - leaves_on).days + 1
    if days > MOST_DAYS_ON_THE_WAY:
        raise ValidationError(
            {
                "arrives_on": f"That is {day_count_words(days)} on the way, from "
                f"{day_words(leaves_on)}: {MOST_DAYS_ON_THE_WAY} at the most. Is the month right?"
            }
        )
    if leaves_on < today - LATEST_RECORDED:
        raise ValidationError(
            {
                "leaves_on": f"{day_words(leaves_on)} is more than {LATEST_RECORDED.days} days "
                "ago: give a later day."
            }
        )


def _refuse_goal(thing: SuppressorHousing | Hammer, goal: Yard) -> None:
    if thing.yard_id == goal.pk:
        raise ValidationError({"goal": f"{thing} is in {goal} already: choose another yard."})


def _refuse_open(housing: SuppressorHousing | None, hammer: Hammer | None) -> None:
    either = Q(housing=housing) if housing else Q(hammer=hammer)
    if housing and hammer:
        either |= Q(hammer=hammer, housing=None)
    other = Transfer.objects.open().filter(either).select_related("origin", "goal").first()
    if other is not None:
        raise ValidationError(
            {
                "what": f"{other.what} has another transfer open, from {other.origin} to "
                f"{other.goal}, {other.days}: record its arrival or cancel it first."
            }
        )


def _refuse_held(
    housing: SuppressorHousing | None, hammer: Hammer | None, leaves_on: date, arrives_on: date
) -> None:
    either = Q(housing=housing) if housing else Q()
    if hammer:
        either |= Q(hammer=hammer)
    held = Commitment.objects.overlapping(leaves_on, arrives_on).filter(either)
    for each in held.select_related("job"):
        days = days_words(each.first_day, each.last_day)
        raise ValidationError(
            {
                "leaves_on": f"{housing or hammer} is committed to {each.job.site}, {days}: have "
                "it leave after that or arrive before, or release it there first."
            }
        )


def _refuse_on_hire(
    housing: SuppressorHousing | None, hammer: Hammer | None, leaves_on: date, arrives_on: date
) -> None:
    for each in Hire.objects.open().of_unit(housing, hammer):
        if each.is_away_during(leaves_on, arrives_on):
            raise ValidationError(
                {
                    "leaves_on": f"{housing or hammer} has its {each.words}: have it leave after "
                    "that or arrive before, or end the hire first."
                }
            )


def _refuse_late_for(job: ExtractionJob | None, arrives_on: date) -> None:
    if job is not None and arrives_on > job.first_day:
        raise ValidationError(
            {
                "arrives_on": f"The job at {job.site} begins on {day_words(job.first_day)}: have "
                "it arrive that day or earlier, or leave the job out."
            }
        )
