from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet import clock
from fleet.models.recorded import Recorded


class ServiceSchedule(Recorded):
    """How often each kind of inspection is due, from this record on.

    rows: [{kind, days, hours, by_whom, basis, keep_months}]; days and hours may each be null, and
    whichever comes first counts. keep_months is null where it is kept for good.
    """

    rows = models.JSONField()
    reason = models.CharField(max_length=200)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"schedule {self.pk}: {self.reason}"


class CalendarFeed(models.Model):
    """A secret address of a calendar of what is due. Only its hash is kept."""

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.CASCADE, related_name="calendar_feeds"
    )
    secret_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(default=clock.now, editable=False)
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                name="one_calendar_feed_at_a_time",
                fields=["user"],
                condition=Q(revoked_at__isnull=True),
            ),
        ]

    def __str__(self) -> str:
        return f"calendar of {self.user}"
