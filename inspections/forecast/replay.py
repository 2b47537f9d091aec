"""Forecasts made again as of past days, from what was on record by then, held to what came."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Min
from django.utils import timezone

from fleet import clock
from fleet.people.yards import in_every_yard
from inspections.forecast.came import Past, came_record, pasts, what_came
from inspections.forecast.forecasting import forecasts_of, housings_in_use
from inspections.models import ForecastReplay
from ratings.models import LedgerEntry

# Nothing is made again of days further back.
MOST_MONTHS = 36


@dataclass(frozen=True)
class Row:
    """One day of one forecast made again: what it said, and what came."""

    mark: str
    housing_id: int
    made_on: date
    days: int
    short: float
    expected: float
    low: int
    high: int
    is_short_at_once: bool
    came: dict[str, Any] | str

    @property
    def is_short(self) -> bool | None:
        """Whether it came short; None where that can't be told."""
        if isinstance(self.came, str) or self.came["standing"] is None:
            return None
        return bool(self.came["standing"] != "meets listing")


def months_of_record(until: datetime, most: int = MOST_MONTHS) -> list[datetime]:
    """Return the last moment of each month since the ledger began, the latest ones."""
    begun = LedgerEntry.objects.aggregate(first=Min("recorded_at"))["first"]
    if begun is None:
        return []
    month = timezone.localtime(begun).date().replace(day=1)
    found: list[datetime] = []
    while True:
        month = (month + timedelta(days=32)).replace(day=1)
        end = timezone.make_aware(datetime.combine(month - timedelta(days=1), time.max))
        if end >= until:
            return found[-most:]
        found.append(end)


def replayed(months: Sequence[datetime]) -> list[Row]:
    """Return the forecasts of every unit as of some moments, each with what came."""
    said: list[tuple[Past, date]] = []
    for at in months:
        day = timezone.localtime(at).date()
        for key, made in forecasts_of(housings_in_use(day), at, with_count=False).items():
            if made.can_be and made.entry is not None:
                said += [(past, day) for past in pasts(made.document, key, at, made.entry.pk)]
    outcomes = what_came([past for past, _ in said])
    return [
        Row(
            past.mark,
            past.housing_id,
            day,
            past.days,
            past.short,
            past.expected,
            past.low,
            past.high,
            past.is_short_at_once,
            came if isinstance(came, str) else came_record(came),
        )
        for (past, day), came in zip(said, outcomes, strict=True)
    ]


@in_every_yard
@transaction.atomic
def keep_replay(*, submission_id: uuid.UUID, by: User) -> ForecastReplay:
    """Make the forecasts of past months again and keep them with what came.

    A second copy of a submission changes nothing.
    """
    known = ForecastReplay.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    rows = replayed(months_of_record(clock.now()))
    document = {
        "made_on": clock.today().isoformat(),
        "rows": [
            [
                row.mark,
                row.housing_id,
                row.made_on.isoformat(),
                row.days,
                row.short,
                row.expected,
                row.low,
                row.high,
                row.is_short_at_once,
                row.came,
            ]
            for row in rows
        ],
    }
    return ForecastReplay.objects.create(
        submission_id=submission_id, document=document, recorded_by=by
    )


def rows_of(replay: ForecastReplay) -> list[Row]:
    """Return the rows of a kept replay."""
    return [
        Row(mark, key, date.fromisoformat(day), *rest)
        for mark, key, day, *rest in replay.document["rows"]
    ]
