from __future__ import annotations

from typing import Self

from django.conf import settings
from django.contrib.auth.models import AbstractBaseUser
from django.db import models
from django.db.models import Q

from fleet.models.recorded import Recorded


class PasskeyQuerySet(models.QuerySet["Passkey"]):
    """Passkeys, and which of them still let somebody in."""

    def working(self, person: AbstractBaseUser) -> Self:
        """Those of somebody that nobody took away."""
        return self.filter(person=person.pk, end=None)


class Passkey(Recorded):
    """A key that somebody’s phone, machine or stick keeps, and signs in with. Never edited.

    The secret half never leaves the device: what is kept here lets nobody in.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="passkeys")
    name = models.CharField(max_length=60, help_text="Where it is kept, such as: my phone.")
    host = models.CharField(
        max_length=253, help_text="The name of the site it was made for; it works at no other."
    )
    credential_id = models.CharField(
        max_length=1400, unique=True, help_text="What the device calls it, in base64url."
    )
    public_key = models.TextField(help_text="What its answers are held to, in base64url.")

    objects = PasskeyQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(name="passkey_named", condition=~Q(name="")),
        ]

    def __str__(self) -> str:
        return self.name


class PasskeyEnd(Recorded):
    """A passkey lets nobody in any more, from when this was recorded."""

    passkey = models.OneToOneField(Passkey, models.PROTECT, related_name="end")
    reason = models.CharField("why it was taken away", max_length=200)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(name="passkey_ended_for_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"taken away: {self.passkey}"


class PasskeyUse(models.Model):
    """How often a passkey says it was used, and when it last was: no fact, kept with no other."""

    passkey = models.OneToOneField(Passkey, models.CASCADE, related_name="use")
    sign_count = models.BigIntegerField(
        help_text="What its device counted up to; 0 where that counts nothing."
    )
    used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"{self.passkey} used"
