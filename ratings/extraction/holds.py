"""What jobs hold which units on some days."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from fleet.dates import days_words
from ratings.models import Commitment


class Holds:
    """The commitments in force that overlap a span of days, both days included."""

    def __init__(self, first_day: date, last_day: date, leave_out_job: int | None = None) -> None:
        """Ask the database once. leave_out_job: whose commitments don't count."""
        self._by_housing: dict[int, list[Commitment]] = defaultdict(list)
        self._by_hammer: dict[int, list[Commitment]] = defaultdict(list)
        overlapping = Commitment.objects.filter(
            released_at__isnull=True, first_day__lte=last_day, last_day__gte=first_day
        ).select_related("job")
        for each in overlapping:
            if each.job_id != leave_out_job:
                self._by_housing[each.housing_id].append(each)
                self._by_hammer[each.hammer_id].append(each)

    def words(self, housing_id: int, hammer_id: int) -> str:
        """Return which jobs hold a housing or its hammer, and when; "" where none does.

        Either alone keeps the unit from going: the housing may have changed hammers since.
        """
        of_housing = self._by_housing.get(housing_id, [])
        of_hammer = [
            each for each in self._by_hammer.get(hammer_id, []) if each.housing_id != housing_id
        ]
        return "; ".join(_words(each) for each in (*of_housing, *of_hammer))


def _words(held: Commitment) -> str:
    return f"{held.job.site}, {days_words(held.first_day, held.last_day)}"
