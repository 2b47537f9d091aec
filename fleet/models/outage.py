from __future__ import annotations

from datetime import datetime
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from fleet.dates import day_words, moment_words
from fleet.models.machine import MachineSort, OfOneMachine, OfOneMachineQuerySet
from fleet.models.recorded import Recorded


class OutOfServiceQuerySet(OfOneMachineQuerySet["OutOfService"]):
    """Times out of service, by whether the machine came back."""

    def open(self) -> Self:
        """Those that go on: the machine was not released."""
        return self.filter(released_at__isnull=True)

    def ended(self) -> Self:
        """Those after which the machine was released."""
        return self.filter(released_at__isnull=False)


class OutOfService(Recorded, OfOneMachine):
    """A machine pulled out of service: since when, why, and how it came back.

    A unit is out of service where any of its machines is.
    """

    since = models.DateTimeField()
    reason = models.CharField(max_length=200)
    released_at = models.DateTimeField(null=True)
    released_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )
    release_reason = models.CharField(max_length=200, blank=True)
    qualified_person = models.CharField(
        max_length=80, blank=True, help_text="Who, being qualified to, found it fit to go out."
    )

    qualification = models.ForeignKey(
        "fleet.Qualification",
        models.PROTECT,
        null=True,
        related_name="releases",
        help_text="By which that person was qualified; of older releases only the words stand.",
    )

    objects = OutOfServiceQuerySet.as_manager()

    class Meta:
        default_related_name = "times_out_of_service"
        ordering = ["-since", "-pk"]
        verbose_name = "time out of service"
        verbose_name_plural = "times out of service"
        constraints = [
            *OfOneMachine.Meta.constraints,
            *(
                models.UniqueConstraint(
                    name=f"{sort.column}_out_of_service_once_at_a_time",
                    fields=[sort.column],
                    condition=Q(released_at__isnull=True),
                )
                for sort in MachineSort
            ),
            models.CheckConstraint(name="out_of_service_for_a_reason", condition=~Q(reason="")),
            models.CheckConstraint(
                name="released_by_somebody_for_a_reason",
                condition=Q(released_at__isnull=True, released_by__isnull=True, release_reason="")
                | (
                    Q(released_at__gte=F("since"), released_by__isnull=False)
                    & ~Q(release_reason="")
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.machine} out of service since {day_words(self.since)}: {self.reason}"

    def since_known_at(self, moment: datetime) -> datetime | None:
        """Return since when it was out, by what was known at a moment; None before it was known."""
        if moment < self.recorded_at:
            return None
        known = self.since
        for each in sorted(self.reaches.all(), key=lambda each: each.pk, reverse=True):
            if moment < each.recorded_at:
                known = each.before
        return known

    @property
    def reached_back_words(self) -> str:
        """Say when it became known that it began earlier, "" where it always was."""
        return "; ".join(
            f"known since {moment_words(each.recorded_at)}, until then from "
            f"{moment_words(each.before)} on"
            for each in self.reaches.all()
        )


class OutageReach(Recorded):
    """That a time out of service began earlier than was known, found by a later record.

    Never edited: when it was so, and when it became known. before: since when, as known until then.
    """

    outage = models.ForeignKey(OutOfService, models.PROTECT, related_name="reaches")
    before = models.DateTimeField()
    since = models.DateTimeField()
    because = models.CharField("what showed it", max_length=200)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                name="outage_reaches_further_back", condition=Q(since__lt=F("before"))
            ),
        ]

    def __str__(self) -> str:
        return f"{self.outage} reaches back to {moment_words(self.since)}"
