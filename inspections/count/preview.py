"""What a unit would be rated at if a form not yet signed were signed as it stands.

The very writing that signing does, taken back: so facts recorded since, pads that wait for a
second look and later records tell on a preview as they do on the signing.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass, replace

from django.contrib.auth.models import User
from django.db import transaction

from fleet.housings import lock_housing
from fleet.models import SuppressorHousing
from fleet.models.housing import Condition
from fleet.units import hung_on_housing
from inspections.count.signing import TRAVEL, Correction, Seen, cautions_of, put_on_record
from inspections.count.submission import Submission
from ratings.ledger.facts import gather
from ratings.mechanics.unit_rating import UnitRating, rate_unit


@dataclass(frozen=True)
class Foreseen:
    """A unit as it would be rated, and what whoever signs should know besides."""

    rating: UnitRating
    cautions: tuple[str, ...] = ()


def preview_inspection(
    *, housing: SuppressorHousing, seen: Seen, by: User, correction: Correction | None = None
) -> Foreseen:
    """Return what signing an inspection would give. Saves nothing.

    Positions left out, and a travel of None, stay as the records have them. What signing would
    refuse is left to the form.
    """
    with transaction.atomic():
        housing = lock_housing(housing.pk)
        inspection, settled = put_on_record(
            hung=hung_on_housing(housing, seen.seen_at),
            submission=Submission(uuid.uuid4()),
            seen=_what_can_be(seen),
            by=by,
            correction=correction,
            # It bears on no figure, and may be only half typed.
            reads_meter=False,
        )
        waiting = settled.waiting_for(inspection) if settled else {}
        foreseen = Foreseen(rated(housing), tuple(cautions_of(inspection, waiting)))
        transaction.set_rollback(True)
    return foreseen


def _what_can_be(seen: Seen) -> Seen:
    """Return what was typed so far without what no record takes, which the form tells of."""
    pads = [pad for pad in seen.pads if pad.condition in Condition.values]
    return replace(
        seen,
        pads=[
            replace(pad, lot_id=None) if pad.condition == Condition.MISSING else pad for pad in pads
        ],
        travel_in=None if TRAVEL.trouble_with(seen.travel_in) else seen.travel_in,
        second_look_by=None,
    )


def rated(housing: SuppressorHousing) -> UnitRating:
    """Rate a housing as the records have it at this moment."""
    return rate_unit(gather([housing])[housing.pk].inputs)
