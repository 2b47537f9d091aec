from __future__ import annotations

from typing import Self, TypeVar

from django.conf import settings
from django.db import models

from fleet import clock

Fact = TypeVar("Fact", bound=models.Model)


class CorrectableQuerySet(models.QuerySet[Fact]):
    """Facts of which a later one may say that it puts an earlier one right."""

    def standing(self) -> Self:
        """Those that nothing corrects."""
        return self.filter(corrected_by__isnull=True)


class RecordedBy(models.Model):
    """Something somebody recorded: who, and when, however long after it happened."""

    recorded_at = models.DateTimeField(default=clock.now, editable=False)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        abstract = True


class Recorded(RecordedBy):
    """A fact somebody recorded with a form: corrected only by a later one.

    Its table is append-only, but for a time out of service, into which its release is written.
    """

    submission_id = models.UUIDField(
        unique=True, help_text="Made with the form: a second copy of it changes nothing."
    )

    class Meta:
        abstract = True
