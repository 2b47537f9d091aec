"""Over which days a history is asked for, and what falls in them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q
from django.utils import timezone

from fleet.dates import day_words


@dataclass(frozen=True)
class Span:
    """From a day to a day, both included; each may be open. today: when it is asked."""

    first: date | None
    last: date | None
    today: date

    @property
    def begin(self) -> datetime | None:
        """The first moment of it, None where it has no first day."""
        return None if self.first is None else _midnight(self.first)

    @property
    def end(self) -> datetime:
        """The moment after it; after today where it has no last day."""
        return _midnight(min(self.last or self.today, self.today) + timedelta(days=1))

    @property
    def last_day(self) -> date:
        """The last day that is looked at: nothing was yet to be seen after today."""
        return min(self.last or self.today, self.today)

    @property
    def is_past(self) -> bool:
        """Whether it ends before today."""
        return self.last_day < self.today

    @property
    def words(self) -> str:
        if self.first is None:
            return f"from the first record to {day_words(self.last_day)}"
        return f"from {day_words(self.first)} to {day_words(self.last_day)}"

    def holds(self, field: str) -> Q:
        """Return that a moment falls in the span."""
        since = {} if self.begin is None else {f"{field}__gte": self.begin}
        return Q(**since, **{f"{field}__lt": self.end})

    def holds_either(self, happened: str, recorded: str) -> Q:
        """Return that something happened in the span, or was recorded in it."""
        return self.holds(happened) | self.holds(recorded)

    def meets(self, begun: str, ended: str) -> Q:
        """Return that what goes on from one moment to another, or still, meets the span."""
        asked = Q(**{f"{begun}__lt": self.end})
        if self.begin is not None:
            asked &= Q(**{f"{ended}__isnull": True}) | Q(**{f"{ended}__gte": self.begin})
        return asked

    def meets_days(self, first: str, last: str) -> Q:
        """Return the same of what goes on from one day to another; days ahead where it is open."""
        asked = Q()
        if self.last is not None:
            asked &= Q(**{f"{first}__lte": self.last_day})
        if self.first is not None:
            asked &= Q(**{f"{last}__gte": self.first})
        return asked


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time.min))
