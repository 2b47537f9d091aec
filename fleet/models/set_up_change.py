from __future__ import annotations

from typing import Self

from django.db import models
from django.db.models import Q

from fleet.models.recorded import Recorded


class SetUpChangeQuerySet(models.QuerySet["SetUpChange"]):
    """Changes of what the yard owns."""

    def of(self, record: models.Model) -> Self:
        """Those of one yard, machine or instrument."""
        return self.filter(record_model=record._meta.label, record_key=record.pk)


class SetUpChange(Recorded):
    """What somebody entered, changed, took out of use or brought back of what the yard owns.

    Never edited. changes: each field's value before and after, by the field's name, in the unit it
    is stored in; what names another record is kept by that record's name, as it was read then.
    """

    class Kind(models.TextChoices):
        ENTERED = "entered", "entered"
        CHANGED = "changed", "changed"
        RETIRED = "retired", "taken out of use"
        BROUGHT_BACK = "brought back", "brought back into use"

    record_model = models.CharField(max_length=60, help_text="Such as fleet.Hammer.")
    record_key = models.PositiveBigIntegerField()
    kind = models.CharField(max_length=12, choices=Kind)
    changes = models.JSONField(default=dict)
    reason = models.CharField("why", max_length=200, blank=True)

    objects = SetUpChangeQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["record_model", "record_key"], name="set_up_change_of")]
        constraints = [
            models.CheckConstraint(
                name="set_up_change_kind_known",
                condition=Q(kind__in=["entered", "changed", "retired", "brought back"]),
            ),
            models.CheckConstraint(
                name="set_up_change_for_a_reason",
                condition=Q(kind="entered") | ~Q(reason=""),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.record_model} {self.record_key} {self.kind}"
