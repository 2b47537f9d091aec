"""What every signing at a unit shares: its id, and the state of the unit it was based on."""

from __future__ import annotations

import logging
import uuid
from dataclasses import dataclass
from datetime import datetime

from django.core.exceptions import ValidationError

from fleet.dates import moment_words
from fleet.models import SuppressorHousing
from ratings.models import CurrentRating

logger = logging.getLogger(__name__)


class ChangedMeanwhile(Exception):
    """Somebody else signed the unit after this form was opened."""

    def __init__(self, head: CurrentRating) -> None:
        self.head = head
        entry = head.head
        who = entry.recorded_by.get_full_name() or entry.recorded_by.get_username()
        super().__init__(
            f"{who} signed this unit since you opened the page ({entry.cause_words}). "
            "What you entered is kept below: look at the unit, then sign again if it still holds."
        )


@dataclass(frozen=True)
class Submission:
    """One press of a sign button.

    submission_id: made with the form; a second copy of it changes nothing.
    based_on: the ledger sequence the signer saw, 0 where there was none; None for a record
    made out of sight of the unit's state, which is taken by its own time alone.
    """

    submission_id: uuid.UUID
    based_on: int | None = None


def refuse_if_changed(housing: SuppressorHousing, submission: Submission) -> None:
    """Raise ChangedMeanwhile if the unit's ledger has moved on since the form was opened."""
    if submission.based_on is None:
        return
    head = CurrentRating.objects.filter(housing=housing).select_related("head__recorded_by").first()
    if head is not None and head.sequence != submission.based_on:
        logger.info(
            "signing at %s refused: based on entry %d, and %d stands",
            housing,
            submission.based_on,
            head.sequence,
        )
        raise ChangedMeanwhile(head)


def already_signed(at: datetime) -> str:
    """Return what to say to a person who sent a form a second time."""
    return (
        f"This form was signed on {moment_words(at)}: that record stands and "
        "nothing was recorded twice. To record anything else, open the page anew."
    )


def refuse_other_housing(recorded: SuppressorHousing, housing: SuppressorHousing) -> None:
    """Raise ValidationError if a submission's id was used for another housing already."""
    if recorded.pk != housing.pk:
        raise ValidationError(
            f"This form was signed for housing {recorded} already: open the page of "
            f"housing {housing} again and sign there."
        )
