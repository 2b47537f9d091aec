from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q

from fleet.models.recorded import Recorded

GOALS = [
    ("fewest", "the fewest pads"),
    ("cheapest", "the least cost"),
    ("ready", "most units ready for committed jobs"),
]


class RestorePlan(Recorded):
    """A plan to bring short units to their listing, kept as it was made. Never edited.

    Of one housing, of a yard, or with neither of the whole fleet. document: what it does for each
    unit, see inspections.restoring.planning; basis: what it rests on, by which it goes stale.
    """

    goal = models.CharField("best at", max_length=8, choices=GOALS)
    housing = models.ForeignKey(
        "fleet.SuppressorHousing", models.PROTECT, null=True, related_name="restore_plans"
    )
    yard = models.ForeignKey("fleet.Yard", models.PROTECT, null=True, related_name="restore_plans")
    takes_from_units = models.BooleanField(default=False)
    buys = models.BooleanField(default=False)
    document: models.JSONField[Any, Any] = models.JSONField()
    basis: models.JSONField[Any, Any] = models.JSONField()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="restore_plan_goal_known",
                condition=Q(goal__in=["fewest", "cheapest", "ready"]),
            ),
            models.CheckConstraint(
                name="restore_plan_of_one_scope",
                condition=Q(housing__isnull=True) | Q(yard__isnull=True),
            ),
        ]

    def __str__(self) -> str:
        return f"restoring plan {self.pk}"
