from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import F, Q

from fleet.models.measured_fields import MeasuredField
from fleet.models.recorded import Recorded

DAYS_OF_WEEK = 7
HOURS_OF_DAY, HOURS_OF_WEEK = 24.0, 168.0


class PlannedHours(Recorded):
    """How much a unit is to work from one day to another, both included. Never edited.

    Of two that hold for a day the one recorded last counts. hours: for each day, or each week.
    """

    class Per(models.TextChoices):
        DAY = "day", "a day"
        WEEK = "week", "a week"

    housing = models.ForeignKey(
        "fleet.SuppressorHousing", models.PROTECT, related_name="planned_hours"
    )
    first_day = models.DateField("from")
    last_day = models.DateField("to", help_text="This day included.")
    hours = MeasuredField(
        "hours it is to work",
        least=0,
        most=HOURS_OF_WEEK,
        example="30",
        help_text="As its hour meter counts them, not hours on the job.",
    )
    per = models.CharField("for each", max_length=4, choices=Per, default=Per.WEEK)
    reason = models.CharField(
        "how it is known", max_length=200, help_text="The job, the contract, or who said so."
    )

    class Meta:
        ordering = ["-pk"]
        verbose_name_plural = "planned hours"
        constraints = [
            models.CheckConstraint(
                name="planned_hours_end_after_they_begin",
                condition=Q(last_day__gte=F("first_day")),
            ),
            models.CheckConstraint(
                name="planned_hours_possible",
                condition=Q(per="day", hours__range=(0, HOURS_OF_DAY))
                | Q(per="week", hours__range=(0, HOURS_OF_WEEK)),
            ),
            models.CheckConstraint(name="planned_hours_known_somehow", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.hours:g} h {self.get_per_display()} for {self.housing}"

    @property
    def hours_a_day(self) -> float:
        """Hours for each of its days."""
        hours: float = self.hours
        return hours if self.per == self.Per.DAY else hours / DAYS_OF_WEEK


class Forecast(Recorded):
    """How a unit was forecast to stand, kept as it was made. Never edited, and every one counts.

    made_on: the day it looks ahead from. month: of one the daily job kept, its first day; None of
    one a person kept. entry: the head of the unit's ledger then. document: what it says, see
    inspections.forecast.forecasting; basis: what it rests on, by which it goes stale; digest:
    SHA-256 of that.
    """

    housing = models.ForeignKey("fleet.SuppressorHousing", models.PROTECT, related_name="forecasts")
    made_on = models.DateField()
    month = models.DateField(null=True)
    entry = models.ForeignKey("ratings.LedgerEntry", models.PROTECT, related_name="+")
    document: models.JSONField[Any, Any] = models.JSONField()
    basis: models.JSONField[Any, Any] = models.JSONField()
    digest = models.CharField(max_length=64)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                name="forecast_by_the_job_once_a_month",
                fields=["housing", "month"],
                condition=Q(month__isnull=False),
            ),
            models.UniqueConstraint(
                name="forecast_kept_once_a_day_for_one_basis",
                fields=["housing", "made_on", "digest"],
            ),
        ]

    def __str__(self) -> str:
        return f"forecast {self.pk} of {self.housing}"


class ForecastReplay(Recorded):
    """Forecasts made again as of past days, from what was on record by then. Never edited.

    document: each with what came of it, see inspections.forecast.replay.
    """

    document: models.JSONField[Any, Any] = models.JSONField()

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"replay {self.pk}"
