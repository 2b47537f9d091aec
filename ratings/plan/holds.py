"""Commitments with the days their unit is on the way, and whether they are confirmed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from ratings.jobs.ahead import BEFORE_IT_GOES
from ratings.models import Commitment, CommitmentCondition, CommitmentConfirmation
from ratings.transport import Transport

DAY = timedelta(days=1)


@dataclass(frozen=True)
class Hold:
    """A commitment and its days on the way, before it and again after it.

    is_confirmed: False of one promised on what comes before the unit goes, and not confirmed yet.
    """

    commitment: Commitment
    days_on_the_way: int
    is_confirmed: bool

    @property
    def ways(self) -> list[tuple[date, date, str]]:
        """The first and the last day of the way there and of the way back, each with its word."""
        made, away = self.commitment, timedelta(days=self.days_on_the_way)
        if not away:
            return []
        return [
            (made.first_day - away, made.first_day - DAY, "there"),
            (made.last_day + DAY, made.last_day + away, "back"),
        ]


def holds_of(chosen: QuerySet[Commitment], transport: Transport) -> Iterator[Hold]:
    """Yield some commitments as holds, in a fixed number of queries."""
    mine = {"commitment": OuterRef("pk")}
    before_it_goes = Q(kind__in=BEFORE_IT_GOES) | Q(from_day__lte=OuterRef("first_day"))
    listed: Any = (
        chosen.select_related("job", "housing", "hammer")
        .prefetch_related("job__distances")
        .annotate(
            is_on_conditions=Exists(CommitmentCondition.objects.filter(before_it_goes, **mine)),
            is_confirmed=Exists(CommitmentConfirmation.objects.filter(**mine)),
        )
    )
    for each in listed:
        haul_mi = transport.haul_mi(each.housing.yard_id, each.job.distances_mi)
        is_confirmed = each.is_confirmed or not each.is_on_conditions
        yield Hold(each, transport.days(haul_mi), is_confirmed)
