from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from fleet.models.recorded import Recorded


class What(models.TextChoices):
    """What may be proposed, and is recorded once a second person confirms it."""

    LISTING = "listing", "a listing"
    POLICY = "policy", "a change of the policy"
    LOT = "lot", "a correction of a lot"
    BENCH_TEST = "bench test", "a correction of a bench test"
    PROOF_PULL = "proof pull", "a correction of a proof pull"
    GUIDE = "guide", "a correction of a guide"
    INSPECTION = "inspection", "a correction of an inspection"
    GAUGE = "gauge", "a correction of a gauge’s certificate"
    CHECK = "check", "a correction of a reference check"
    RELEASE = "release", "a release to service"
    HOURS = "hours", "a correction of a reading of hours"
    PULL = "pull", "a correction of a pull"
    FOREIGN = "foreign", "a correction of a check of a hammer that is not ours"
    LETTING_GO = "letting go", "letting go of files past their time"
    WITHDRAWAL = "withdrawal", "withdrawing a rating so that one before it rates again"


class ProposalQuerySet(models.QuerySet["Proposal"]):
    """Proposals, by whether somebody has answered them."""

    def open(self) -> Self:
        """Those nobody has confirmed or turned down."""
        return self.filter(answer__isnull=True)


class Proposal(Recorded):
    """Something that one person would record and another is to confirm.

    payload: the arguments of its recording function, as canonical JSON. facts: what it rests on
    as it stood when proposed, by what it is called. about: the record it is of, as
    "fleet.hammer:3". details: what it would record beside what was on record, in pairs of words
    by system of units; none of one proposed before these were kept.
    """

    what = models.CharField(max_length=12, choices=What)
    title = models.CharField("what it would record", max_length=300)
    about = models.CharField(max_length=60, db_index=True)
    payload = models.TextField()
    details = models.JSONField(default=dict)
    facts = models.JSONField(default=dict)
    why = models.CharField(max_length=300, help_text="For whoever is to confirm it.")

    objects = ProposalQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="proposal_of_something_known", condition=Q(what__in=What.values)
            ),
            models.CheckConstraint(name="proposal_says_why", condition=~Q(why="")),
        ]

    def __str__(self) -> str:
        return f"proposal {self.pk}"


class ProposalAnswer(Recorded):
    """A second person's word on a proposal: it was recorded, or it was turned down and why.

    cause, record: of a confirmed one, what it recorded, as ledger entries name their cause.
    """

    proposal = models.OneToOneField(Proposal, models.PROTECT, related_name="answer")
    proposed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    is_confirmed = models.BooleanField()
    reason = models.CharField("why it is turned down", max_length=300, blank=True)
    cause = models.CharField(max_length=24, blank=True)
    record = models.BigIntegerField(null=True)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(name="proposal_answer_of", fields=["cause", "record"])]
        constraints = [
            models.CheckConstraint(
                name="proposal_confirmed_by_another",
                condition=Q(is_confirmed=False) | ~Q(recorded_by=F("proposed_by")),
            ),
            models.CheckConstraint(
                name="proposal_turned_down_for_a_reason",
                condition=Q(is_confirmed=True, reason="") | (Q(is_confirmed=False) & ~Q(reason="")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.proposal} {'confirmed' if self.is_confirmed else 'turned down'}"
