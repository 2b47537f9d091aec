"""Say how many pads are drawn from service a year, and what so many pads promise."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.models import PadLot
from fleet.models.measured_fields import measured_field
from fleet.people.places import EVERY_YARD
from fleet.people.yards import in_yard_of
from ratings.mechanics.uncertainty import tolerance_factor
from ratings.models import SurveillancePlan

# The share of a lot's pads that a bound speaks of, and how sure of it the yard is.
PROPORTION = 0.90
CONFIDENCE = 0.95


def _lot_or_all(given: Mapping[str, Any]) -> tuple[Any, ...]:
    return (given["lot"] or EVERY_YARD,)


@in_yard_of(_lot_or_all)
@transaction.atomic
def set_plan(
    *,
    submission_id: uuid.UUID,
    lot: PadLot | None,
    pads_a_year: int | None,
    reason: str,
    by: User,
) -> SurveillancePlan:
    """Put a plan in force, of one lot or of all. A second copy of a submission changes nothing.

    lot: None for all lots that have no plan of their own. pads_a_year: None where a lot is to
    follow the plan for all again. Raises ValidationError at "pads_a_year" beyond its bounds, for
    all lots without a number, and where it is in force already.
    """
    known = SurveillancePlan.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    measured_field(SurveillancePlan, "pads_a_year").refuse_out_of_bounds(pads_a_year)
    if lot is None and pads_a_year is None:
        raise ValidationError(
            {"pads_a_year": "This is blank: give how many pads a year, 0 for none."}
        )
    before = SurveillancePlan.objects.filter(lot=lot).first()
    if before is not None and before.pads_a_year == pads_a_year:
        raise ValidationError({"pads_a_year": f"{_said(lot, pads_a_year)} in force already."})
    if before is None and pads_a_year is None:
        raise ValidationError(
            {"pads_a_year": "The lot follows the plan for all lots already: give a number."}
        )
    return SurveillancePlan.objects.create(
        submission_id=submission_id,
        lot=lot,
        pads_a_year=pads_a_year,
        reason=reason,
        recorded_by=by,
    )


def _said(lot: PadLot | None, pads_a_year: int | None) -> str:
    if pads_a_year is None:
        return "To follow the plan for all lots is"
    return f"{pads_a_year} a year {'for all lots' if lot is None else 'of this lot'} is"


def promise_words(pads: int) -> str:
    """Say what so many single pads of a lot let the yard state of all the others."""
    share, sure = f"{PROPORTION:.0%}", f"{CONFIDENCE:.0%}"
    if pads < 1:
        return "No pads are drawn, so that nothing tells how the lot fares in service."
    if pads == 1:
        return (
            "One pad a year shows a trend in the end, but tells nothing of how pads differ: "
            "no bound can be given from it."
        )
    factor = tolerance_factor(pads, PROPORTION, CONFIDENCE)
    return (
        f"{pads} pads a year, tested one at a time: with {_spaced(sure)} confidence "
        f"{_spaced(share)} of the lot’s pads in service are above their mean less "
        f"{factor:.2f} times their standard deviation."
    )


def _spaced(percent: str) -> str:
    return percent.replace("%", " %")
