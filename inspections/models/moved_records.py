from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet import clock
from fleet.models.machine import OfOneMachine, OfOneMachineQuerySet
from fleet.units import unit_of


class MovedRecordsQuerySet(OfOneMachineQuerySet["MovedRecords"]):
    """Which records were put to their machine."""

    def of_unit(self, housing: models.Model) -> Self:
        """Those that had been kept at a unit, and those put to the machines it is of today."""
        hung = unit_of(housing).machines
        return self.filter(Q(unit=housing) | Q(pk__in=self.of_any(hung).values("pk")))


class MovedRecords(OfOneMachine):
    """Which records were put to a machine they belong to, from the unit they had been kept at.

    inspections, findings, outages: the keys of the records. recorded_by: None where an upgrade of
    the site put them there. Never edited.
    """

    unit = models.ForeignKey(
        "fleet.SuppressorHousing", models.PROTECT, related_name="records_moved_away"
    )
    inspections = models.JSONField(default=list)
    findings = models.JSONField(default=list)
    outages = models.JSONField(default=list)
    why = models.CharField(max_length=300)
    recorded_at = models.DateTimeField(default=clock.now, editable=False)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+"
    )

    objects = MovedRecordsQuerySet.as_manager()

    class Meta:
        default_related_name = "records_moved_here"
        ordering = ["-pk"]
        constraints = [
            *OfOneMachine.Meta.constraints,
            models.CheckConstraint(name="records_moved_for_a_reason", condition=~Q(why="")),
        ]

    def __str__(self) -> str:
        return f"records put to {self.machine} from {self.unit}"

    @property
    def words(self) -> str:
        """Say which records, by their numbers."""
        kinds = {
            "inspections": self.inspections,
            "findings": self.findings,
            "times out of service": self.outages,
        }
        return "; ".join(
            f"{kind} {', '.join(str(key) for key in keys)}" for kind, keys in kinds.items() if keys
        )
