"""What hangs together: the hammer, housing, clamp and power pack that are a unit at a time."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from typing import Any, TypeVar

from django.contrib.auth.models import User
from django.db.models import Exists, OuterRef, QuerySet

from fleet import together
from fleet.as_of import AsOf
from fleet.journal.then import rows_known_by
from fleet.models import (
    Clamp,
    ClampFitting,
    Hammer,
    MachineSort,
    Mounting,
    PowerPack,
    PowerPackConnection,
    SuppressorHousing,
)
from fleet.models.machine import sort_of
from fleet.questions import Question

_SORTS = (MachineSort.HAMMER, MachineSort.HOUSING, MachineSort.CLAMP, MachineSort.POWER_PACK)


@dataclass(frozen=True)
class Hung:
    """The machines that hang together; None for each that there is none of."""

    hammer: Hammer | None = None
    housing: SuppressorHousing | None = None
    clamp: Clamp | None = None
    power_pack: PowerPack | None = None

    @property
    def columns(self) -> dict[str, Any]:
        """What a record of it holds in its columns."""
        return {sort.column: getattr(self, sort.column) for sort in MachineSort}

    @property
    def by_sort(self) -> dict[MachineSort, Any]:
        """The machines there are, by their sort."""
        of_sorts = (self.hammer, self.housing, self.clamp, self.power_pack)
        return {sort: each for sort, each in zip(_SORTS, of_sorts, strict=True) if each is not None}

    @property
    def machines(self) -> list[Any]:
        """The machines there are."""
        return list(self.by_sort.values())


def yards_apart(machine: Any, hammer: Hammer) -> str:
    """Return what is wrong where a machine is put on a hammer that stands in another yard."""
    if machine.yard_id == hammer.yard_id:
        return ""
    return (
        f"{sort_of(machine).label.capitalize()} {machine} stands in {machine.yard} by the record, "
        f"hammer {hammer} in {hammer.yard}. What hangs together is in one yard: record the "
        "transfer too, or put right which yard each is in."
    )


MODELS: dict[MachineSort, Any] = {
    MachineSort.HAMMER: Hammer,
    MachineSort.HOUSING: SuppressorHousing,
    MachineSort.CLAMP: Clamp,
    MachineSort.POWER_PACK: PowerPack,
}


def unit_of(machine: Any) -> Hung:
    """Return what a machine hangs together with today."""
    sort = sort_of(machine)
    if sort is MachineSort.HAMMER:
        return hung_on_hammer(machine)
    spans = machine.mountings if sort is MachineSort.HOUSING else machine.fittings
    span = spans.current().select_related("hammer__yard").first()
    if span is None:
        return Hung(**{sort.column: machine})
    return replace(hung_on_hammer(span.hammer), **{sort.column: machine})


def hung_on_housing(housing: SuppressorHousing, moment: datetime | None = None) -> Hung:
    """Return what hung together with a housing at a moment, today unless one is given."""
    mounting = _latest(Mounting, housing, "hammer", moment)
    if mounting is None:
        return Hung(housing=housing)
    return hung_on_hammer(mounting.hammer, moment, housing)


def hung_on_hammer(
    hammer: Hammer, moment: datetime | None = None, housing: SuppressorHousing | None = None
) -> Hung:
    """Return what hung together with a hammer at a moment, today unless one is given.

    housing: the one it hung on, where that is known already.
    """
    if housing is None:
        mounting = _latest(Mounting, hammer, "housing", moment)
        housing = mounting.housing if mounting else None
    fitting = _latest(ClampFitting, hammer, "clamp", moment)
    connection = _latest(PowerPackConnection, hammer, "power_pack", moment)
    return Hung(
        hammer,
        housing,
        fitting.clamp if fitting else None,
        connection.power_pack if connection else None,
    )


def _latest(model: Any, whose: Any, other: str, moment: datetime | None) -> Any:
    """Return the span of today or a moment, the one that began last, of one machine's spans.

    other: what it hung on then, or what hung on it, which is read too.
    """
    begun, sort = _begins(model), sort_of(whose).column
    if moment is None:
        return _of_today(model, sort, other).first(whose=whose)
    if not together.is_recording():
        return _of_a_moment(model, sort, other).first(whose=whose, moment=moment)
    key = ("spans", model, type(whose), whose.pk)
    found = together.once(key, lambda: _of_all_time(model, sort, other).ask(whose=whose))
    return next(
        (
            each
            for each in found
            if getattr(each, begun) <= moment
            and (each.removed_at is None or each.removed_at > moment)
        ),
        None,
    )


def _begins(model: Any) -> str:
    return "mounted_at" if model is Mounting else "fitted_at"


@cache
def _of_today(model: Any, sort: str, other: str) -> Question[Any]:
    return Question(lambda whose: _spans(model, sort, other, whose).current()[:1])


@cache
def _of_a_moment(model: Any, sort: str, other: str) -> Question[Any]:
    return Question(lambda whose, moment: _spans(model, sort, other, whose).at(moment)[:1])


@cache
def _of_all_time(model: Any, sort: str, other: str) -> Question[Any]:
    return Question(lambda whose: _spans(model, sort, other, whose))


def _spans(model: Any, sort: str, other: str, whose: Any) -> Any:
    spans = model.objects.filter(**{sort: whose}).select_related(other)
    return spans.order_by(f"-{_begins(model)}", "-pk")


def hammers_on_no_housing() -> QuerySet[Hammer]:
    """Return the hammers in use that hang on no housing of ours, and so have no line pull."""
    mounted = Mounting.objects.current().filter(hammer=OuterRef("pk"))
    return Hammer.objects.filter(~Exists(mounted), retired_on__isnull=True)


def put_to_machines_of_then(
    inspections: Any, *, by: User, why: str = "A move was recorded after they were."
) -> None:
    """Put inspections of units, and their findings, to what hung together when they were made.

    For those on record already when a mounting of their time is recorded. What is put elsewhere
    is posted at the machine it goes to. A meter reading stays with the meter it was recorded of.
    """
    for inspection in inspections.filter(housing__isnull=False).order_by("seen_at", "pk"):
        unit = inspection.housing
        hung = hung_on_housing(unit, inspection.seen_at)
        moved = {
            name: machine
            for name, machine in hung.columns.items()
            if name != "housing" and machine != getattr(inspection, name)
        }
        if not moved:
            continue
        before = {name: getattr(inspection, name) for name in moved}
        type(inspection).objects.filter(pk=inspection.pk).update(**moved)
        for name, machine in moved.items():
            found = inspection.findings.filter(**{name: before[name]}) if before[name] else None
            keys = list(found.values_list("pk", flat=True)) if found is not None else []
            if machine is None:
                continue
            if keys:
                inspection.findings.filter(pk__in=keys).update(**{name: machine})
            machine.records_moved_here.create(
                unit=unit, inspections=[inspection.pk], findings=keys, why=why, recorded_by=by
            )


Spanning = TypeVar("Spanning", Mounting, ClampFitting, PowerPackConnection)


def spans_as_of(model: type[Spanning], as_of: AsOf) -> list[Spanning]:
    """Return what hung on what at a moment, the one that began last coming last. One query."""
    begins = _begins(model)
    rows = rows_known_by(model, as_of.known_by, begins, "removed_at")
    return [each for each in rows if as_of.holds(each, begins, "removed_at")]


def hung_as_of(as_of: AsOf) -> dict[int, Hung]:
    """Return what hung together with each housing that was on a hammer, by its key.

    In seven queries. A hammer's clamp and power pack are those that were on it then.
    """
    mountings = spans_as_of(Mounting, as_of)
    clamps = {each.hammer_id: each.clamp_id for each in spans_as_of(ClampFitting, as_of)}
    packs = {each.hammer_id: each.power_pack_id for each in spans_as_of(PowerPackConnection, as_of)}
    hammers = Hammer.objects.in_bulk({each.hammer_id for each in mountings})
    housings = SuppressorHousing.objects.in_bulk({each.housing_id for each in mountings})
    clamp_of = Clamp.objects.in_bulk({clamps[key] for key in hammers if key in clamps})
    pack_of = PowerPack.objects.in_bulk({packs[key] for key in hammers if key in packs})
    return {
        each.housing_id: Hung(
            hammers[each.hammer_id],
            housings[each.housing_id],
            clamp_of.get(clamps.get(each.hammer_id, 0)),
            pack_of.get(packs.get(each.hammer_id, 0)),
        )
        for each in mountings
    }


def hung_on_hammer_as_of(as_of: AsOf) -> list[Hung]:
    """Return what was on each hammer at a moment, whatever that hung on. Five queries."""
    clamps, packs = spans_as_of(ClampFitting, as_of), spans_as_of(PowerPackConnection, as_of)
    hammers = Hammer.objects.in_bulk({each.hammer_id for each in (*clamps, *packs)})
    clamp_of = Clamp.objects.in_bulk({each.clamp_id for each in clamps})
    pack_of = PowerPack.objects.in_bulk({each.power_pack_id for each in packs})
    found = {key: Hung(hammer) for key, hammer in hammers.items()}
    for fitting in clamps:
        key = fitting.hammer_id
        found[key] = replace(found[key], clamp=clamp_of[fitting.clamp_id])
    for connection in packs:
        key = connection.hammer_id
        found[key] = replace(found[key], power_pack=pack_of[connection.power_pack_id])
    return list(found.values())


def hung_today(
    housings: Collection[int] | QuerySet[Any] | None = None,
    *,
    known: Mapping[int, SuppressorHousing] | None = None,
) -> dict[int, Hung]:
    """Return what hangs together with each housing that is on a hammer today, by its key.

    In three queries. housings: their keys, or a query of them; all unless given. known: records of
    housings by key, where the caller has them: those are not read again.
    """
    mountings = Mounting.objects.current().select_related("hammer")
    if known is None:
        mountings = mountings.select_related("hammer", "housing")
    if housings is not None:
        mountings = mountings.filter(housing__in=housings)
    keys = mountings.order_by().values("hammer")
    clamps = ClampFitting.objects.current().filter(hammer__in=keys).select_related("clamp")
    packs = PowerPackConnection.objects.current().filter(hammer__in=keys)
    clamp_of = {each.hammer_id: each.clamp for each in clamps}
    pack_of = {each.hammer_id: each.power_pack for each in packs.select_related("power_pack")}
    return {
        each.housing_id: Hung(
            each.hammer,
            each.housing if known is None else known[each.housing_id],
            clamp_of.get(each.hammer_id),
            pack_of.get(each.hammer_id),
        )
        for each in mountings
        if known is None or each.housing_id in known
    }
