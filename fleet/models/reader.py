from __future__ import annotations

from django.conf import settings
from django.db import models


class Units(models.TextChoices):
    US = "us", "US customary"
    SI = "si", "SI"


class ReaderPreference(models.Model):
    """How one person likes to read the site."""

    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, models.CASCADE, related_name="reader_preference"
    )
    units = models.CharField(max_length=2, choices=Units, default=Units.US)

    hides_first_steps = models.BooleanField(
        default=False, help_text="Whether the board leaves out the first steps of a new yard."
    )

    board_filters = models.JSONField(
        default=dict,
        blank=True,
        help_text="How the board was last narrowed, by the names of its filters.",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="reader_units_known", condition=models.Q(units__in=Units.values)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user} reads {self.get_units_display()}"
