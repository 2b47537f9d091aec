from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet import clock


class SignIn(models.Model):
    """Somebody came in, went out, or was not let in. Never edited, and nothing of the password.

    No address is kept of it: this table is kept for ever, and an address says where somebody was.
    """

    class What(models.TextChoices):
        IN = "in", "signed in"
        IN_BY_PASSKEY = "in key", "signed in by a passkey, with no password"
        CODE = "code", "took the second step: a code"
        PASSKEY = "key", "took the second step: a passkey"
        OUT = "out", "signed out"
        FAILED = "failed", "was not let in"
        LOCKED = "locked", "was locked out for a while: wrong passwords too often"

    recorded_at = models.DateTimeField(default=clock.now, editable=False)
    what = models.CharField(max_length=6, choices=What)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        related_name="+",
        help_text="Nobody where the name given is no person’s: it may be a password, mistyped.",
    )
    left_out = models.PositiveIntegerField(
        default=0, help_text="How many more came just before it, too many to be kept one by one."
    )

    class Meta:
        verbose_name = "sign-in"
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="sign_in_of_a_kind",
                condition=Q(what__in=["in", "in key", "code", "key", "out", "failed", "locked"]),
            ),
            models.CheckConstraint(
                name="sign_in_of_somebody",
                condition=Q(what__in=["failed", "locked"]) | Q(person__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return self.get_what_display()
