from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.db import models
from django.utils import timezone

# A worker that was not heard of for so long has died, unless its machine says that it lives.
SILENT = timedelta(minutes=2)


class LongWork(models.Model):
    """Work longer than a request: waiting, taken up by a worker, or over.

    It is no fact: what it records it records as a request would, and its row goes after some days.
    """

    what = models.CharField(max_length=40, help_text="Which work, by the name it is known by.")
    about = models.CharField(
        max_length=100,
        blank=True,
        help_text="Of what no other such work may be under way; blank: of nothing in particular.",
    )
    arguments = models.JSONField()
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    asked_at = models.DateTimeField(default=timezone.now)
    worker = models.CharField(max_length=200, blank=True, help_text="Who took it up last.")
    times_begun = models.PositiveSmallIntegerField(default=0)
    heard_at = models.DateTimeField(null=True)
    done = models.PositiveIntegerField(default=0, help_text="How far it is, in its own count.")
    ended_at = models.DateTimeField(null=True)
    trouble = models.CharField(max_length=300, blank=True)
    result = models.JSONField(
        default=dict, help_text="What came of it, where it has no other place."
    )
    is_told = models.BooleanField(default=False, help_text="Whether who asked was told of it.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["what", "about"],
                condition=models.Q(ended_at=None) & ~models.Q(about=""),
                name="one_long_work_about_a_thing",
            )
        ]

    def __str__(self) -> str:
        return f"{self.what} {self.pk}"

    @property
    def is_over(self) -> bool:
        return self.ended_at is not None


class LongWorker(models.Model):
    """A process that does long work and nothing else, and when it was last heard of."""

    name = models.CharField(max_length=200, unique=True)
    heard_at = models.DateTimeField()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
