from __future__ import annotations

import json
from datetime import date
from typing import Any, Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from fleet.models.recorded import Recorded


class JobAnswer(Recorded):
    """The answer a unit was committed on. Never edited; recomputable from its document alone.

    document: canonical JSON (RFC 8785) of the job, the unit, the policy and the verdict.
    hash: SHA-256 of that text. entry: the ledger entry of the rating it used.
    """

    job = models.ForeignKey("ratings.ExtractionJob", models.PROTECT, related_name="answers")
    housing = models.ForeignKey("fleet.SuppressorHousing", models.PROTECT, related_name="+")
    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, related_name="+")
    entry = models.ForeignKey("ratings.LedgerEntry", models.PROTECT, related_name="answers")
    verdict = models.CharField(max_length=20)
    document = models.TextField()
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"answer {self.pk}: {self.housing} for {self.job}"

    @property
    def contents(self) -> dict[str, Any]:
        contents: dict[str, Any] = json.loads(self.document)
        return contents


class CommitmentQuerySet(models.QuerySet["Commitment"]):
    """Commitments, by whether and when they hold a unit."""

    def in_force(self) -> Self:
        """Those not released."""
        return self.filter(released_at__isnull=True)

    def overlapping(self, first_day: date, last_day: date) -> Self:
        """Those that hold a unit on any of some days, both ends included."""
        return self.in_force().filter(first_day__lte=last_day, last_day__gte=first_day)

    def not_over(self, today: date) -> Self:
        """Those that hold a unit today or will."""
        return self.in_force().filter(last_day__gte=today)


class Commitment(models.Model):
    """A unit held by a job from one day to another, both days included.

    The database refuses two that overlap, of one housing or of one hammer, unless released.
    """

    answer = models.OneToOneField(JobAnswer, models.PROTECT, related_name="commitment")
    job = models.ForeignKey("ratings.ExtractionJob", models.PROTECT, related_name="commitments")
    housing = models.ForeignKey(
        "fleet.SuppressorHousing", models.PROTECT, related_name="commitments"
    )
    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, related_name="commitments")
    first_day = models.DateField()
    last_day = models.DateField()
    released_at = models.DateTimeField(null=True)
    released_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    release_reason = models.CharField(max_length=200, blank=True)

    objects = CommitmentQuerySet.as_manager()

    class Meta:
        ordering = ["first_day", "pk"]
        constraints = [
            models.CheckConstraint(
                name="commitment_ends_after_it_begins",
                condition=Q(last_day__gte=F("first_day")),
            ),
            models.CheckConstraint(
                name="commitment_released_by_somebody_for_a_reason",
                condition=Q(released_at__isnull=True, released_by__isnull=True, release_reason="")
                | (Q(released_at__isnull=False, released_by__isnull=False) & ~Q(release_reason="")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.housing} for {self.job}"

    @property
    def is_in_force(self) -> bool:
        return self.released_at is None
