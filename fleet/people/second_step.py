"""The second step of a sign-in: a code of six digits from a phone, beside the password.

django-otp keeps the devices, slows guesses down and refuses a code used before. A lost phone is
helped by recovery codes, each good once, of which only keyed hashes are kept; or by an equipment
manager, on record.
"""

from __future__ import annotations

import uuid
from typing import Any

from django.conf import settings
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.crypto import get_random_string, salted_hmac
from django_otp.plugins.otp_static.models import StaticDevice
from django_otp.plugins.otp_totp.models import TOTPDevice

from fleet.models import PersonChange
from fleet.people.recording import on_record_by_manager, write_change
from fleet.roles import AUDITOR, DISPATCHER, MANAGER, PLAN, READ, RECORD, ROLES, who_words

RECOVERY_CODES = 10
# Without those that are taken for one another.
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
LETTERS_OF_A_CODE = 10
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
    """Whether somebody has set a second step up."""
    return bool(TOTPDevice.objects.filter(user=user, confirmed=True).exists())


@transaction.atomic
def passes(user: User, code: str) -> bool:
    """Whether a code of somebody's phone, or one of their recovery codes, is right now.

    Each is good once. Wrong ones make the next try wait, longer each time.
    """
    typed = "".join(code.split()).replace("-", "").lower()
    devices: Any = (TOTPDevice, StaticDevice)
    for kind, given in zip(devices, (typed, _kept(user, typed)), strict=True):
        if (kind is TOTPDevice) is not typed.isdecimal():
            continue
        for device in kind.objects.select_for_update().filter(user=user, confirmed=True):
            if device.verify_token(given):
                return True
    return False


def begin(user: User) -> TOTPDevice:
    """Return what a phone is to take in, the same until it is confirmed."""
    device, _made = TOTPDevice.objects.get_or_create(
        user=user, confirmed=False, defaults={"name": "phone"}
    )
    return device


@transaction.atomic
def confirm(user: User, code: str) -> list[str]:
    """Make the phone somebody began with their second step, and return new recovery codes.

    One of before, and its codes, hold no more. Raises ValidationError where the code is not right.
    """
    began = TOTPDevice.objects.select_for_update().filter(user=user, confirmed=False).first()
    if began is None or not began.verify_token("".join(code.split())):
        raise ValidationError({"code": NOT_IT})
    _forget(user, but=began)
    began.confirmed = True
    began.save()
    codes = [get_random_string(LETTERS_OF_A_CODE, LETTERS) for _ in range(RECOVERY_CODES)]
    kept = StaticDevice.objects.create(user=user, name="recovery codes")
    for each in codes:
        kept.token_set.create(token=_kept(user, each))
    write_change(uuid.uuid4(), user, PersonChange.Kind.SECOND_STEP_ON, by=user)
    return [f"{each[:5]}-{each[5:]}" for each in codes]


@transaction.atomic
def take_away(*, submission_id: uuid.UUID, user: User, reason: str, by: User) -> User:
    """Take the second step of somebody whose phone is lost away: they set up another.

    A second copy of a submission changes nothing. Raises ValidationError where there is none, or it
    is their own.
    """
    kind = PersonChange.Kind.SECOND_STEP_OFF
    if on_record_by_manager(submission_id, kind, by):
        return user
    if user.pk == by.pk:
        raise ValidationError(
            "This is your own: set another phone up under your name, or use a recovery code."
        )
    if not has_second_step(user):
        raise ValidationError(f"{who_words(user)} has no second step: there is nothing to take.")
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why, since it stays on record."})
    _forget(user)
    write_change(submission_id, user, kind, by=by, reason=reason)
    return user


@transaction.atomic
def take_away_by_command(user: User) -> None:
    """Take somebody's second step away from the machine, where no manager can sign in to do it.

    Raises ValidationError where there is none.
    """
    if not has_second_step(user):
        raise ValidationError(f"{who_words(user)} has no second step: there is nothing to take.")
    _forget(user)
    reason = "By a command on the machine."
    write_change(uuid.uuid4(), user, PersonChange.Kind.SECOND_STEP_OFF, by=user, reason=reason)


def _forget(user: User, but: TOTPDevice | None = None) -> None:
    TOTPDevice.objects.filter(user=user).exclude(pk=but.pk if but else None).delete()
    StaticDevice.objects.filter(user=user).delete()


def _kept(user: User, code: str) -> str:
    """Return what is kept of a recovery code; it is random, so that half a hash is enough."""
    hashed: str = salted_hmac(f"fleet.people.second_step.{user.pk}", code).hexdigest()
    return hashed[:16]
