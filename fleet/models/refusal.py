from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet import clock


class Refusal(models.Model):
    """The site did not do what somebody asked: on which page, and what it said. Never edited.

    What was typed is not kept, but for what the words quote of it; of a form with a password, no
    words either.
    """

    class Why(models.TextChoices):
        GIVEN = "given", "what was given would not do"
        ROLE = "role", "not for the role of who asked"
        OFTEN = "often", "asked too often"

    recorded_at = models.DateTimeField(default=clock.now, editable=False)
    why = models.CharField(max_length=5, choices=Why)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    page = models.CharField(max_length=80, help_text="Its name among the pages of the site.")
    path = models.CharField(
        max_length=300,
        help_text="Its address; of a page that opens without an account only the pattern of it, "
        "since such an address may itself be what opens the page.",
    )
    fields = models.CharField(max_length=500, blank=True)
    words = models.CharField(max_length=1_000, blank=True)
    left_out = models.PositiveIntegerField(
        default=0, help_text="How many more came just before it, too many to be kept one by one."
    )

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="refusal_of_a_kind", condition=Q(why__in=["given", "role", "often"])
            ),
        ]

    def __str__(self) -> str:
        return self.get_why_display()
