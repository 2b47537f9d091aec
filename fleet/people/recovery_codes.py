"""Recovery codes: each opens one sign-in of somebody whose phone or passkey is lost.

django-otp keeps them and slows guesses down; of each only a keyed hash is kept.
"""

from __future__ import annotations

from django.contrib.auth.models import User
from django.utils.crypto import get_random_string, salted_hmac
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken

RECOVERY_CODES = 10
# Without those that are taken for one another.
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
LETTERS_OF_A_CODE = 10


def make_codes(user: User) -> list[str]:
    """Return new recovery codes of somebody, told this once; those of before hold no more."""
    forget_codes(user)
    codes = [get_random_string(LETTERS_OF_A_CODE, LETTERS) for _ in range(RECOVERY_CODES)]
    kept = StaticDevice.objects.create(user=user, name="recovery codes")
    for each in codes:
        kept.token_set.create(token=_kept(user, each))
    return [f"{each[:5]}-{each[5:]}" for each in codes]


def codes_left(user: User) -> int:
    """Return how many recovery codes of somebody were not used yet."""
    return int(StaticToken.objects.filter(device__user=user).count())


def forget_codes(user: User) -> None:
    """Let the recovery codes of somebody hold no more."""
    StaticDevice.objects.filter(user=user).delete()


def opens(user: User, code: str) -> bool:
    """Whether a code is a recovery code of somebody, which is then used up."""
    devices = StaticDevice.objects.select_for_update().filter(user=user, confirmed=True)
    return any(device.verify_token(_kept(user, code)) for device in devices)


def _kept(user: User, code: str) -> str:
    """Return what is kept of a recovery code; it is random, so that half a hash is enough."""
    # The name under which those of before were hashed.
    hashed: str = salted_hmac(f"fleet.people.second_step.{user.pk}", code).hexdigest()
    return hashed[:16]
