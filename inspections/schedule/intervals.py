"""How often each kind of inspection is due: the schedule a yard starts from, and edits."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from fleet import together
from fleet.as_of import AsOf
from fleet.dates import day_count_words
from fleet.questions import Question
from inspections.models import InspectionKind, OwnKind, ServiceSchedule

COMPETENT, QUALIFIED = "a competent person", "a qualified person"


@dataclass(frozen=True)
class Row:
    """When one kind is due.

    days, hours: after the last of its kind, whichever comes first; None where it doesn't count.
    in_use_only: due only on days a job holds the unit.
    basis: what it follows. keep_months: how long records must be kept, None for good.
    """

    kind: str
    days: int | None
    hours: float | None
    by_whom: str
    basis: str
    keep_months: int | None = None
    in_use_only: bool = False

    @property
    def interval_words(self) -> str:
        """Say how often, such as "31 days or 250 h"."""
        days = "" if self.days is None else day_count_words(self.days)
        hours = "" if self.hours is None else f"{self.hours:g} h"
        words = " or ".join(part for part in (days, hours) if part)
        return f"{words}, on days a job holds the unit" if self.in_use_only else words


# Read in the text: 29 CFR 1926.1412(e)(3), what a monthly record holds and its three months;
# WAC 296-155-620, a state's wording of 29 CFR 1926.603; ASME B30.20-2010, 20-1.3.1, on periodic
# inspections. Read in summaries: the rest of 1926.1412, the twelve months of (f) among it. From
# memory: B30.20's frequent inspections. The page says so, and asks for the text in force.
DEFAULT_ROWS = (
    Row(
        InspectionKind.SHIFT,
        1,
        None,
        COMPETENT,
        "29 CFR 1926.1412(d); 29 CFR 1926.603 as states word it (WAC 296-155-620)",
        None,
        in_use_only=True,
    ),
    Row(
        InspectionKind.MONTHLY,
        31,
        250.0,
        COMPETENT,
        "29 CFR 1926.1412(e), kept 3 months; ASME B30.20, frequent",
        3,
    ),
    Row(
        InspectionKind.YEARLY,
        365,
        None,
        QUALIFIED,
        "29 CFR 1926.1412(f), kept 12 months; ASME B30.20, periodic, in normal service",
        12,
    ),
)

# A fuller inspection is one of every lesser kind too.
ALSO_COUNTS: dict[str, tuple[str, ...]] = {
    InspectionKind.SHIFT: (
        InspectionKind.SHIFT,
        InspectionKind.BEFORE_EXTRACTION,
        InspectionKind.MONTHLY,
        InspectionKind.YEARLY,
    ),
    InspectionKind.MONTHLY: (InspectionKind.MONTHLY, InspectionKind.YEARLY),
}


def counting_kinds(kind: str) -> tuple[str, ...]:
    """Return the kinds of inspection that make one kind done."""
    return tuple(str(each) for each in ALSO_COUNTS.get(kind, (kind,)))


def rows_in_force() -> tuple[Row, ...]:
    """Return the schedule of the yard, the default where it has none of its own. Two queries."""
    return together.once("schedule", _rows_in_force)


_NEWEST = Question(lambda: ServiceSchedule.objects.all()[:1])


def _rows_in_force() -> tuple[Row, ...]:
    edition = _NEWEST.first()
    if edition is None:
        return DEFAULT_ROWS
    retired = set(OwnKind.objects.retired().values_list("name", flat=True))
    return tuple(Row(**row) for row in edition.rows if row["kind"] not in retired)


def rows_as_of(as_of: AsOf) -> tuple[Row, ...]:
    """Return the schedule that was in force at a past moment. Two queries."""
    edition = ServiceSchedule.objects.filter(recorded_at__lte=as_of.at).first()
    if edition is None:
        return DEFAULT_ROWS
    retired = OwnKind.objects.filter(retirement__retired_at__lte=as_of.at)
    names = set(retired.values_list("name", flat=True))
    return tuple(Row(**row) for row in edition.rows if row["kind"] not in names)


def rows_record(rows: tuple[Row, ...]) -> list[dict[str, Any]]:
    """Return rows as JSON values."""
    return [asdict(row) | {"kind": str(row.kind)} for row in rows]
