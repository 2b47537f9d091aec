from __future__ import annotations

from datetime import datetime
from typing import Self, TypeVar

from django.conf import settings
from django.db import models

from fleet import clock
from fleet.as_of import AsOf

Fact = TypeVar("Fact", bound=models.Model)


class CorrectableQuerySet(models.QuerySet[Fact]):
    """Facts of which a later one may say that it puts an earlier one right."""

    def standing(self) -> Self:
        """Those that nothing corrects."""
        return self.filter(corrected_by__isnull=True)

    def known_by(self, moment: datetime) -> Self:
        """Those that stood by what was recorded by a moment."""
        if moment == clock.ANY:
            return self.standing()
        corrected = models.Q(corrected_by__recorded_at__lte=moment)
        return self.filter(recorded_at__lte=moment).exclude(corrected)

    def as_of(self, as_of: AsOf, happened: str) -> Self:
        """Those that had happened at a moment and stood, by what counts. happened: their field."""
        return self.filter(as_of.stood(happened))


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
