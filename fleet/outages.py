"""Pulling a machine, and with it its unit, out of service.

How it comes back is told where inspections are known.
"""

from __future__ import annotations

import uuid
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max, Model

from fleet.dates import moment_words
from fleet.models import OutOfService, SuppressorHousing
from fleet.models.machine import column_of, sort_of
from fleet.people.yards import in_yard_of, look_again_at
from fleet.questions import Question

if TYPE_CHECKING:
    from fleet.models.any_machine import AnyMachine

Sort = TypeVar("Sort", bound=Model)


def open_outage(machine: AnyMachine) -> OutOfService | None:
    """Return the time out of service that a machine itself is in, None where it is in service."""
    outages = OutOfService.objects.open().of(machine)
    found: OutOfService | None = outages.select_related("recorded_by").first()
    return found


def outages_of_unit(housing: SuppressorHousing) -> list[OutOfService]:
    """Return the times out of service that the machines of a unit are in, the housing's first."""
    outages = OutOfService.objects.open().of_units([housing.pk])
    named = outages.select_related("recorded_by", "hammer", "housing", "clamp", "power_pack")
    return sorted(named, key=lambda outage: (outage.housing_id is None, outage.since))


def last_release(machine: AnyMachine) -> datetime | None:
    """Return when a machine last came back, None where it never did."""
    outages = OutOfService.objects.ended().of(machine)
    last: datetime | None = outages.aggregate(last=Max("released_at"))["last"]
    return last


def named(machine: AnyMachine) -> str:
    """Return how a sentence names a machine, such as "hammer V-101"."""
    return f"{sort_of(machine)} {machine}"


def lock_machine(machine: Sort) -> Sort:
    """Lock one machine until the transaction ends, and return it as it is now."""
    locked: Sort | None = _locked(type(machine)).first(key=machine.pk)
    if locked is None:
        gone: Any = type(machine)
        raise gone.DoesNotExist(f"{sort_of(machine)} {machine} is on record no longer.")
    look_again_at(locked)
    return locked


@cache
def _locked(model: type[Sort]) -> Question[Sort]:
    rows: Any = model._default_manager
    return Question(lambda key: rows.select_for_update().filter(pk=key).order_by())


@in_yard_of("machine")
@transaction.atomic
def take_out_of_service(
    *,
    submission_id: uuid.UUID,
    machine: AnyMachine,
    since: datetime,
    reason: str,
    by: User,
) -> OutOfService:
    """Pull a machine out of service, and so the unit it is part of.

    A second copy of a submission changes nothing. Raises ValidationError where it is out already,
    where no reason is given, and where the time lies before it last came back.
    """
    machine = lock_machine(machine)
    known = OutOfService.objects.filter(submission_id=submission_id).first()
    if known is not None:
        _refuse_other_machine(known, machine)
        return known
    if not reason.strip():
        raise ValidationError(
            {"reason": f"This is blank: say why the {sort_of(machine)} goes out of service."}
        )
    _refuse_if_out(machine)
    _refuse_before_last_release(machine, since)
    return OutOfService.objects.create(
        submission_id=submission_id,
        **column_of(machine),
        since=since,
        reason=reason.strip(),
        recorded_by=by,
    )


def _refuse_other_machine(known: OutOfService, machine: AnyMachine) -> None:
    if known.machine != machine:
        raise ValidationError(
            f"This form was sent for {named(known.machine)} already: open the page of "
            f"{named(machine)} again and send it there."
        )


def _refuse_if_out(machine: AnyMachine) -> None:
    outage = open_outage(machine)
    if outage is not None:
        raise ValidationError(
            f"{capital(named(machine))} is out of service already, since "
            f"{moment_words(outage.since)} ({outage.reason.rstrip('.')}): "
            "release it before you take it out again."
        )


def _refuse_before_last_release(machine: AnyMachine, since: datetime) -> None:
    last = last_release(machine)
    if last is not None and last > since:
        raise ValidationError(
            {
                "since": f"{capital(named(machine))} came back only on "
                f"{moment_words(last)}: give a later time."
            }
        )


def capital(words: str) -> str:
    """Return words as a sentence begins, marks left as they are."""
    return words[0].upper() + words[1:]
