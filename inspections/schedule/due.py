"""When one inspection of one unit is due: by days or by hours, whichever comes first."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import chain

from django.db.models import Case, Exists, IntegerField, Max, OuterRef, Q, QuerySet, Value, When
from django.db.models.functions import Coalesce
from django.utils import timezone

from fleet.dates import day_words
from fleet.hours import Running, running_hours
from fleet.models import Hammer, Mounting, SuppressorHousing
from inspections.models import Finding, Inspection, InspectionKind, PadCount, Severity
from inspections.schedule.intervals import Row, counting_kinds, rows_in_force
from ratings.models import Commitment

SOON_DAYS = 7
# Of the hours between: nobody knows beforehand how long a hammer runs in a week.
SOON_SHARE = 0.1


@dataclass(frozen=True)
class Last:
    """The last inspection that counts: its day, and the running hours of the hammer then."""

    day: date
    hours: float | None = None


@dataclass(frozen=True)
class Due:
    """How one kind stands at one unit.

    due_on: by days; today where it was never made. hours_left: by hours, None where the meter
    says nothing; is_unread where it should. last: None where it was never made. is_late: over its
    days, whatever its hours.
    """

    row: Row
    last: Last | None
    due_on: date | None
    hours_left: float | None
    is_overdue: bool
    is_soon: bool
    is_unread: bool = False
    is_late: bool = False

    @property
    def words(self) -> str:
        """Say how it stands, for a person."""
        if self.last is None:
            return "never made" if self.is_overdue else "not run: off its hammer"
        day = "" if self.due_on is None else f"due {day_words(self.due_on)}"
        left = self.hours_left
        if self.is_overdue:
            over = f"over by {abs(left):g} h" if left is not None and left <= 0 else ""
            return ", ".join(part for part in (over, day if self.is_late else "") if part)
        hours = "hours not known: read the meter" if self.is_unread else ""
        if left is not None:
            hours = f"{left:g} h left"
        return " or ".join(part for part in (day, hours) if part)


def due(
    row: Row, last: Last | None, hours: float | None, today: date, *, is_mounted: bool = True
) -> Due:
    """Return how one kind stands.

    hours: what the hammer has run by now, over all its meters. is_mounted: the unit hangs on a
    hammer, and so may run.
    Overdue the day after the interval ends, or once the hours are run; never made is overdue.
    What goes by hours alone is told as soon due where nobody read the meter.
    """
    if last is None:
        # By hours alone nothing comes due where nothing runs.
        is_asked = row.days is not None or is_mounted
        return Due(row, None, today if is_asked else None, None, is_asked, is_soon=False)
    due_on = None if row.days is None else last.day + timedelta(days=row.days)
    left = None
    if row.hours is not None and hours is not None and last.hours is not None:
        left = round(row.hours - (hours - last.hours), 1)
    is_unread = row.hours is not None and left is None and is_mounted
    is_late = due_on is not None and due_on < today
    is_over = is_late or (left is not None and left <= 0)
    is_soon = not is_over and (
        _is_soon_by_days(due_on, today)
        or _is_soon_by_hours(row, left)
        or (is_unread and due_on is None)
    )
    return Due(row, last, due_on, left, is_over, is_soon, is_unread, is_late)


def _is_soon_by_days(due_on: date | None, today: date) -> bool:
    return due_on is not None and due_on <= today + timedelta(days=SOON_DAYS)


def _is_soon_by_hours(row: Row, left: float | None) -> bool:
    return left is not None and row.hours is not None and left <= SOON_SHARE * row.hours


GRAVEST_FIRST = (Severity.DO_NOT_USE, Severity.REPAIR, Severity.MONITOR)


def findings_with_gravity(findings: QuerySet[Finding] | None = None) -> QuerySet[Finding]:
    """Return findings with all that is said of one, the gravest first, each by when to act."""
    gravity = Case(
        *(When(severity=each, then=Value(place)) for place, each in enumerate(GRAVEST_FIRST)),
        output_field=IntegerField(),
    )
    chosen = Finding.objects.all() if findings is None else findings
    return (
        chosen.annotate(gravity=gravity)
        .select_related("housing", "inspection__recorded_by", "closing__recorded_by")
        .prefetch_related("photos__held")
        .order_by("gravity", "act_by", "pk")
    )


def open_findings() -> QuerySet[Finding]:
    """Return the findings still open, the gravest first, of each kind those to act on first."""
    return findings_with_gravity(Finding.objects.open())


@dataclass(frozen=True)
class UnitDue:
    """All kinds of one unit, the most pressing first."""

    housing: SuppressorHousing
    hammer: Hammer | None
    kinds: tuple[Due, ...]

    @property
    def overdue(self) -> list[Due]:
        return [each for each in self.kinds if each.is_overdue]

    @property
    def soon(self) -> list[Due]:
        return [each for each in self.kinds if each.is_soon]


def due_of_fleet(
    housings: QuerySet[SuppressorHousing] | Collection[SuppressorHousing] | None = None,
) -> list[UnitDue]:
    """Return what is due at the units given, at every one unless given; the worst first.

    In a fixed number of queries, none of which names the units one by one where a query gives
    them. A unit off its hammer is not run, so that hours don't count there.
    """
    day = timezone.localdate()
    listed = list(
        SuppressorHousing.objects.in_use().select_related("yard") if housings is None else housings
    )
    which = _which(housings)
    rows, lasts, hammers = rows_in_force(), _last_seen(which), _hammers(which)
    running = running_hours(Mounting.objects.current().filter(which).order_by().values("hammer"))
    in_use = _in_use(which, day)
    units = []
    for housing in listed:
        hammer = hammers.get(housing.pk)
        meter = running.get(hammer.pk) if hammer else None
        asked = [row for row in rows if not row.in_use_only or housing.pk in in_use]
        seen = lasts.get(housing.pk, [])
        kinds = [_due(row, seen, meter, day, is_mounted=hammer is not None) for row in asked]
        units.append(UnitDue(housing, hammer, tuple(sorted(kinds, key=_pressing))))
    return sorted(units, key=lambda unit: (*_worst(unit), unit.housing.mark))


def _which(
    housings: QuerySet[SuppressorHousing] | Collection[SuppressorHousing] | None,
) -> Q:
    """Return what narrows a table of records to those of the housings given."""
    if housings is None:
        return Q()
    if isinstance(housings, QuerySet):
        return Q(housing__in=housings.order_by().values("pk"))
    return Q(housing__in=[housing.pk for housing in housings])


def _due(
    row: Row, seen: list[tuple[str, date]], meter: Running | None, day: date, *, is_mounted: bool
) -> Due:
    kinds = counting_kinds(row.kind)
    last = max((on for kind, on in seen if kind in kinds), default=None)
    if last is None:
        return due(row, None, None, day)
    made = Last(last, meter.at(last) if meter else None)
    return due(row, made, _now(meter), day, is_mounted=is_mounted)


def _now(meter: Running | None) -> float | None:
    return meter.now if meter else None


def _last_seen(which: Q) -> dict[int, list[tuple[str, date]]]:
    """Return the day each kind was last made at each housing; a corrected one counts no more."""
    seen: dict[int, list[tuple[str, date]]] = {}
    made = (
        Inspection.objects.standing()
        .filter(which)
        .order_by()
        .values("housing_id", name=Coalesce("own_kind__name", "kind"))
        .annotate(last=Max("seen_at"))
        .values_list("housing_id", "name", "last")
    )
    for housing_id, kind, seen_at in chain(made, _last_counted(which)):
        seen.setdefault(housing_id, []).append((kind, timezone.localtime(seen_at).date()))
    return seen


def _last_counted(which: Q) -> Iterator[tuple[int, str, datetime]]:
    """Yield when the pads of each housing were last counted: whatever its kind, it is a count."""
    counted = (
        Inspection.objects.standing()
        .filter(which, Exists(PadCount.objects.filter(inspection=OuterRef("pk"))))
        .order_by()
        .values("housing_id")
        .annotate(last=Max("seen_at"))
    )
    for row in counted:
        yield row["housing_id"], str(InspectionKind.PAD_COUNT), row["last"]


def _hammers(which: Q) -> dict[int, Hammer]:
    mountings = Mounting.objects.current().filter(which).select_related("hammer")
    return {
        mounting.housing_id: mounting.hammer
        for mounting in mountings.only("housing", "hammer__mark")
    }


def _in_use(which: Q, day: date) -> set[int]:
    """Return the housings that a job holds on a day."""
    held = Commitment.objects.overlapping(day, day).filter(which)
    return set(held.order_by().values_list("housing", flat=True))


def _pressing(kind: Due) -> tuple[bool, bool, date]:
    return not kind.is_overdue, not kind.is_soon, kind.due_on or date.max


def _worst(unit: UnitDue) -> tuple[bool, bool, date]:
    return min((_pressing(kind) for kind in unit.kinds), default=(True, True, date.max))
