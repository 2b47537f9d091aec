from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet import clock
from fleet.models.machine import OfOneMachine, OfOneMachineQuerySet


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

    objects = OfOneMachineQuerySet.as_manager()

    class Meta:
        default_related_name = "records_moved_here"
        ordering = ["-pk"]
        constraints = [
            *OfOneMachine.Meta.constraints,
            models.CheckConstraint(name="records_moved_for_a_reason", condition=~Q(why="")),
        ]

    def __str__(self) -> str:
        return f"records put to {self.machine} from {self.unit}"
