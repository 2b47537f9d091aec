"""Clamps and power packs on record: entered, changed, put on a hammer and taken off."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterator, Mapping
from datetime import date, datetime
from typing import Any, TypeVar

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from fleet import clock
from fleet.dates import day_words, moment_words
from fleet.fields import CLOCK_LEEWAY
from fleet.housings import lock_every_housing
from fleet.models import Clamp, ClampFitting, Hammer, PowerPack, PowerPackConnection
from fleet.models.machine import Machine, OnHammer
from fleet.outages import lock_machine
from fleet.people.yards import in_yard_of, lock_and_look_again
from fleet.setup.recording import change_thing
from fleet.together import save_held
from fleet.units import put_to_machines_of_then

AnyMachine = TypeVar("AnyMachine", bound=Machine)


@transaction.atomic
def enter_machine(machine: AnyMachine, *, looked_up: Collection[str] = ()) -> AnyMachine:
    """Save a new clamp or power pack.

    looked_up: fields whose records were read just now. Raises ValidationError naming the field of
    what can’t be, such as a mark that is taken.
    """
    save_held(machine, machine.save, looked_up=looked_up)
    return machine


@in_yard_of("machine")
@transaction.atomic
def change_machine(
    machine: AnyMachine,
    changes: Mapping[str, Any],
    *,
    submission_id: uuid.UUID,
    reason: str,
    by: User,
    seen: str | None = None,
) -> AnyMachine:
    """Change what is on record of a clamp or power pack, and keep what was there, by whom and why.

    As change_thing does. Raises ValidationError as well where it is to be out of use while it is
    on a hammer.
    """
    # A unit that is committed this moment is answered with the clamp as it is read.
    lock_every_housing()
    locked = lock_machine(machine)
    fitting = locked.fittings.current().select_related("hammer").first()  # type: ignore[attr-defined]
    if changes.get("retired_on") is not None and fitting is not None:
        raise ValidationError(
            {"retired_on": f"{locked} is on hammer {fitting.hammer}: take it off first."}
        )
    return change_thing(
        locked,
        changes,
        submission_id=submission_id,
        reason=reason,
        by=by,
        fixed=("mark",),
        seen=seen,
    )


def _parted(given: Mapping[str, Any]) -> Iterator[Any]:
    """What comes apart as a machine is put on a hammer, or taken off."""
    owner = "clamp" if "clamp" in given else "power_pack"
    model = ClampFitting if owner == "clamp" else PowerPackConnection
    either = Q(**{owner: given[owner]})
    if given["hammer"] is not None:
        either |= Q(hammer=given["hammer"])
    fittings = model._default_manager.filter(either, removed_at=None)
    for fitting in fittings.select_related("hammer", owner):
        yield fitting.hammer
        yield getattr(fitting, owner)


@in_yard_of("clamp", "hammer", _parted)
def fit_clamp(
    *,
    clamp: Clamp,
    hammer: Hammer | None,
    at: datetime,
    by: User,
    submission_id: uuid.UUID | None = None,
) -> ClampFitting | None:
    """Fit a clamp to a hammer, or take it off, ending what stood before for both of them.

    A second copy of a submission changes nothing. Raises ValidationError naming the field where
    the clamp is out of use then, and where the time or the hammer can't be.
    """
    return _put_on(ClampFitting, clamp, hammer, at, by, submission_id)


@in_yard_of("power_pack", "hammer", _parted)
def connect_power_pack(
    *,
    power_pack: PowerPack,
    hammer: Hammer | None,
    at: datetime,
    by: User,
    submission_id: uuid.UUID | None = None,
) -> PowerPackConnection | None:
    """Connect a power pack to the hammer it drives, or disconnect it, as fit_clamp does."""
    return _put_on(PowerPackConnection, power_pack, hammer, at, by, submission_id)


Fitting = TypeVar("Fitting", bound=OnHammer)


@transaction.atomic
def _put_on(
    model: type[Fitting],
    machine: Machine,
    hammer: Hammer | None,
    at: datetime,
    by: User,
    submission_id: uuid.UUID | None,
) -> Fitting | None:
    # All of them: which other units it concerns is only known once nothing can be moved.
    lock_every_housing()
    fittings = model._default_manager.select_related("hammer")
    if submission_id is not None:
        known = fittings.filter(Q(submission_id=submission_id) | Q(removal_id=submission_id))
        if known.exists():
            return known.filter(submission_id=submission_id).first()
    lock_and_look_again()
    locked = lock_machine(machine)
    own, others = fittings.filter(**{_owner(model): machine}), fittings.filter(hammer=hammer)
    before = own.filter(removed_at=None).first()
    displaced = others.filter(removed_at=None).first() if hammer else None
    if (before.hammer if before else None) == hammer:
        where = f"on {hammer}" if hammer else "off every hammer"
        raise ValidationError({"hammer": f"{locked} is {where} already: choose another."})
    since = locked.retired_on
    # One out of use since is put where it was before, as a register taken in tells it.
    if hammer is not None and since is not None and timezone.localdate(at) >= since:
        raise ValidationError(_out_of_use_words(locked, since))
    if at > clock.now() + CLOCK_LEEWAY:
        raise ValidationError(
            {"at": f"{moment_words(at)} is in the future: give when it happened."}
        )
    _refuse_before_last_move(own | others if hammer else own, at)
    for fitting in (before, displaced):
        if fitting is not None:
            fitting.removed_at, fitting.removed_by = at, by
            if hammer is None:
                fitting.removal_id = submission_id
            fitting.save(update_fields=["removed_at", "removed_by", "removal_id"])
    left = before.hammer if before else None
    if hammer is None:
        _put_right(left, None, at, by)
        return None
    fitted: Any = model._default_manager.create(
        **{_owner(model): machine},
        hammer=hammer,
        fitted_at=at,
        submission_id=submission_id,
        recorded_by=by,
    )
    made: Fitting = fitted
    _put_right(left, hammer, at, by)
    return made


def _put_right(left: Hammer | None, hammer: Hammer | None, at: datetime, by: User) -> None:
    """Put inspections since the move, recorded before it was, to the machines of then."""
    for each in (left, hammer):
        if each is not None:
            put_to_machines_of_then(each.inspections.filter(seen_at__gte=at), by=by)


def _owner(model: type[OnHammer]) -> str:
    return "clamp" if model is ClampFitting else "power_pack"


def _out_of_use_words(machine: Machine, since: date) -> str:
    return (
        f"{machine} is out of use since {day_words(since)}: take that off its record first, if "
        "it is in use again."
    )


def _refuse_before_last_move(involved: Any, at: datetime) -> None:
    """What was on or came off a hammer later can't have been elsewhere at this time."""
    last = (
        involved.filter(Q(fitted_at__gt=at) | Q(removed_at__gt=at)).order_by("-fitted_at").first()
    )
    if last is None:
        return
    came_off = last.removed_at is not None and last.removed_at > at
    when = moment_words(last.removed_at if came_off else last.fitted_at)
    what = f"came off {last.hammer} only" if came_off else f"went on {last.hammer}"
    raise ValidationError({"at": f"{_machine_of(last)} {what} on {when}: give a later time."})


def _machine_of(fitting: OnHammer) -> Machine:
    machine: Machine = getattr(fitting, _owner(type(fitting)))
    return machine
