from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q


class HistoryRunQuerySet(models.QuerySet["HistoryRun"]):
    """Long histories being made, or made."""

    def going(self) -> Self:
        """Those still being made."""
        return self.filter(ended_at__isnull=True, work__ended_at__isnull=True, work__isnull=False)


class HistoryRun(models.Model):
    """A long history that somebody asked for: how far it is, and the file once it is made.

    It is no fact: what it prints stands in the record, and it goes after some days.
    """

    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    of = models.CharField(max_length=40, help_text="A unit, a machine, a yard or the fleet.")
    words = models.CharField(max_length=200, help_text="The same as people read it.")
    first = models.DateField(null=True)
    last = models.DateField(null=True)
    today = models.DateField(help_text="The day it is printed for.")
    system = models.CharField(max_length=2)
    total = models.PositiveIntegerField(help_text="Entries and inspections to be printed.")
    work = models.ForeignKey("fleet.LongWork", models.SET_NULL, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True)
    trouble = models.CharField(max_length=200, blank=True)
    pages = models.PositiveIntegerField(null=True)
    file = models.FileField(upload_to="histories/%Y/%m/", blank=True)

    objects = HistoryRunQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="history_run_ends_with_a_file_or_trouble",
                condition=Q(ended_at__isnull=True)
                | (~Q(trouble="") & Q(file=""))
                | (Q(trouble="") & ~Q(file="") & Q(pages__isnull=False)),
            ),
        ]

    def __str__(self) -> str:
        return f"history {self.pk} of {self.words}"

    @property
    def is_going(self) -> bool:
        return self.ended_at is None and self.work is not None and not self.work.is_over

    @property
    def done(self) -> int:
        """How many entries and inspections are printed."""
        return self.work.done if self.work is not None else 0
