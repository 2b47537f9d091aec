"""Seals of the journal, when it was last verified, and papers given out of it."""

from __future__ import annotations

import json
from typing import Any

from django.db import models
from django.db.models import F, Q

from fleet.models.recorded import Recorded


class Seal(models.Model):
    """What the whole journal came to at a moment, as a short text that goes out of the house.

    Whoever keeps one can hold every later state of the site to it.
    """

    number = models.PositiveIntegerField(unique=True)
    made_at = models.DateTimeField()
    size = models.BigIntegerField(help_text="How many leaves of the journal it covers.")
    root = models.CharField(max_length=64)
    text = models.TextField()
    hash = models.CharField(max_length=64, help_text="Its code: SHA-256 of the lines above it.")

    class Meta:
        ordering = ["number"]
        constraints = [
            models.CheckConstraint(condition=Q(number__gte=1), name="seals_count_from_one"),
            models.CheckConstraint(condition=Q(size__gte=0), name="seal_size_not_negative"),
        ]

    def __str__(self) -> str:
        return f"seal {self.number}"

    @property
    def code(self) -> str:
        """The first of its hash in groups that can be read aloud."""
        return "-".join(self.hash[start : start + 4].upper() for start in range(0, 16, 4))


class Verification(models.Model):
    """One run of verifying the record: how far it looked, and whether it held."""

    at = models.DateTimeField()
    since = models.BigIntegerField(
        default=0, help_text="The leaves before this one were held to by an earlier run."
    )
    size = models.BigIntegerField()
    root = models.CharField(max_length=64)
    is_whole = models.BooleanField(help_text="Every part was looked at.")
    faults = models.PositiveIntegerField()
    words = models.TextField(blank=True, help_text="The first thing that differs.")

    class Meta:
        ordering = ["-at", "-pk"]
        get_latest_by = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(since__gte=0, since__lte=F("size")), name="verified_from_before_its_end"
            ),
        ]

    def __str__(self) -> str:
        return f"verified at {self.at:%Y-%m-%d %H:%M}"


class Paper(Recorded):
    """A paper as it was given out: what it states, and the SHA-256 of its file.

    Whoever has it in hand asks by its code whether it is true, and whether it still is.
    """

    code = models.CharField(max_length=19, unique=True)
    kind = models.CharField(max_length=30)
    subject = models.CharField(max_length=120, help_text="What it is of, by the keys of records.")
    document = models.TextField(help_text="What it states, as attached to it.")
    hash = models.CharField(max_length=64, help_text="SHA-256 of the document.")
    file_hash = models.CharField(max_length=64, help_text="SHA-256 of the file as given out.")

    class Meta:
        indexes = [models.Index(fields=["file_hash"], name="paper_by_its_file")]
        verbose_name = "paper given out"
        verbose_name_plural = "papers given out"
        ordering = ["-recorded_at", "-pk"]

    def __str__(self) -> str:
        return f"paper {self.code}"

    @property
    def contents(self) -> dict[str, Any]:
        """What its document says."""
        found: dict[str, Any] = json.loads(self.document)
        return found
