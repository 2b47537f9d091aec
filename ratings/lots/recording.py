"""Approve or reject a drafted lot rating, or withdraw one; re-rate every housing with the lot."""

from __future__ import annotations

import uuid
from dataclasses import dataclass

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from fleet import clock
from fleet.characters import without_hidden
from fleet.housings import lock_all_housings
from fleet.models import PadPosition, Qualification, SuppressorHousing
from fleet.people.qualifications import refuse_unqualified
from fleet.people.yards import in_yard_of
from fleet.quantities import Quantity
from ratings.ledger.ahead import rated_ahead
from ratings.ledger.facts import AsIf
from ratings.ledger.posting import Cause, post
from ratings.lots.doubts import doubts_mark, doubts_of, implausible_of, tests_behind
from ratings.models import (
    LedgerEntry,
    LotRating,
    RatingApproval,
    RatingRejection,
    RatingState,
    RatingWithdrawal,
    What,
)
from ratings.models.lot_rating import LONGEST_IMPLAUSIBLE_REASON
from ratings.models.policy import safeguards
from ratings.proposals.acts import Act, Arguments, second_person

UNREAD = "Read the doubts above, then tick that you have: nothing is approved until then."
NOT_ACCEPTED = (
    "Tick that you approve it all the same, or reject it and have it tested again: physics says "
    "that something was read, counted or written down wrong."
)
NO_REASON = (
    "This is blank: say why the rate holds though the rubber does not allow it, such as a "
    "hardness on record that turned out wrong."
)
CHANGED = "The doubts are others by now than when this page was opened: read them once more."


def _as_if_approved(given: Arguments) -> AsIf:
    return AsIf(LotRating.objects.as_if_in_force(given["rating"].pk))


@rated_ahead(as_if=_as_if_approved)
@in_yard_of("rating")
@transaction.atomic
def approve_rating(
    *,
    submission_id: uuid.UUID,
    rating: LotRating,
    by: User,
    has_read_doubts: bool = False,
    doubts_shown: str | None = None,
    system: str = "us",
    accepts_implausible: bool = False,
    implausible_reason: str = "",
) -> list[LedgerEntry]:
    """Let a draft rate units from now on. A second copy of a submission changes nothing.

    has_read_doubts: the approver's word; the doubts there were are kept with the approval.
    doubts_shown: the doubts_mark of those the approver was shown, where a page showed them.
    system: the units of measure they were read in, and are kept in.
    accepts_implausible, implausible_reason: the approver's word, and why, where a test behind it
    gave a rate that its rubber can't have; kept with no other.
    Raises ValidationError where the approver drafted it, where it is no draft any more, where the
    policy asks for a qualification for rates that they don't hold today, where there are doubts
    that were not read, or others by now than were shown, and where a rate that can't be is not
    accepted with a reason.
    """
    housings = lock_all_housings()
    if RatingApproval.objects.filter(submission_id=submission_id).exists():
        return []
    looked = _looked_at_for_approval(
        rating,
        by,
        has_read_doubts,
        doubts_shown,
        system,
        accepts_implausible,
        without_hidden(implausible_reason).strip(),
    )
    RatingApproval.objects.create(
        submission_id=submission_id,
        rating=looked.rating,
        drafted_by=looked.rating.recorded_by,
        recorded_by=by,
        doubts=looked.doubts,
        is_implausible=looked.is_implausible,
        implausible_reason=looked.implausible_reason,
    )
    words = f"Rating {rating.pk} of lot {looked.rating.lot} approved"
    return _re_rate(housings, looked.rating, Cause(Cause.LOT_RATED, words, rating.pk), by)


@dataclass(frozen=True)
class _Looked:
    """A draft that may be approved, its doubts, and why it is though it can hardly be."""

    rating: LotRating
    doubts: list[str]
    is_implausible: bool
    implausible_reason: str


def _looked_at_for_approval(
    rating: LotRating,
    by: User,
    has_read_doubts: bool,
    doubts_shown: str | None,
    system: str,
    accepts_implausible: bool,
    reason: str,
) -> _Looked:
    """Return a draft as it is now. Raises ValidationError as approve_rating does."""
    rating = _as_it_is_now(rating)
    _refuse_no_draft(rating, "approve")
    if rating.recorded_by_id == by.pk:
        raise ValidationError(
            "You drafted this rating by recording its test: a second person must approve it."
        )
    if safeguards().qualified_rates:
        refuse_unqualified(by, Qualification.Purpose.RATES, timezone.localdate())
    tests = tests_behind(rating, system)
    doubts, implausible = doubts_of(rating, tests), implausible_of(tests)
    if doubts and not has_read_doubts:
        raise ValidationError({"has_read_doubts": UNREAD})
    if doubts and doubts_shown not in (None, doubts_mark(doubts)):
        raise ValidationError({"has_read_doubts": CHANGED})
    if implausible:
        _refuse_unexplained(accepts_implausible, reason)
    return _Looked(rating, doubts, bool(implausible), reason if implausible else "")


