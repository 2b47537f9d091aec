"""The second step of a sign-in: a code of six digits from a phone, or a passkey.

django-otp keeps the phones, slows guesses down and refuses a code used before. What is lost is
helped by recovery codes, each good once, or by an equipment manager, on record.
"""

from __future__ import annotations

import uuid
from typing import Any

from django.conf import settings
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.models import PersonChange
from fleet.people.passkeys import end_all, has_passkey
from fleet.people.phones import forget_phones, has_phone, is_confirmed, shows
from fleet.people.recording import on_record_by_manager, write_change
from fleet.people.recovery_codes import make_codes, opens
from fleet.people.yards import in_every_yard
from fleet.roles import AUDITOR, DISPATCHER, MANAGER, PLAN, READ, RECORD, ROLES, who_words

# By role, the right that no narrower role has.
TELLING = {MANAGER: RECORD, DISPATCHER: PLAN, AUDITOR: READ}
NOT_IT = (
    "This is not the code of this moment, or it was used before: wait for the next one, and look "
    "whether the clock of your phone is right."
)


def is_asked_of(user: Any) -> bool:
    """Whether the site asks a second step of somebody's role; no question to the database."""
    asked = settings.SECOND_STEP_OF
    if not asked or not user.is_authenticated:
        return False
    role = next((each for each in ROLES if user.has_perm(TELLING[each])), "")
    return role in asked


def has_second_step(user: User) -> bool:
    """Whether somebody has set a second step up: a phone or a passkey."""
    return has_phone(user) or has_passkey(user)


@transaction.atomic
def passes(user: User, code: str) -> bool:
    """Whether a code of somebody's phone, or one of their recovery codes, is right now.

    Each is good once. Wrong ones make the next try wait, longer each time.
    """
    typed = "".join(code.split()).replace("-", "").lower()
    if not typed.isdecimal():
        return opens(user, typed)
    return shows(user, typed)


@transaction.atomic
def confirm(user: User, code: str) -> list[str]:
    """Make the phone somebody began with their second step, and return new recovery codes.

    One of before, and its codes, hold no more. Raises ValidationError where the code is not right.
    """
    if not is_confirmed(user, code):
        raise ValidationError({"code": NOT_IT})
    write_change(uuid.uuid4(), user, PersonChange.Kind.SECOND_STEP_ON, by=user)
    return make_codes(user)


@transaction.atomic
def make_codes_anew(user: User) -> list[str]:
    """Return new recovery codes of somebody; those of before hold no more.

    Raises ValidationError where there is no second step that they would stand in for.
    """
    User.objects.select_for_update().get(pk=user.pk)
    if not has_second_step(user):
        raise ValidationError("You have no second step: set a phone or a passkey up first.")
    write_change(uuid.uuid4(), user, PersonChange.Kind.RECOVERY_CODES, by=user)
    return make_codes(user)


@in_every_yard
@transaction.atomic
def take_away(*, submission_id: uuid.UUID, user: User, reason: str, by: User) -> User:
    """Take the second step of somebody away whose phone, codes and passkeys are lost.

    A second copy of a submission changes nothing. Raises ValidationError where there is none, or it
    is their own.
    """
    kind = PersonChange.Kind.SECOND_STEP_OFF
    if on_record_by_manager(submission_id, kind, by):
        return user
    if user.pk == by.pk:
        raise ValidationError(
            "This is your own: set another phone or passkey up under your name, or use a recovery "
            "code."
        )
    if not has_second_step(user):
        raise ValidationError(f"{who_words(user)} has no second step: there is nothing to take.")
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why, since it stays on record."})
    _forget(user, reason, by)
    write_change(submission_id, user, kind, by=by, reason=reason)
    return user


@transaction.atomic
def take_away_by_command(user: User) -> None:
    """Take somebody's second step away from the machine, where no manager can sign in to do it.

    Raises ValidationError where there is none.
    """
    if not has_second_step(user):
        raise ValidationError(f"{who_words(user)} has no second step: there is nothing to take.")
    reason = "By a command on the machine."
    _forget(user, reason, user)
    write_change(uuid.uuid4(), user, PersonChange.Kind.SECOND_STEP_OFF, by=user, reason=reason)


def _forget(user: User, reason: str, by: User) -> None:
    forget_phones(user)
    end_all(user=user, reason=reason, by=by)
