"""Sign a pad replacement: pads off the shelf and into the housing, or neither."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.locking import lock_housing
from fleet.models import PadPosition, SuppressorHousing
from fleet.stock import fit_from_stock
from inspections.models import PadReplacement, ReplacedPad
from inspections.recording.newestfacts import settle
from inspections.recording.positions import lots_trouble, positions_trouble
from inspections.recording.submission import Submission, refuse_if_changed, refuse_other_housing
from ratings.ledger.posting import Cause, post
from ratings.models import LedgerEntry


@dataclass(frozen=True)
class PadFitted:
    """A pad of a stocked lot put into a position."""

    side: str
    number: int
    lot_id: int


@dataclass(frozen=True)
class Replaced:
    """A replacement on record, and the ledger entry it posted."""

    replacement: PadReplacement
    entry: LedgerEntry | None
    is_copy: bool = False


@transaction.atomic
def sign_replacement(
    *,
    housing: SuppressorHousing,
    submission: Submission,
    fitted_at: datetime,
    pads: Sequence[PadFitted],
    by: User,
    note: str = "",
) -> Replaced:
    """Move pads from stock into positions and the unit's figures with them, in one transaction.

    A second copy of a submission changes nothing. Raises ValidationError where a position
    or a lot can't be, or a lot has too few in stock; ChangedMeanwhile where another signed in
    between. Then nothing is kept.
    """
    housing = lock_housing(housing.pk)
    known = PadReplacement.objects.filter(submission_id=submission.submission_id).first()
    if known is not None:
        refuse_other_housing(known.housing, housing)
        return Replaced(known, None, is_copy=True)
    refuse_if_changed(housing, submission)
    before = _positions_to_fill(housing, pads)
    replacement = PadReplacement.objects.create(
        submission_id=submission.submission_id,
        housing=housing,
        fitted_at=fitted_at,
        note=note,
        recorded_by=by,
    )
    ReplacedPad.objects.bulk_create(
        ReplacedPad(
            replacement=replacement,
            side=pad.side,
            number=pad.number,
            lot_id=pad.lot_id,
            removed_condition=before[pad.side, pad.number].condition,
            removed_lot_id=before[pad.side, pad.number].lot_id,
        )
        for pad in pads
    )
    _take_from_stock(replacement, pads, by)
    settle(housing)
    entries = post(
        [housing],
        cause=Cause(Cause.PAD_REPLACEMENT, _words(pads), replacement.pk),
        occurred_at=fitted_at,
        by=by,
    )
    return Replaced(replacement, entries[0] if entries else None)


def _positions_to_fill(
    housing: SuppressorHousing, pads: Sequence[PadFitted]
) -> dict[tuple[str, int], PadPosition]:
    if not pads:
        raise ValidationError({"pads": "No position was given a pad: choose at least one."})
    trouble = positions_trouble(housing, pads) or lots_trouble(pads)
    if trouble:
        raise ValidationError({"pads": trouble})
    return {(position.side, position.number): position for position in housing.positions.all()}


def _take_from_stock(replacement: PadReplacement, pads: Sequence[PadFitted], by: User) -> None:
    # In the order of their keys, so that two replacements never wait for each other in a ring.
    for lot_id, count in sorted(Counter(pad.lot_id for pad in pads).items()):
        fit_from_stock(
            lot_id=lot_id,
            pads=count,
            yard=replacement.housing.yard,
            occurred_at=replacement.fitted_at,
            by=by,
            note=f"pad replacement {replacement.pk} on {replacement.housing}",
        )


def _words(pads: Sequence[PadFitted]) -> str:
    places = ", ".join(
        f"{pad.side}{pad.number}" for pad in sorted(pads, key=lambda pad: (pad.side, pad.number))
    )
    return f"{len(pads)} pad{'' if len(pads) == 1 else 's'} fitted from stock at {places}"
