from __future__ import annotations

import uuid
from typing import TYPE_CHECKING, Any

from django.db import models
from django.db.models import Q

from fleet.models.recorded import Recorded

if TYPE_CHECKING:
    from inspections.models.repair import RepairOrder

GOALS = [
    ("fewest", "the fewest pads"),
    ("cheapest", "the least cost"),
    ("ready", "most units ready for committed jobs"),
]

GOAL_WORDS = dict(GOALS) | {"ready": "most units ready for the committed jobs"}


class RestorePlanQuerySet(models.QuerySet["RestorePlan"]):
    """Plans kept."""

    def of_order(self, order: RepairOrder) -> RestorePlan | None:
        """Return the plan by which a repair was ordered; None where by none."""
        if order.housing_id is None:
            return None
        kept = self.filter(recorded_at__lte=order.recorded_at).defer("document", "basis")
        ids = ((each, each.order_id(order.housing_id)) for each in kept)
        return next((each for each, key in ids if key == order.submission_id), None)


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

    objects = RestorePlanQuerySet.as_manager()

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

    @property
    def goal_words(self) -> str:
        """What it is best at."""
        return GOAL_WORDS[self.goal]

    def __str__(self) -> str:
        return f"restoring plan {self.pk}"

    def places(self, housing_id: int) -> set[tuple[str, int, int]]:
        """Where it fits which lot in a unit: (side, number, key of the lot) each."""
        return {
            (at["side"], at["number"], at["lot_id"])
            for unit in self.document["units"]
            if unit["housing"] == housing_id
            for at in unit["placed"]
        }

    def order_id(self, housing_id: int) -> uuid.UUID:
        """The submission of the repair order that this plan gives for a unit."""
        return uuid.uuid5(self.submission_id, f"order for {housing_id}")
