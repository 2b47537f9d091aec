from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q

from fleet.models.recorded import Recorded


class ApiScope(models.TextChoices):
    """What a program may be let do."""

    READ = "read", "read everything"
    INSPECTIONS = "inspections", "sign inspections"
    TESTS = "tests", "record bench tests"
    HOURS = "hours", "record hours read off meters"
    PULLS = "pulls", "record how piles were pulled"


class ApiTokenQuerySet(models.QuerySet["ApiToken"]):
    """Tokens, with what tells how they stand."""

    def with_state(self) -> Self:
        """Those asked for, with who withdrew them and when they were last used."""
        return self.select_related("end__recorded_by", "use").prefetch_related(
            "recorded_by__changes_of_person", "recorded_by__groups"
        )


class ApiToken(Recorded):
    """A key by which a program acts for whoever made it, in one role and a few scopes.

    Never edited. The token itself is shown once, and only its hash is kept.
    """

    name = models.CharField(
        max_length=60, help_text="What uses it, such as: telematics of the cranes."
    )
    role = models.CharField(max_length=20)
    scopes = models.JSONField(help_text="What it may do: some of ApiScope.")
    expires_on = models.DateField("holds until", help_text="The last day on which it works.")
    begins = models.CharField(
        max_length=12, help_text="How it begins, so that one found lying about can be told."
    )
    token_hash = models.CharField(max_length=64, unique=True, help_text="SHA-256, in hex.")

    objects = ApiTokenQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(name="api_token_named", condition=~Q(name="")),
            models.CheckConstraint(
                name="api_token_role_known",
                condition=Q(role__in=["equipment manager", "dispatcher", "auditor"]),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ApiTokenEnd(Recorded):
    """A token works no more, from when this was recorded."""

    token = models.OneToOneField(ApiToken, models.PROTECT, related_name="end")
    reason = models.CharField("why it works no more", max_length=200)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(name="api_token_ended_for_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"withdrawn: {self.token}"


class ApiTokenUse(models.Model):
    """When a token was last used, to the minute: no fact, and kept with no other."""

    token = models.OneToOneField(ApiToken, models.CASCADE, related_name="use")
    used_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.token} used"


class ApiWrite(Recorded):
    """What a program recorded: by which token, what it sent, and what it was answered.

    submission_id: the Idempotency-Key it came with, by which the record is known too. Never
    edited: the same request again is answered from here.
    """

    token = models.ForeignKey(ApiToken, models.PROTECT, related_name="writes")
    path = models.CharField(max_length=80)
    body_hash = models.CharField(max_length=64, help_text="SHA-256 of what was sent, in hex.")
    record_model = models.CharField(max_length=60)
    record_key = models.BigIntegerField()
    answer = models.TextField(help_text="The JSON it was answered with.")

    class Meta:
        ordering = ["-pk"]
        indexes = [
            models.Index(name="api_write_of_record", fields=["record_model", "record_key"]),
        ]

    def __str__(self) -> str:
        return f"{self.record_model} {self.record_key} by token {self.token}"
