from __future__ import annotations

from django.db import models


class Hammer(models.Model):
    """A vibratory pile hammer: exciter, clamp and power pack."""

    yard = models.ForeignKey("fleet.Yard", models.PROTECT, related_name="hammers")
    mark = models.CharField(
        "yard mark", max_length=40, unique=True, help_text="What is painted on it."
    )
    make = models.CharField(max_length=80, blank=True)
    type_name = models.CharField("type", max_length=80, blank=True)
    serial_number = models.CharField(max_length=80, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["mark"]

    def __str__(self) -> str:
        return self.mark

    @property
    def make_and_type(self) -> str:
        return " ".join(part for part in (self.make, self.type_name) if part)
