"""Phones that show codes of six digits: django-otp slows guesses down, and takes none twice."""

from __future__ import annotations

from django.contrib.auth.models import User
from django_otp.plugins.otp_totp.models import TOTPDevice


def has_phone(user: User) -> bool:
    """Whether somebody has a phone that shows codes."""
    return bool(TOTPDevice.objects.filter(user=user, confirmed=True).exists())


def begin(user: User) -> TOTPDevice:
    """Return what a phone is to take in, the same until it is confirmed."""
    device, _made = TOTPDevice.objects.get_or_create(
        user=user, confirmed=False, defaults={"name": "phone"}
    )
    return device


def is_confirmed(user: User, code: str) -> bool:
    """Whether a code shows that the phone begun is theirs, which takes the place of one before."""
    began = TOTPDevice.objects.select_for_update().filter(user=user, confirmed=False).first()
    if began is None or not began.verify_token("".join(code.split())):
        return False
    TOTPDevice.objects.filter(user=user).exclude(pk=began.pk).delete()
    began.confirmed = True
    began.save()
    return True


def shows(user: User, code: str) -> bool:
    """Whether a phone of somebody shows a code at this moment, which is then used up."""
    phones = TOTPDevice.objects.select_for_update().filter(user=user, confirmed=True)
    return any(phone.verify_token(code) for phone in phones)


def forget_phones(user: User) -> None:
    """Let the phones of somebody open nothing more."""
    TOTPDevice.objects.filter(user=user).delete()
