"""Approve a drafted lot rating, or withdraw one, and re-rate every housing that holds the lot."""

from __future__ import annotations

import uuid

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet import clock
from fleet.housings import lock_all_housings
from fleet.models import PadPosition, SuppressorHousing
from ratings.ledger.posting import Cause, post
from ratings.models import LedgerEntry, LotRating, RatingApproval, RatingWithdrawal


@transaction.atomic
def approve_rating(*, submission_id: uuid.UUID, rating: LotRating, by: User) -> list[LedgerEntry]:
    """Let a draft rate units from now on. A second copy of a submission changes nothing.

    Raises ValidationError where the approver drafted it, or it is no draft any more.
    """
    housings = lock_all_housings()
    if RatingApproval.objects.filter(submission_id=submission_id).exists():
        return []
    rating = _as_it_is_now(rating)
    if rating.state != "draft":
        raise ValidationError(
            f"This rating is {rating.state} already: there is nothing to approve."
        )
    if rating.recorded_by_id == by.pk:
        raise ValidationError(
            "You drafted this rating by recording its test: a second person must approve it."
        )
    if rating.tests.filter(corrected_by__isnull=False).exists():
        raise ValidationError(
            "A test it rests on was corrected since: approve the draft that the correction led to."
        )
    later = LotRating.objects.filter(lot=rating.lot_id, pk__gt=rating.pk).order_by("-pk").first()
    if later is not None:
        raise ValidationError(
            f"Rating {later.pk} was drafted later, from more of the lot's tests: look at that one."
        )
    RatingApproval.objects.create(
        submission_id=submission_id, rating=rating, drafted_by=rating.recorded_by, recorded_by=by
    )
    words = f"Rating {rating.pk} of lot {rating.lot} approved"
    return _re_rate(housings, rating, Cause(Cause.LOT_RATED, words, rating.pk), by)


@transaction.atomic
def withdraw_rating(
    *, submission_id: uuid.UUID, rating: LotRating, reason: str, by: User
) -> list[LedgerEntry]:
    """Let an approved rating rate units no longer; the one approved before it does again.

    A second copy of a submission changes nothing. Raises ValidationError where it is withdrawn
    already or was never approved.
    """
    housings = lock_all_housings()
    if RatingWithdrawal.objects.filter(submission_id=submission_id).exists():
        return []
    rating = _as_it_is_now(rating)
    if rating.state != "approved":
        raise ValidationError(f"This rating is {rating.state}: only an approved one is withdrawn.")
    RatingWithdrawal.objects.create(
        submission_id=submission_id, rating=rating, reason=reason, recorded_by=by
    )
    words = f"Rating {rating.pk} of lot {rating.lot} withdrawn: {reason}"
    return _re_rate(housings, rating, Cause(Cause.RATE_WITHDRAWN, words, rating.pk), by)


def _as_it_is_now(rating: LotRating) -> LotRating:
    """Read the rating again under the lock: another may have approved or withdrawn it."""
    return LotRating.objects.select_related("lot", "approval", "withdrawal").get(pk=rating.pk)


def _re_rate(
    housings: list[SuppressorHousing], rating: LotRating, cause: Cause, by: User
) -> list[LedgerEntry]:
    holders = set(
        PadPosition.objects.filter(lot=rating.lot_id).values_list("housing_id", flat=True)
    )
    return post(
        [housing for housing in housings if housing.pk in holders],
        cause=cause,
        occurred_at=clock.now(),
        by=by,
    )
