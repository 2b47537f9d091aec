"""What every signing at a unit shares: its id, the state it was based on, the pads it names."""

from __future__ import annotations

import logging
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Protocol

from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.dates import day_words, moment_words
from fleet.models import PadLot, SuppressorHousing
from fleet.outages import named
from fleet.questions import Question, among
from fleet.signers import signer_words
from ratings.models import CurrentRating

if TYPE_CHECKING:
    from fleet.models.any_machine import AnyMachine

logger = logging.getLogger(__name__)


class ChangedMeanwhile(Exception):
    """Somebody else signed the unit after this form was opened."""

    def __init__(self, head: CurrentRating) -> None:
        self.head = head
        entry = head.head
        who = signer_words(entry)
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
        "nothing was recorded twice. To record anything else, open the page again."
    )


def refuse_other_machine(recorded: AnyMachine, machine: AnyMachine) -> None:
    """Raise ValidationError if a submission's id was used for another machine already."""
    if recorded != machine:
        raise ValidationError(
            f"This form was signed for {named(recorded)} already: open the page of "
            f"{named(machine)} again and sign there."
        )


class PadNamed(Protocol):
    """A pad at a position, seen or fitted there."""

    @property
    def side(self) -> str: ...
    @property
    def number(self) -> int: ...
    @property
    def lot_id(self) -> int | None: ...


def position_name(key: tuple[str, int]) -> str:
    """Return how a position is called, such as "A1"."""
    return f"{key[0]}{key[1]}"


def at_position(words: str, key: tuple[str, int], **params: str) -> ValidationError:
    """Return what is wrong at a position, so that a page can show it there."""
    return ValidationError(words, params={"position": position_name(key), **params})


def not_on_housing(housing: SuppressorHousing, name: str) -> str:
    """Return how a position that a housing does not have is refused."""
    return (
        f"Position {name} is not on housing {housing}: it has {housing.positions_per_side} on "
        "each side."
    )


_LOTS = Question(lambda keys: PadLot.objects.filter(among("pk", keys)).order_by())


def pads_troubles(
    housing: SuppressorHousing, pads: Sequence[PadNamed], seen_at: datetime
) -> list[ValidationError]:
    """Return what is wrong with pads named: each on the housing, once, and of a lot of that day.

    A lot must be on record, and not out of use when its pad was seen.
    """
    given = [(pad.side, pad.number) for pad in pads]
    strange = [key for key in given if key not in housing.position_keys]
    if strange:
        return [ValidationError(not_on_housing(housing, position_name(key))) for key in strange]
    twice = sorted({key for key in given if given.count(key) > 1})
    if twice:
        words = "Position %(position)s is given twice: give each position once."
        return [at_position(words, key) for key in twice]
    given_lots = {pad.lot_id for pad in pads if pad.lot_id is not None}
    lots = {lot.pk: lot for lot in (_LOTS.ask(keys=given_lots) if given_lots else ())}
    day, troubles = timezone.localdate(seen_at), []
    for pad in pads:
        key, lot = (pad.side, pad.number), lots.get(pad.lot_id or 0)
        if pad.lot_id is not None and lot is None:
            words = "The lot given at %(position)s is not on record: choose it again."
            troubles.append(at_position(words, key))
        elif lot is not None and lot.retired_on is not None and lot.retired_on <= day:
            words = (
                "Lot %(lot)s at %(position)s is out of use since %(since)s, used up or thrown "
                "away: choose another, or bring that lot back into use first."
            )
            since = day_words(lot.retired_on)
            troubles.append(at_position(words, key, lot=lot.mark, since=since))
    return troubles
