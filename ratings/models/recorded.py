from __future__ import annotations

from django.conf import settings
from django.db import models

from fleet import clock


class Recorded(models.Model):
    """A fact somebody put on record: never edited, corrected only by a later one."""

    recorded_at = models.DateTimeField(default=clock.now, editable=False)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    submission_id = models.UUIDField(
        unique=True, help_text="Made with the form: a second copy of it changes nothing."
    )

    class Meta:
        abstract = True
