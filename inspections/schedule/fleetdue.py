"""What is due at every unit, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from itertools import chain

from django.db.models import Max
from django.db.models.functions import Coalesce
from django.utils import timezone

from fleet.hours import Running, running_hours
from fleet.models import Hammer, Mounting, SuppressorHousing
from inspections.models import Inspection, InspectionKind
from inspections.schedule.due import Due, Last, due
from inspections.schedule.rows import Row, counting_kinds, rows_in_force


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


def due_of_fleet(housings: Iterable[SuppressorHousing] | None = None) -> list[UnitDue]:
    """Return what is due at the units given, at every one unless given; the worst first.

    A unit off its hammer is not run, so that hours don't count there.
    """
    day = timezone.localdate()
    listed = list(
        SuppressorHousing.objects.select_related("yard") if housings is None else housings
    )
    rows, lasts, hammers = rows_in_force(), _last_seen(listed), _hammers(listed)
    running = running_hours(hammer.pk for hammer in hammers.values())
    in_use = _in_use(listed, day)
    units = []
    for housing in listed:
        hammer = hammers.get(housing.pk)
        meter = running.get(hammer.pk) if hammer else None
        asked = [row for row in rows if not row.in_use_only or housing.pk in in_use]
        seen = lasts.get(housing.pk, [])
        kinds = [_due(row, seen, meter, day, is_mounted=hammer is not None) for row in asked]
        units.append(UnitDue(housing, hammer, tuple(sorted(kinds, key=_pressing))))
    return sorted(units, key=lambda unit: (*_worst(unit), unit.housing.mark))


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


def _last_seen(housings: list[SuppressorHousing]) -> dict[int, list[tuple[str, date]]]:
    """Return the day each kind was last made at each housing; a corrected one counts no more."""
    seen: dict[int, list[tuple[str, date]]] = {}
    made = (
        Inspection.objects.filter(
            housing__in=[housing.pk for housing in housings], corrected_by__isnull=True
        )
        .order_by()
        .values("housing_id", name=Coalesce("own_kind__name", "kind"))
        .annotate(last=Max("seen_at"))
        .values_list("housing_id", "name", "last")
    )
    for housing_id, kind, seen_at in chain(made, _last_counted(housings)):
        seen.setdefault(housing_id, []).append((kind, timezone.localtime(seen_at).date()))
    return seen


def _last_counted(housings: list[SuppressorHousing]) -> Iterator[tuple[int, str, datetime]]:
    """Yield when the pads of each housing were last counted: whatever its kind, it is a count."""
    counted = (
        Inspection.objects.filter(
            housing__in=[housing.pk for housing in housings],
            corrected_by__isnull=True,
            pads__isnull=False,
        )
        .order_by()
        .values("housing_id")
        .annotate(last=Max("seen_at"))
    )
    for row in counted:
        yield row["housing_id"], str(InspectionKind.PAD_COUNT), row["last"]


def _hammers(housings: list[SuppressorHousing]) -> dict[int, Hammer]:
    mountings = Mounting.objects.filter(
        housing__in=[housing.pk for housing in housings], removed_at__isnull=True
    ).select_related("hammer")
    return {mounting.housing_id: mounting.hammer for mounting in mountings}


def _in_use(housings: list[SuppressorHousing], day: date) -> set[int]:
    """Return the housings that a job holds on a day."""
    held = SuppressorHousing.objects.filter(
        pk__in=[housing.pk for housing in housings],
        commitments__released_at__isnull=True,
        commitments__first_day__lte=day,
        commitments__last_day__gte=day,
    )
    return set(held.values_list("pk", flat=True))


def _pressing(kind: Due) -> tuple[bool, bool, date]:
    return not kind.is_overdue, not kind.is_soon, kind.due_on or date.max


def _worst(unit: UnitDue) -> tuple[bool, bool, date]:
    return min((_pressing(kind) for kind in unit.kinds), default=(True, True, date.max))
