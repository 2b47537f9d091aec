"""How many pads the yard draws from service each year to watch a lot."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from django.db import models
from django.db.models import Q
from django.utils import timezone

from fleet.models.measured_fields import CountField
from fleet.models.recorded import Recorded

MOST_PADS_A_YEAR = 40


@dataclass(frozen=True)
class PlanInForce:
    """How many pads of a lot are drawn from service each year.

    since: from when so many, or more, are asked for without a break. is_own: said of this lot,
    not of all. pads_a_year: 0 where none are to be drawn.
    """

    pads_a_year: int
    since: date
    is_own: bool
    reason: str


class SurveillancePlanQuerySet(models.QuerySet["SurveillancePlan"]):
    """Plans, by what they ask for now."""

    def for_all(self) -> SurveillancePlan | None:
        """The plan for all lots that have none of their own; None before the first."""
        return self.filter(lot__isnull=True).first()

    def in_force_by_lot(self, lot_ids: Collection[int]) -> dict[int, PlanInForce]:
        """The plan of each lot that has one, by the lot's key. One query."""
        rows = list(self.filter(Q(lot__isnull=True) | Q(lot__in=lot_ids)).order_by("pk"))
        found = {pk: _in_force(rows, pk) for pk in lot_ids}
        return {pk: plan for pk, plan in found.items() if plan is not None}


def _in_force(rows: list[SurveillancePlan], lot_id: int) -> PlanInForce | None:
    """Read the rows in the order they came into force; the last that says a number holds."""
    of_lot: SurveillancePlan | None = None
    of_all: SurveillancePlan | None = None
    steps: list[tuple[date, SurveillancePlan | None]] = []
    for row in rows:
        if row.lot_id is None:
            of_all = row
        elif row.lot_id == lot_id:
            # A lot whose plan says no number follows the one for all again.
            of_lot = row if row.pads_a_year is not None else None
        else:
            continue
        steps.append((timezone.localtime(row.recorded_at).date(), of_lot or of_all))
    if not steps or (last := steps[-1][1]) is None:
        return None
    asked = last.pads_a_year or 0
    since = steps[-1][0]
    # So that saying the same again, or more, puts off nothing.
    for day, row_then in reversed(steps):
        if row_then is None or (row_then.pads_a_year or 0) < asked:
            break
        since = day
    return PlanInForce(asked, since, last.lot_id is not None, last.reason)


class SurveillancePlan(Recorded):
    """How many pads of a lot, or of each lot, are drawn from service a year. Never edited.

    The newest of a lot holds, and before the first, or where it says no number, that for all.
    """

    lot = models.ForeignKey(
        "fleet.PadLot", models.PROTECT, null=True, related_name="surveillance_plans"
    )
    pads_a_year = CountField(
        "pads to draw from service a year",
        least=0,
        most=MOST_PADS_A_YEAR,
        example="4",
        null=True,
        help_text="0 where none are to be drawn.",
    )
    reason = models.CharField("why", max_length=200)

    objects = SurveillancePlanQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="surveillance_plan_in_range",
                condition=Q(pads_a_year__isnull=True) | Q(pads_a_year__lte=MOST_PADS_A_YEAR),
            ),
            models.CheckConstraint(
                name="surveillance_plan_for_all_says_how_many",
                condition=Q(lot__isnull=False) | Q(pads_a_year__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"surveillance plan {self.pk}"