@in_yard_of("rating")
@transaction.atomic
def reject_rating(*, submission_id: uuid.UUID, rating: LotRating, reason: str, by: User) -> None:
    """Say of a draft that it must not rate units, and why; no unit is rated otherwise.

    Whoever drafted it may reject it too. A second copy of a submission changes nothing. Raises
    ValidationError where it is no draft any more.
    """
    lock_all_housings()
    if RatingRejection.objects.filter(submission_id=submission_id).exists():
        return
    rating = _as_it_is_now(rating)
    _refuse_no_draft(rating, "reject")
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say what is wrong with the draft."})
    RatingRejection.objects.create(
        submission_id=submission_id, rating=rating, reason=reason, recorded_by=by
    )


def _next_in_force(rating: LotRating) -> LotRating | None:
    """Return the rating that would rate the lot's pads again with this one withdrawn."""
    others = LotRating.objects.in_force().filter(lot=rating.lot_id).exclude(pk=rating.pk)
    return others.last()


def _asks_to_withdraw(given: Arguments) -> bool:
    """Whether two are asked for: one person may stop a lot, but not bring an older rate back."""
    brings_back = _next_in_force(given["rating"]) is not None
    return brings_back and safeguards().second_person_corrections


def _facts(given: Arguments) -> dict[str, str]:
    rating = given["rating"]
    after = _next_in_force(rating)
    return {
        f"rating {rating.pk}": str(_as_it_is_now(rating).state),
        f"the other rating of lot {rating.lot}": f"rating {after.pk}" if after else "none",
    }


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    def rate_words(each: LotRating) -> str:
        return f"rating {each.pk}: {Quantity.RATE.words(each.rate_lbf_in, system)}"

    rating, after = given["rating"], _next_in_force(given["rating"])
    return [
        ("Lot", str(rating.lot)),
        ("Withdraws", rate_words(rating)),
        ("Rates again", rate_words(after) if after else "none"),
        ("Why", given["reason"]),
    ]


WITHDRAWAL_ACT = Act(
    What.WITHDRAWAL,
    asks=_asks_to_withdraw,
    title=lambda given: f"Withdrawal of rating {given['rating'].pk} of lot {given['rating'].lot}",
    about=lambda given: given["rating"],
    facts=_facts,
    details=_details,
    page=lambda given: reverse("lot-rating", args=[given["rating"].pk]),
    known=RatingWithdrawal,
    cause=Cause.RATE_WITHDRAWN,
    outcome=lambda entries: entries[0].cause_record if entries else None,
    rates_many=True,
)


def _as_if_withdrawn(given: Arguments) -> AsIf:
    rating = given["rating"]
    after = _next_in_force(rating)
    return AsIf(LotRating.objects.as_if_in_force(after.pk) if after else {rating.lot_id: None})


@rated_ahead(as_if=_as_if_withdrawn)
@second_person(WITHDRAWAL_ACT)
@in_yard_of("rating")
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
    if rating.state != RatingState.APPROVED:
        raise ValidationError(f"This rating is {rating.state}: only an approved one is withdrawn.")
    RatingWithdrawal.objects.create(
        submission_id=submission_id, rating=rating, reason=reason, recorded_by=by
    )
    words = f"Rating {rating.pk} of lot {rating.lot} withdrawn: {reason}"
    return _re_rate(housings, rating, Cause(Cause.RATE_WITHDRAWN, words, rating.pk), by)


def _refuse_unexplained(is_accepted: bool, reason: str) -> None:
    troubles = {}
    if not is_accepted:
        troubles["accepts_implausible"] = NOT_ACCEPTED
    if not reason:
        troubles["implausible_reason"] = NO_REASON
    elif len(reason) > LONGEST_IMPLAUSIBLE_REASON:
        troubles["implausible_reason"] = (
            f"This has {len(reason):,} characters: {LONGEST_IMPLAUSIBLE_REASON} at the most."
        )
    if troubles:
        raise ValidationError(troubles)


def _as_it_is_now(rating: LotRating) -> LotRating:
    """Read the rating again under the lock: another may have approved or withdrawn it."""
    return LotRating.objects.with_state().select_related("lot").get(pk=rating.pk)


def _refuse_no_draft(rating: LotRating, act: str) -> None:
    """Raise ValidationError, with what to do instead, for a rating that is no draft any more."""
    if rating.state == RatingState.CORRECTED:
        raise ValidationError(
            "A test it rests on was corrected since: look at the draft that the correction led to."
        )
    if rating.state == RatingState.SUPERSEDED:
        raise ValidationError(
            f"Rating {rating.superseded_by_key} was drafted later, from more of the lot’s tests: "
            "look at that one."
        )
    if rating.state != RatingState.DRAFT:
        raise ValidationError(f"This rating is {rating.state} already: there is nothing to {act}.")


def _re_rate(
    housings: list[SuppressorHousing], rating: LotRating, cause: Cause, by: User
) -> list[LedgerEntry]:
    """Rate every housing that holds a pad of a rating's lot."""
    found = PadPosition.objects.filter(lot=rating.lot_id)
    holders = set(found.values_list("housing_id", flat=True))
    return post(
        [housing for housing in housings if housing.pk in holders],
        cause=cause,
        occurred_at=clock.now(),
        by=by,
    )
