from __future__ import annotations

import json
import secrets
from datetime import date
from typing import Any, Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from fleet import clock
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


def crew_code() -> str:
    """Return a code nobody can guess: 128 random bits in 22 letters of an address."""
    return secrets.token_urlsafe(16)


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
    # Kept as it is, so that a sheet printed twice bears one code: all that whoever has it can
    # learn is whether the sheet holds.
    code = models.CharField(max_length=22, unique=True, default=crew_code, editable=False)

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

    @property
    def newest_answer(self) -> JobAnswer:
        """The answer its sheet is of: the last it was confirmed on, else the one promised on."""
        last = self.confirmations.last()
        return last.answer if last else self.answer


class ConditionKind(models.TextChoices):
    """What is to be done before a unit goes, or while it is held."""

    COUNT = "count", "count every pad and tape the travel"
    PADS = "pads", "fit pads"
    RATE = "rate", "approve a rate"
    CALIBRATION = "calibration", "calibrate the load indicator"
    SERVICE = "service", "release it to service"
    OTHER = "other", "something else"


class CommitmentCondition(Recorded):
    """What a commitment made ahead of time depends on. Never edited.

    It is met by what is on record, such as a full count on one of its days; what no record can
    show is met by a person who says so (ConditionMet).
    positions: [[side, number]] that get a pad of the lot.
    """

    commitment = models.ForeignKey(Commitment, models.PROTECT, related_name="conditions")
    kind = models.CharField(max_length=11, choices=ConditionKind)
    from_day = models.DateField()
    to_day = models.DateField()
    lot = models.ForeignKey("fleet.PadLot", models.PROTECT, null=True, related_name="+")
    positions = models.JSONField(default=list)
    indicator = models.ForeignKey(
        "ratings.LoadIndicator", models.PROTECT, null=True, related_name="+"
    )
    words = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["to_day", "pk"]
        constraints = [
            models.CheckConstraint(
                name="condition_ends_after_it_begins",
                condition=Q(to_day__gte=F("from_day")),
            ),
            models.CheckConstraint(
                name="condition_says_what_it_needs",
                condition=Q(kind__in=["count", "service"], lot__isnull=True, indicator__isnull=True)
                | Q(kind__in=["pads", "rate"], lot__isnull=False, indicator__isnull=True)
                | Q(kind="calibration", lot__isnull=True, indicator__isnull=False)
                | (Q(kind="other", lot__isnull=True, indicator__isnull=True) & ~Q(words="")),
            ),
        ]

    def __str__(self) -> str:
        return f"condition {self.pk} of {self.commitment}"


class ConditionMet(Recorded):
    """That a condition no record can show is met, and how somebody knows. Never edited."""

    condition = models.OneToOneField(CommitmentCondition, models.PROTECT, related_name="met")
    note = models.CharField("how it is known", max_length=200)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(name="condition_met_says_how", condition=~Q(note="")),
        ]

    def __str__(self) -> str:
        return f"condition {self.condition_id} met: {self.note}"


class CommitmentConfirmation(Recorded):
    """A commitment confirmed on a new answer, of which its sheet then is. Never edited."""

    commitment = models.ForeignKey(Commitment, models.PROTECT, related_name="confirmations")
    answer = models.OneToOneField(JobAnswer, models.PROTECT, related_name="confirmation")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"confirmation {self.pk} of {self.commitment}"


class CommitmentLetter(models.Model):
    """That whoever committed a unit was told how its commitment stands. Never edited.

    reasons: by their keys, why it fell; told once until it holds again. condition: coming due.
    """

    class Said(models.TextChoices):
        FELL = "fell", "it holds no more"
        HOLDS = "holds", "it holds again"
        DUE = "due", "a condition comes due"

    commitment = models.ForeignKey(Commitment, models.PROTECT, related_name="letters")
    said = models.CharField(max_length=5, choices=Said)
    reasons = models.JSONField(default=list)
    condition = models.ForeignKey(
        CommitmentCondition, models.PROTECT, null=True, related_name="letters"
    )
    address = models.EmailField(blank=True)
    sent_at = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                name="condition_told_due_once", fields=["condition"], condition=Q(said="due")
            ),
            models.CheckConstraint(
                name="letter_of_what_is_due_names_it",
                condition=Q(said="due", condition__isnull=False)
                | Q(said__in=["fell", "holds"], condition__isnull=True),
            ),
        ]

    def __str__(self) -> str:
        return f"letter {self.pk} about {self.commitment}: {self.get_said_display()}"
