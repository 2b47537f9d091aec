from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from fleet.dates import day_words
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
