"""Put right what is on record of a lot's rubber."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.urls import reverse

from fleet import clock
from fleet.housings import lock_all_housings
from fleet.models import LotCorrection, PadLot, PadPosition
from fleet.models.measured_fields import measured_field
from fleet.people.yards import in_yard_of
from fleet.quantities import plain_number
from ratings.ledger.ahead import rated_ahead
from ratings.ledger.posting import Cause, post
from ratings.models import What
from ratings.models.policy import safeguards
from ratings.proposals.acts import Act, Arguments, second_person

# Each figure of a lot's rubber, and where a correction keeps what it was.
BEFORE = {
    "hardness_shore_a": "hardness_before",
    "bonded_area_in2": "bonded_area_before_in2",
    "rubber_thickness_in": "thickness_before_in",
}


def _figures(figures: Mapping[str, Any], system: str) -> list[tuple[str, str]]:
    told = []
    for name in BEFORE:
        field, figure = measured_field(LotCorrection, name), figures[name]
        words = "not known"
        if figure is not None:
            quantity = field.quantity
            words = quantity.words(figure, system) if quantity else plain_number(figure, 1)
        told.append((str(field.verbose_name), words))
    return told


def _on_record(given: Arguments) -> dict[str, Any]:
    lot = _lot(given)
    return {name: getattr(lot, name) for name in BEFORE}


def _lot(given: Arguments) -> PadLot:
    return PadLot.objects.get(pk=given["lot_id"])


def _details(given: Arguments, system: str) -> list[tuple[str, str]]:
    pairs = zip(_figures(_on_record(given), system), _figures(given, system), strict=True)
    return [
        ("Lot", str(_lot(given))),
        *(
            (label[:1].upper() + label[1:], now if now == then else f"{now}, on record {then}")
            for (label, then), (_, now) in pairs
        ),
        ("What was wrong", given["reason"]),
    ]


LOT_ACT = Act(
    What.LOT,
    asks=lambda given: safeguards().second_person_corrections,
    title=lambda given: f"Correction of lot {_lot(given)}: {given['reason']}",
    about=_lot,
    facts=lambda given: {
        f"{label} of lot {_lot(given)}": words for label, words in _figures(_on_record(given), "us")
    },
    details=_details,
    page=lambda given: reverse("lot", args=[given["lot_id"]]),
    known=LotCorrection,
    cause=Cause.LOT_CORRECTED,
    outcome=lambda correction: correction.pk if correction else None,
    rates_many=True,
)


@rated_ahead()
@second_person(LOT_ACT)
@in_yard_of("lot_id")
@transaction.atomic
def correct_lot(
    *,
    submission_id: uuid.UUID,
    lot_id: int,
    hardness_shore_a: float | None,
    bonded_area_in2: float | None,
    rubber_thickness_in: float | None,
    reason: str,
    by: User,
) -> LotCorrection | None:
    """Record what a lot's rubber really is; None where it is not known. Return the correction.

    Units that hold the lot are rated again, and get an entry where a figure of theirs rests on
    it. A second copy of a submission changes nothing, and returns None. Raises ValidationError
    under the field's name for a figure that can't be and a reason left blank, and under none
    where nothing differs from what is on record.
    """
    housings = lock_all_housings()
    if LotCorrection.objects.filter(submission_id=submission_id).exists():
        return None
    lot = PadLot.objects.select_for_update().get(pk=lot_id)
    now = {
        "hardness_shore_a": hardness_shore_a,
        "bonded_area_in2": bonded_area_in2,
        "rubber_thickness_in": rubber_thickness_in,
    }
    for name, figure in now.items():
        measured_field(LotCorrection, name).refuse_out_of_bounds(figure)
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say how the mistake came to light."})
    if all(getattr(lot, name) == figure for name, figure in now.items()):
        raise ValidationError(
            "Nothing differs from what is on record: change what is wrong, or cancel."
        )
    correction = LotCorrection.objects.create(
        submission_id=submission_id,
        lot=lot,
        reason=reason,
        recorded_by=by,
        **{before: getattr(lot, name) for name, before in BEFORE.items()},
        **now,
    )
    # Only these: the stock is no part of it.
    PadLot.objects.filter(pk=lot.pk).update(**now)
    holders = set(PadPosition.objects.filter(lot=lot).values_list("housing_id", flat=True))
    post(
        [each for each in housings if each.pk in holders],
        cause=Cause(Cause.LOT_CORRECTED, f"Rubber of lot {lot} corrected: {reason}", correction.pk),
        occurred_at=clock.now(),
        by=by,
    )
    return correction
