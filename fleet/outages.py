"""Pulling a unit out of service. How it comes back is told where inspections are known."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max

from fleet.dates import moment_words
from fleet.housings import lock_housing
from fleet.models import OutOfService, SuppressorHousing


def open_outage(housing: SuppressorHousing) -> OutOfService | None:
    """Return the time out of service that a unit is in, None where it is in service."""
    outages = OutOfService.objects.open().filter(housing=housing)
    return outages.select_related("recorded_by").first()


def last_release(housing: SuppressorHousing) -> datetime | None:
    """Return when a unit last came back, None where it never did."""
    outages = OutOfService.objects.ended().filter(housing=housing)
    last: datetime | None = outages.aggregate(last=Max("released_at"))["last"]
    return last


@transaction.atomic
def take_out_of_service(
    *,
    submission_id: uuid.UUID,
    housing: SuppressorHousing,
    since: datetime,
    reason: str,
    by: User,
) -> OutOfService:
    """Pull a unit out of service. A second copy of a submission changes nothing.

    Raises ValidationError where it is out already, where no reason is given, and where the
    time lies before it last came back.
    """
    housing = lock_housing(housing.pk)
    known = OutOfService.objects.filter(submission_id=submission_id).first()
    if known is not None:
        _refuse_other_housing(known, housing)
        return known
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why the unit goes out of service."})
    _refuse_if_out(housing)
    _refuse_before_last_release(housing, since)
    return OutOfService.objects.create(
        submission_id=submission_id,
        housing=housing,
        since=since,
        reason=reason.strip(),
        recorded_by=by,
    )


def _refuse_other_housing(known: OutOfService, housing: SuppressorHousing) -> None:
    if known.housing_id != housing.pk:
        raise ValidationError(
            f"This form was sent for housing {known.housing} already: open the page of "
            f"housing {housing} again and send it there."
        )


def _refuse_if_out(housing: SuppressorHousing) -> None:
    outage = open_outage(housing)
    if outage is not None:
        raise ValidationError(
            f"Housing {housing} is out of service already, since "
            f"{moment_words(outage.since)} ({outage.reason.rstrip('.')}): "
            "release it before you take it out again."
        )


def _refuse_before_last_release(housing: SuppressorHousing, since: datetime) -> None:
    last = last_release(housing)
    if last is not None and last > since:
        raise ValidationError(
            {
                "since": f"Housing {housing} came back only on "
                f"{moment_words(last)}: give a later time."
            }
        )
