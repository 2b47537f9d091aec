"""What the yard owns, entered, changed, taken out of use and brought back: each on record."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator, Mapping
from datetime import date
from typing import Any, TypeVar

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Model

from fleet import clock
from fleet.dates import day_words
from fleet.housings import lock_all_housings
from fleet.models import SetUpChange, Yard
from fleet.people.places import EVERY_YARD
from fleet.people.yards import in_yard_of, look_again_at
from fleet.setup.versions import version_of

Owned = TypeVar("Owned", bound=Model)


def entered_by(submission_id: uuid.UUID, model: type[Owned]) -> Owned | None:
    """Return what this very form has entered before; None where it is new."""
    change = SetUpChange.objects.filter(
        submission_id=submission_id, kind=SetUpChange.Kind.ENTERED, record_model=model._meta.label
    ).first()
    if change is None:
        return None
    return model._default_manager.filter(pk=change.record_key).first()


def _whereabouts(given: Mapping[str, Any]) -> tuple[Any, ...]:
    """A machine or an instrument is of its yard; the yards themselves are of all."""
    record = given["record"]
    return (EVERY_YARD if isinstance(record, Yard) else record,)


def _locked(record: Owned) -> Owned:
    locked = type(record)._default_manager.select_for_update().get(pk=record.pk)
    look_again_at(locked)
    return locked


@in_yard_of(_whereabouts)
@transaction.atomic
def enter_thing(
    record: Owned, *, submission_id: uuid.UUID, save: Callable[[Owned], Owned], by: User
) -> Owned:
    """Put something new on record. A second copy of a submission changes nothing.

    save: keeps it, with what goes with it. Raises ValidationError naming the field of what can't
    be, such as a mark that is taken.
    """
    lock_all_housings()
    known = entered_by(submission_id, type(record))
    if known is not None:
        return known
    record.full_clean()
    kept = save(record)
    _write(submission_id, kept, SetUpChange.Kind.ENTERED, by=by)
    return kept


@in_yard_of(_whereabouts)
@transaction.atomic
def change_thing(
    record: Owned,
    changes: Mapping[str, Any],
    *,
    submission_id: uuid.UUID,
    reason: str,
    by: User,
    fixed: tuple[str, ...] = (),
    seen: str | None = None,
) -> Owned:
    """Change what is on record of something, and keep what was there, who changed it and why.

    fixed: fields that stay as they were entered. seen: the version_of what whoever changes it had
    before them. A second copy of a submission changes nothing. Raises ValidationError naming the
    field where a value can't be, no reason is given, or somebody changed it meanwhile.
    """
    # A unit that is committed this moment is answered with the machine as it is read.
    lock_all_housings()
    locked = _locked(record)
    if SetUpChange.objects.filter(submission_id=submission_id).exists():
        return locked
    if seen is not None and seen != version_of(locked):
        raise ValidationError(
            f"Somebody has changed the record of {locked} since you opened this form, and it would "
            "be lost: open the form again, and change what is there now."
        )
    differing = {name: value for name, value in changes.items() if getattr(locked, name) != value}
    if not differing:
        return locked
    for name in fixed:
        if name in differing:
            raise ValidationError({name: "This stays as it is: papers and facts name it."})
    _check_reason(reason)
    if "yard" in differing:
        _refuse_on_its_way(locked)
        _refuse_on_hire(locked)
    before = {name: _kept(getattr(locked, name)) for name in differing}
    for name, value in differing.items():
        setattr(locked, name, value)
    locked.full_clean()
    # Only what was changed here: a count signed this moment may be moving the travel.
    locked.save(update_fields=list(differing))
    _write(
        submission_id,
        locked,
        SetUpChange.Kind.CHANGED,
        changes={name: [before[name], _kept(value)] for name, value in differing.items()},
        reason=reason,
        by=by,
    )
    return locked


@in_yard_of(_whereabouts)
@transaction.atomic
def retire_thing(
    record: Any,
    *,
    submission_id: uuid.UUID,
    on: date,
    reason: str,
    by: User,
    in_the_way: Callable[[Any], Iterator[str]],
) -> Any:
    """Take something out of use from a day on, for a reason; it stays on record.

    in_the_way: yields what must be done before. A second copy of a submission changes nothing.
    Raises ValidationError naming the field where the day can't be, or something is in the way.
    """
    lock_all_housings()
    locked = _locked(record)
    if SetUpChange.objects.filter(submission_id=submission_id).exists():
        return locked
    if locked.retired_on is not None:
        raise ValidationError(
            f"{locked} is out of use since {day_words(locked.retired_on)} already."
        )
    if on > clock.now().date():
        raise ValidationError(
            {"on": f"{day_words(on)} is in the future: give a day that has been."}
        )
    _check_reason(reason)
    waiting = list(in_the_way(locked))
    if waiting:
        raise ValidationError([f"{each[0].upper()}{each[1:]}" for each in waiting])
    locked.retired_on = on
    locked.save(update_fields=["retired_on"])
    _write(
        submission_id,
        locked,
        SetUpChange.Kind.RETIRED,
        changes={"retired_on": [None, _kept(on)]},
        reason=reason,
        by=by,
    )
    return locked


@in_yard_of(_whereabouts)
@transaction.atomic
def bring_back(record: Any, *, submission_id: uuid.UUID, reason: str, by: User) -> Any:
    """Put something into use again, for a reason. A second copy of a submission changes nothing.

    Raises ValidationError where it is in use, or its yard is not.
    """
    lock_all_housings()
    locked = _locked(record)
    if SetUpChange.objects.filter(submission_id=submission_id).exists():
        return locked
    if locked.retired_on is None:
        raise ValidationError(f"{locked} is in use already.")
    yard = getattr(locked, "yard", None)
    if yard is not None and yard.retired_on is not None:
        raise ValidationError(
            f"Its yard {yard} is out of use since {day_words(yard.retired_on)}: bring that back "
            "first, or change the yard of this."
        )
    _check_reason(reason)
    since, locked.retired_on = locked.retired_on, None
    locked.save(update_fields=["retired_on"])
    _write(
        submission_id,
        locked,
        SetUpChange.Kind.BROUGHT_BACK,
        changes={"retired_on": [_kept(since), None]},
        reason=reason,
        by=by,
    )
    return locked


def _refuse_on_its_way(record: Any) -> None:
    """A transfer changes the yard when it arrives: until then nobody else does."""
    transfers = getattr(record, "transfers", None)
    open_transfer = transfers.filter(end__isnull=True).first() if transfers else None
    if open_transfer is not None:
        raise ValidationError(
            {
                "yard": f"{open_transfer.what} has its {open_transfer.words}: record its arrival, "
                "or cancel that transfer, first."
            }
        )


def _refuse_on_hire(record: Any) -> None:
    """What is with a hirer stands in no yard: taking it back says where it then is."""
    hires = getattr(record, "hires", None)
    hire = hires.out().select_related("housing").first() if hires else None
    if hire is not None:
        raise ValidationError(
            {
                "yard": f"{record} is {hire.machine_words}: take it back first, under Hire; until "
                "then it stands in no yard of yours."
            }
        )


def _check_reason(reason: str) -> None:
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why, since it stays on record."})


def _kept(value: Any) -> Any:
    """Return a value as a change keeps it: numbers as they are, all else in words."""
    if value is None or isinstance(value, bool | int | float | str):
        return value
    return value.isoformat() if isinstance(value, date) else str(value)


def _write(
    submission_id: uuid.UUID,
    record: Model,
    kind: str,
    *,
    by: User,
    changes: Mapping[str, Any] | None = None,
    reason: str = "",
) -> None:
    SetUpChange.objects.create(
        submission_id=submission_id,
        record_model=record._meta.label,
        record_key=record.pk,
        kind=kind,
        changes=dict(changes or {}),
        reason=reason.strip(),
        recorded_by=by,
    )
