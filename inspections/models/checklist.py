from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models.recorded import Recorded
from inspections.models.inspection import Inspection
from inspections.models.kind import ONE_KIND, InspectionKind


class Checklist(Recorded):
    """What is looked at in one kind of inspection, from this record on.

    items: [{key, part, text}] in the order they are gone through; a key names the same item in
    every later edition. The last record of a kind is in force; a default stands in for none.
    """

    kind = models.CharField(max_length=20, choices=InspectionKind, blank=True)
    own_kind = models.ForeignKey(
        "inspections.OwnKind", models.PROTECT, null=True, related_name="checklists"
    )
    items = models.JSONField()
    reason = models.CharField(max_length=200)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(name="checklist_kind_known", condition=ONE_KIND),
        ]

    def __str__(self) -> str:
        return f"checklist {self.pk}: {self.kind_name}"

    @property
    def kind_name(self) -> str:
        return self.own_kind.name if self.own_kind else self.kind


class ItemAnswer(models.Model):
    """What was said of one item of a checklist in one inspection. Never edited."""

    class State(models.TextChoices):
        DONE = "done", "done"
        NOT_APPLICABLE = "not applicable", "not applicable"
        FINDING = "finding", "finding"
        NOT_SO = "not so", "not so"

    inspection = models.ForeignKey(Inspection, models.PROTECT, related_name="answers")
    place = models.PositiveSmallIntegerField()
    key = models.CharField(max_length=40)
    part = models.CharField(max_length=40)
    text = models.CharField(max_length=200, help_text="As it read that day.")
    state = models.CharField(max_length=16, choices=State)
    reason = models.CharField(max_length=200, blank=True, help_text="Why it does not apply.")

    class Meta:
        ordering = ["place"]
        constraints = [
            models.UniqueConstraint(name="item_answered_once", fields=["inspection", "key"]),
            models.CheckConstraint(
                name="item_state_known",
                condition=Q(state__in=["done", "not applicable", "finding", "not so"]),
            ),
            models.CheckConstraint(
                name="item_not_applicable_for_a_reason",
                condition=~Q(state="not applicable") | ~Q(reason=""),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part}: {self.state}"
