"""A question about a past day: what was so, and what was known.

Facts bear the time they happened and the time they were recorded. What was so at a moment is told
by all that had happened by then, whenever it was recorded; what was known, by what was on record.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Q
from django.utils import timezone


@dataclass(frozen=True)
class AsOf:
    """A moment asked about, and a moment after which nothing that was recorded counts.

    What was known at a moment has both alike. known_by is never before at.
    """

    at: datetime
    known_by: datetime

    @property
    def day(self) -> date:
        """The day of the moment, where the yard is."""
        return timezone.localdate(self.at)

    @property
    def as_known_then(self) -> AsOf:
        """The same moment, by what was on record at it."""
        return AsOf(self.at, self.at)

    @property
    def is_as_known_then(self) -> bool:
        """Whether nothing recorded after the moment itself counts."""
        return self.known_by <= self.at

    def stood(self, happened: str, way: str = "") -> Q:
        """Return that a fact had happened, was known, and not known to be corrected.

        happened: its field of when it did. way: from what is asked to the fact, such as
        "inspections__".
        """
        corrected = Q(**{f"{way}corrected_by__isnull": True})
        corrected |= Q(**{f"{way}corrected_by__recorded_at__gt": self.known_by})
        return corrected & Q(
            **{
                f"{way}{happened}__lte": self.at,
                f"{way}recorded_at__lte": self.known_by,
            }
        )

    def came_late(self, happened: str, way: str = "") -> Q:
        """Return that a fact had happened by the moment and came on record only after it."""
        return Q(**{f"{way}{happened}__lte": self.at}) & self.recorded_since(way)

    def recorded_since(self, way: str = "") -> Q:
        """Return that something came on record after the moment, and counts."""
        recorded = f"{way}recorded_at"
        return Q(**{f"{recorded}__gt": self.at, f"{recorded}__lte": self.known_by})

    def holds(self, row: Any, begins: str, ends: str) -> bool:
        """Say whether something that lasts from one time to another holds at the moment."""
        begun, ended = getattr(row, begins), getattr(row, ends)
        return begun <= self.at and (ended is None or ended > self.at)
