"""What presses over the whole fleet, found by keys, so that only what is shown need be read.

It says the same as `due_of_fleet`, by the same facts and rules: of every unit, in the same order.
Kept while nothing is recorded and the day is the same, it makes a page of many units no longer to
wait for than one of few.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import NamedTuple

from fleet.models import (
    ClampFitting,
    MachineSort,
    Mounting,
    PowerPackConnection,
    SuppressorHousing,
)
from fleet.units import hammers_on_no_housing
from inspections.schedule.due import Due, Facts, Key, UnitDue, due_of_fleet

# Of what presses by what was found, and is not there any more as its unit is read.
CHANGED_JUST_NOW = "changed just now: open the page again"


class PressingKind(NamedTuple):
    """One kind that presses at one unit: enough to sort it, and to find it again.

    place: the most pressing is 0. housing: the key of the unit's, which it has, since of a spare
    nothing presses. mark: of the unit. last_day: date.min where it was never made.
    """

    place: int

    housing: int
    mark: str
    kind: str
    last_day: date
    by_whom: str
    is_overdue: bool


class ComingKind(NamedTuple):
    """The first kind that comes due at one unit after what presses there. mark: of the unit."""

    day: date
    kind: str
    mark: str
    housing: int | None


@dataclass(frozen=True)
class FleetDue:
    """What is overdue at all units, then what is due soon, the worst first: as due_of_fleet has it.

    many_units: how many there are, pressing or not. coming: of each unit what comes due after that.
    """

    pressing: tuple[PressingKind, ...]
    many_units: int
    coming: tuple[ComingKind, ...] = ()

    def asked(self, state: str, kind: str) -> tuple[PressingKind, ...]:
        """Return those alone of "overdue" or "soon", and of one kind; all unless any is given."""
        if not state and not kind:
            return self.pressing
        return tuple(
            each
            for each in self.pressing
            if state in ("", "overdue" if each.is_overdue else "soon") and kind in ("", each.kind)
        )

    def narrowed(self, housings: Collection[int]) -> FleetDue:
        """Return the same of the units of some housings alone."""
        keys = set(housings)
        return FleetDue(
            tuple(each for each in self.pressing if each.housing in keys),
            len(keys),
            tuple(each for each in self.coming if each.housing in keys),
        )

    @cached_property
    def in_order(self) -> int:
        """How many units have nothing that presses."""
        return self.many_units - len({each.housing for each in self.pressing})


def pressing_of_fleet() -> FleetDue:
    """Return what presses at every unit, found by keys: no record is read of what isn't shown.

    In a fixed number of queries.
    """
    units = _units_by_keys()
    keys: dict[MachineSort, set[int]] = {sort: set() for sort in MachineSort}
    for unit in units:
        for key in unit.machines:
            keys[key.sort].add(key.pk)
    facts = Facts(keys, is_narrow=False)
    found = []
    for unit in units:
        is_in_use, is_held = unit.hammer is not None, unit.housing in facts.held
        is_in_use = is_in_use and unit.housing is not None
        alike = tuple(
            facts.kinds_of(key, is_in_use=is_in_use, is_held=is_held)[0] for key in unit.machines
        )
        worst = facts.worst_of(alike)
        found.append((not is_in_use, worst.pressing, unit.mark, unit, worst))
    found.sort(key=lambda each: each[:3])
    pressing = (
        (unit.housing, unit.mark, kind)
        for is_overdue in (True, False)
        for *_, unit, worst in found
        if unit.housing is not None
        for kind in (worst.overdue if is_overdue else worst.soon)
    )
    return FleetDue(
        tuple(
            PressingKind(
                place,
                housing,
                mark,
                kind.row.kind,
                kind.last.day if kind.last else date.min,
                kind.row.by_whom,
                kind.is_overdue,
            )
            for place, (housing, mark, kind) in enumerate(pressing)
        ),
        len(units),
        tuple(
            ComingKind(due_on, kind.row.kind, unit.mark, unit.housing)
            for *_, unit, worst in found
            if (first := _first_to_come(worst.kinds)) is not None
            for due_on, kind in [first]
        ),
    )


def _first_to_come(kinds: Iterable[Due]) -> tuple[date, Due] | None:
    """Return the first kind that comes due and does not press yet, and its day."""
    coming = [
        (kind.due_on, kind)
        for kind in kinds
        if kind.due_on is not None and not (kind.is_overdue or kind.is_soon or kind.is_idle)
    ]
    return min(coming, key=lambda each: each[0], default=None)


class _UnitKeys(NamedTuple):
    """Which machines hang together, by their keys alone, and the mark of the unit."""

    housing: int | None
    hammer: int | None
    mark: str
    machines: tuple[Key, ...]


def _units_by_keys() -> list[_UnitKeys]:
    """Return which machines hang together today: of every unit, as due_of_fleet has them."""
    mounted = dict(Mounting.objects.current().order_by().values_list("housing", "hammer"))
    clamps = dict(ClampFitting.objects.current().order_by().values_list("hammer", "clamp"))
    packs = PowerPackConnection.objects.current().order_by()
    pack_on = dict(packs.values_list("hammer", "power_pack"))
    housings = SuppressorHousing.objects.in_use().order_by().values_list("pk", "mark")
    bare = hammers_on_no_housing().order_by().values_list("pk", "mark")
    found = []
    for housing, hammer, mark in (
        *((pk, mounted.get(pk), mark) for pk, mark in housings),
        *((None, pk, mark) for pk, mark in bare),
    ):
        # In the order of Hung.machines, by which the first of those that stand alike is named.
        keys = (
            (MachineSort.HAMMER, hammer),
            (MachineSort.HOUSING, housing),
            (MachineSort.CLAMP, clamps.get(hammer)),
            (MachineSort.POWER_PACK, pack_on.get(hammer)),
        )
        machines = tuple(Key(sort, pk) for sort, pk in keys if pk is not None)
        found.append(_UnitKeys(housing, hammer, mark, machines))
    return found


def with_units(shown: Collection[PressingKind]) -> dict[PressingKind, tuple[UnitDue, Due]]:
    """Return of some kinds that press the unit, and how the kind stands there, read now.

    In a fixed number of queries.
    """
    if not shown:
        return {}
    housings = SuppressorHousing.objects.filter(pk__in={each.housing for each in shown})
    units = due_of_fleet(list(housings.select_related("yard")))
    by_housing = {unit.housing.pk: unit for unit in units if unit.housing}
    found = {}
    for each in shown:
        unit = by_housing.get(each.housing)
        for kind in unit.kinds if unit else ():
            if unit and kind.row.kind == each.kind:
                found[each] = unit, kind
    return found
