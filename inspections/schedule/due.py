"""When one inspection of one machine is due: by days or by hours, whichever comes first.

What is due for a unit is what is due for each of its machines; the worst of them says it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from math import inf
from typing import Any, NamedTuple

from django.db.models import (
    Case,
    Exists,
    IntegerField,
    Max,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Coalesce
from django.urls import reverse
from django.utils import timezone

from fleet.as_of import AsOf
from fleet.dates import day_words
from fleet.hours import Running, running_hours_by_sort
from fleet.journal.then import rows_known_by
from fleet.models import (
    ClampFitting,
    Hammer,
    MachineSort,
    Mounting,
    PowerPack,
    PowerPackConnection,
    SuppressorHousing,
    Yard,
)
from fleet.models.machine import sort_of
from fleet.units import Hung, hammers_on_no_housing, hung_today, unit_of
from inspections.models import (
    Finding,
    Inspection,
    InspectionKind,
    OwnKind,
    PadCount,
)
from inspections.schedule.intervals import Row, counting_kinds, rows_as_of, rows_in_force
from inspections.schedule.kinds import sorts_by_kind
from ratings.models import Commitment

SOON_DAYS = 7
# Of the hours between: nobody knows beforehand how long a hammer runs in a week.
SOON_SHARE = 0.1


class Key(NamedTuple):
    """Which machine: its sort and the key of its record."""

    sort: MachineSort
    pk: int


def key_of(machine: Any) -> Key:
    """Return which machine a record is."""
    return Key(sort_of(machine), machine.pk)


@dataclass(frozen=True)
class Last:
    """The last inspection that counts: its day, and the running hours of the machine then."""

    day: date
    hours: float | None = None


@dataclass(frozen=True)
class Due:
    """How one kind stands at one machine, or at the worst machine of a unit.

    due_on: by days; today where it was never made. hours_left: by hours, None where the meter
    says nothing; is_unread where it should. last: None where it was never made. is_late: over its
    days, whatever its hours. is_idle: of a spare, a machine that hangs in no unit: it works
    nowhere, so nothing of it is overdue, and what has run out is to be made before it goes out.
    machine: whose, such as "hammer V-101"; "" of a unit where it is so of all of them.
    """

    row: Row
    last: Last | None
    due_on: date | None
    hours_left: float | None
    is_overdue: bool
    is_soon: bool
    is_unread: bool = False
    is_late: bool = False
    is_idle: bool = False
    machine: str = ""

    @property
    def words(self) -> str:
        """Say how it stands, for a person."""
        if not self.is_idle:
            return self._plain_words
        if self.last is None:
            return "never made: to be made before it goes out"
        if self.is_run_out:
            day = f"was due {day_words(self.due_on)}" if self.is_late and self.due_on else ""
            over = "" if self.hours_left is None or self.hours_left > 0 else "its hours are run"
            run_out = ", ".join(part for part in (day, over) if part)
            return f"{run_out}: to be made before it goes out"
        return f"{self._plain_words}; a spare, asked for once it goes out"

    @property
    def is_run_out(self) -> bool:
        """Whether it was never made, or its days or hours are over, of a spare too."""
        has_run = self.hours_left is not None and self.hours_left <= 0
        return self.last is None or self.is_late or has_run

    @property
    def _plain_words(self) -> str:
        if self.last is None:
            return "never made"
        day = "" if self.due_on is None else f"due {day_words(self.due_on)}"
        left = self.hours_left
        if self.is_overdue:
            over = f"over by {abs(left):g} h" if left is not None and left <= 0 else ""
            return ", ".join(part for part in (over, day if self.is_late else "") if part)
        hours = "hours not known: read the meter" if self.is_unread else ""
        if left is not None:
            hours = f"{left:g} h left"
        return " or ".join(part for part in (day, hours) if part)

    @property
    def words_with_machine(self) -> str:
        """Say how it stands, and of which machine where it is not so of all."""
        return f"{self.machine}: {self.words}" if self.machine else self.words


def due(
    row: Row, last: Last | None, hours: float | None, today: date, *, is_in_use: bool = True
) -> Due:
    """Return how one kind stands.

    hours: what the machine has run by now, over all its meters. is_in_use: not a spare, of which
    nothing is asked before it goes out.
    Overdue the day after the interval ends, or once the hours are run. Never made is overdue from
    the first day it is in use: nobody knows how it stands.
    What goes by hours alone is told as soon due where nobody read the meter.
    """
    if last is None:
        first_on = today if is_in_use else None
        return Due(row, None, first_on, None, is_in_use, is_soon=False, is_idle=not is_in_use)
    due_on = None if row.days is None else last.day + timedelta(days=row.days)
    left = None
    if row.hours is not None and hours is not None and last.hours is not None:
        left = round(row.hours - (hours - last.hours), 1)
    is_late = due_on is not None and due_on < today
    if not is_in_use:
        return Due(
            row,
            last,
            due_on,
            left,
            is_overdue=False,
            is_soon=False,
            is_late=is_late,
            is_idle=True,
        )
    is_unread = row.hours is not None and left is None
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


def findings_with_gravity(findings: QuerySet[Finding] | None = None) -> QuerySet[Finding]:
    """Return findings with all that is said of one, the gravest first, each by when to act."""
    chosen: Any = Finding.objects.all() if findings is None else findings
    found: QuerySet[Finding] = (
        chosen.with_gravity()
        .select_related(
            "hammer",
            "housing",
            "clamp",
            "power_pack",
            "inspection__recorded_by",
            "closing__recorded_by",
        )
        .prefetch_related("photos__held")
        .order_by("gravity", "act_by", "pk")
    )
    return found


def open_findings(yards: Collection[Yard] | None = None) -> QuerySet[Finding]:
    """Return the findings still open, the gravest first, of each kind those to act on first.

    yards: of machines that stand in those alone; None for all.
    """
    found = Finding.objects.open()
    return findings_with_gravity(found if yards is None else found.in_yards(yards))


@dataclass(frozen=True)
class MachineDue:
    """All kinds that look at one machine, the most pressing first.

    alike: a number shared by all machines of which the same kinds stand the same.
    """

    machine: Any
    sort: MachineSort
    kinds: tuple[Due, ...]
    alike: int

    @property
    def name(self) -> str:
        """How it is called, such as "hammer V-101"."""
        return f"{self.sort} {self.machine}"

    @property
    def overdue(self) -> list[Due]:
        return [each for each in self.kinds if each.is_overdue]

    @property
    def soon(self) -> list[Due]:
        return [each for each in self.kinds if each.is_soon]


@dataclass(frozen=True)
class UnitDue:
    """All kinds of one unit, the most pressing first, each as its worst machine stands.

    housing: None of a hammer that hangs on none. hammer: None of a spare housing. machines: those
    that hang together today, with what is due for each.
    """

    housing: SuppressorHousing | None
    hammer: Hammer | None
    kinds: tuple[Due, ...]
    machines: tuple[MachineDue, ...] = ()

    @property
    def is_spare(self) -> bool:
        """Whether it works nowhere: a housing on no hammer, or a hammer on no housing."""
        return self.hammer is None or self.housing is None

    @property
    def mark(self) -> str:
        """The mark it goes by: of its housing, or of a hammer on none."""
        return self._first.mark

    @property
    def where(self) -> str:
        """What its housing is on, in words."""
        if self.housing is None:
            return "a hammer on no housing"
        return f"on {self.hammer.mark}" if self.hammer else "spare"

    @property
    def name(self) -> str:
        """Its mark, with the hammer it is on."""
        if self.housing is None or self.hammer is None:
            return self.mark
        return f"{self.mark} on {self.hammer.mark}"

    @property
    def yard(self) -> Yard:
        return self._first.yard

    @property
    def url(self) -> str:
        """The address of its page."""
        if self.housing is not None:
            return reverse("unit", args=[self.housing.pk])
        assert self.hammer is not None
        return reverse("machine-page", args=[MachineSort.HAMMER.slug, self.hammer.pk])

    @property
    def overdue(self) -> list[Due]:
        return [each for each in self.kinds if each.is_overdue]

    @property
    def soon(self) -> list[Due]:
        return [each for each in self.kinds if each.is_soon]

    @property
    def _first(self) -> SuppressorHousing | Hammer:
        first = self.housing or self.hammer
        assert first is not None
        return first


def due_of_fleet(
    housings: QuerySet[SuppressorHousing] | Collection[SuppressorHousing] | None = None,
    *,
    hung: Mapping[int, Hung] | None = None,
) -> list[UnitDue]:
    """Return what is due at the units given, at every one unless any is; the worst first.

    Where none is given, hammers on no housing are units too. hung: of hung_today of these housings,
    where it was asked already. In a fixed number of queries. Of a spare nothing is asked before it
    goes out: it comes last.
    """
    if housings is None:
        listed = _in_their_yards(list(SuppressorHousing.objects.in_use()))
    else:
        listed = list(housings)
    known = {housing.pk: housing for housing in listed}
    if hung is None:
        hung = hung_today(None if housings is None else list(known), known=known)
    bare = list(hammers_on_no_housing().select_related("yard")) if housings is None else []
    units = [hung.get(housing.pk, Hung(housing=housing)) for housing in listed]
    units += _with_what_hangs(bare)
    facts = Facts(_keys_of(units), is_narrow=housings is not None)
    found = [_unit_due(facts, each) for each in units]
    return sorted(found, key=lambda unit: (unit.is_spare, _worst(unit.kinds), unit.mark))


def due_of_machine(machine: Any) -> MachineDue:
    """Return what is due for one machine, whatever it hangs on."""
    hung = unit_of(machine)
    facts = Facts(_keys_of([hung]), is_narrow=True)
    return facts.of(machine, is_in_use=_is_in_use(hung), is_held=facts.is_held(hung))


def due_as_of(units: Collection[Hung], as_of: AsOf) -> list[UnitDue]:
    """Return what was due at a past moment for what hung together then, in the order given."""
    facts = Facts(_keys_of(units), is_narrow=True, as_of=as_of)
    return [_unit_due(facts, each) for each in units]


def machine_due_as_of(machine: Any, hung: Hung, as_of: AsOf) -> MachineDue:
    """Return what was due for one machine at a past moment, by what it hung with then."""
    facts = Facts(_keys_of([hung]), is_narrow=True, as_of=as_of)
    return facts.of(machine, is_in_use=_is_in_use(hung), is_held=facts.is_held(hung))


def due_of_hung(hung: Hung) -> UnitDue:
    """Return what is due at machines that hang together, or would."""
    return _unit_due(Facts(_keys_of([hung]), is_narrow=True), hung)


def due_of_machines(machines: Iterable[Any]) -> dict[Key, MachineDue]:
    """Return what is due for each of some machines, by which it is, in a fixed number of queries.

    Machines that hang together with a hammer and a housing today are in use; others are spares.
    """
    units = due_of_fleet()
    known = {key_of(each.machine): each for unit in units for each in unit.machines}
    spare = [each for each in machines if key_of(each) not in known]
    alone = [Hung(**{sort_of(each).column: each}) for each in spare]
    facts = Facts(_keys_of(alone), is_narrow=True)
    for each in spare:
        known[key_of(each)] = facts.of(each, is_in_use=False, is_held=False)
    return known


def _in_their_yards(housings: list[SuppressorHousing]) -> list[SuppressorHousing]:
    """Give each housing its yard, one record for all that stand there. One query."""
    yards = Yard.objects.in_bulk()
    for housing in housings:
        housing.yard = yards[housing.yard_id]
    return housings


def _with_what_hangs(hammers: list[Hammer]) -> list[Hung]:
    """Return hammers on no housing with the clamp and power pack on each. Two queries."""
    clamps = ClampFitting.objects.current().clamps_by_hammer([each.pk for each in hammers])
    connections = PowerPackConnection.objects.current().filter(hammer__in=hammers)
    packs = {each.hammer_id: each.power_pack for each in connections.select_related("power_pack")}
    return [Hung(hammer, None, clamps.get(hammer.pk), packs.get(hammer.pk)) for hammer in hammers]


def _is_in_use(hung: Hung) -> bool:
    """Whether machines make a unit that can work: without a hammer or a housing none pulls."""
    return hung.hammer is not None and hung.housing is not None


def _unit_due(facts: Facts, hung: Hung) -> UnitDue:
    is_in_use, is_held = _is_in_use(hung), facts.is_held(hung)
    machines = tuple(
        facts.of(machine, is_in_use=is_in_use, is_held=is_held) for machine in hung.machines
    )
    worst = facts.worst_of(tuple(machine.alike for machine in machines))
    kinds = tuple(
        kind if place is None else replace(kind, machine=machines[place].name)
        for kind, place in zip(worst.kinds, worst.places, strict=True)
    )
    return UnitDue(hung.housing, hung.hammer, kinds, machines)


def _keys_of(units: Iterable[Hung]) -> dict[MachineSort, set[int]]:
    """Return the keys of the machines of some units, by sort."""
    keys: dict[MachineSort, set[int]] = {sort: set() for sort in MachineSort}
    for hung in units:
        for sort, machine in hung.by_sort.items():
            keys[sort].add(machine.pk)
    return keys


@dataclass(frozen=True)
class Worst:
    """All kinds of units whose machines stand alike, each as at its worst, most pressing first.

    places: of that machine, None where a kind stands so at all of them.
    """

    kinds: tuple[Due, ...]
    places: tuple[int | None, ...]
    pressing: Pressing
    overdue: tuple[Due, ...]
    soon: tuple[Due, ...]


def _worst_kinds(machines: Sequence[tuple[Due, ...]]) -> list[tuple[Due, int | None]]:
    """Return how each kind stands at a unit: as at its worst machine, the most pressing first.

    machines: the kinds of each. With the place of that machine, None where it stands so at all of
    them.
    """
    by_kind: dict[str, list[tuple[int, Due]]] = {}
    for place, kinds in enumerate(machines):
        for kind in kinds:
            by_kind.setdefault(kind.row.kind, []).append((place, kind))
    worst = []
    for found in by_kind.values():
        place, kind = min(found, key=lambda each: _pressing(each[1]))
        worst.append((kind, None if all(other == kind for _, other in found) else place))
    return sorted(worst, key=lambda each: _pressing(each[0]))


# Where more are asked about than this, the tables are read whole: naming each would be no faster.
MOST_NAMED = 300


class Facts:
    """What is on record of the machines of some units, asked for once for all.

    keys: of the machines, by sort. as_of: a past moment of which it is asked; None for now.
    """

    def __init__(
        self,
        keys: Mapping[MachineSort, set[int]],
        *,
        is_narrow: bool,
        as_of: AsOf | None = None,
    ) -> None:
        self.today = timezone.localdate() if as_of is None else as_of.day
        self.rows = rows_in_force() if as_of is None else rows_as_of(as_of)
        own = {kind.name: kind for kind in OwnKind.objects.prefetch_related("sorts_changes")}
        self.sorts = sorts_by_kind(own.values())
        is_narrow = is_narrow and all(len(each) <= MOST_NAMED for each in keys.values())
        self.last_seen = _last_seen(keys if is_narrow else None, own, as_of)
        self.spans = {
            MachineSort.HOUSING: _spans(Mounting, "housing", keys, as_of, is_narrow=is_narrow),
            MachineSort.CLAMP: _spans(ClampFitting, "clamp", keys, as_of, is_narrow=is_narrow),
        }
        hung_on = {
            hammer
            for of_sort in self.spans.values()
            for spans in of_sort.values()
            for hammer, _, _ in spans
        }
        hammers: Any = Hammer.objects.order_by().values("pk")
        packs: Any = PowerPack.objects.order_by().values("pk")
        if is_narrow:
            hammers, packs = keys[MachineSort.HAMMER] | hung_on, keys[MachineSort.POWER_PACK]
        self.running = running_hours_by_sort(
            {MachineSort.HAMMER: hammers, MachineSort.POWER_PACK: packs},
            as_of.known_by if as_of else None,
        )
        held = Commitment.objects.overlapping(self.today, self.today).order_by()
        if as_of is not None:
            self.running = {sort: _until(as_of.day, run) for sort, run in self.running.items()}
            made = Commitment.objects.filter(answer__recorded_at__lte=as_of.at)
            held = made.exclude(released_at__lte=as_of.at).filter(
                first_day__lte=self.today, last_day__gte=self.today
            )
        self.held = set(held.values_list("housing", flat=True))
        # Most machines stand alike: what is alike is worked out once, and shared.
        self._kinds: dict[Any, tuple[int, tuple[Due, ...]]] = {}
        self._by_number: list[tuple[Due, ...]] = []
        self._worst: dict[tuple[int, ...], Worst] = {}

    def is_held(self, hung: Hung) -> bool:
        """Whether a job holds a unit today."""
        return hung.housing is not None and hung.housing.pk in self.held

    def of(self, machine: Any, *, is_in_use: bool, is_held: bool) -> MachineDue:
        """Return what is due for a machine: of every kind that looks at its sort."""
        key = key_of(machine)
        number, kinds = self.kinds_of(key, is_in_use=is_in_use, is_held=is_held)
        return MachineDue(machine, key.sort, kinds, number)

    def kinds_of(self, key: Key, *, is_in_use: bool, is_held: bool) -> tuple[int, tuple[Due, ...]]:
        """Return all kinds that look at a machine, the most pressing first.

        Before them a number shared by all machines of which the same kinds stand the same.
        """
        seen = self.last_seen.get(key, ())
        run: dict[date, float | None] = {}
        for _, day in seen:
            if day not in run:
                run[day] = self._run_since(key, day)
        alike = (key.sort, is_in_use, is_held, tuple(seen), tuple(run.items()))
        if alike not in self._kinds:
            found = (
                self._due(row, seen, run, is_in_use=is_in_use)
                for row in self.rows
                if key.sort in self.sorts.get(row.kind, ()) and (is_held or not row.in_use_only)
            )
            kinds = tuple(sorted(found, key=_pressing))
            self._kinds[alike] = len(self._by_number), kinds
            self._by_number.append(kinds)
        return self._kinds[alike]

    def worst_of(self, alike: tuple[int, ...]) -> Worst:
        """Return all kinds of a unit as at its worst machines, by the numbers of its machines."""
        worst = self._worst.get(alike)
        if worst is None:
            found = _worst_kinds([self._by_number[number] for number in alike])
            kinds = tuple(kind for kind, _ in found)
            worst = self._worst[alike] = Worst(
                kinds,
                tuple(place for _, place in found),
                _worst(kinds),
                tuple(kind for kind in kinds if kind.is_overdue),
                tuple(kind for kind in kinds if kind.is_soon),
            )
        return worst

    def _due(
        self,
        row: Row,
        seen: Iterable[tuple[str, date]],
        run: Mapping[date, float | None],
        *,
        is_in_use: bool,
    ) -> Due:
        kinds = counting_kinds(row.kind)
        day = max((on for kind, on in seen if kind in kinds), default=None)
        if day is None:
            return due(row, None, None, self.today, is_in_use=is_in_use)
        last = Last(day, None if run[day] is None else 0.0)
        return due(row, last, run[day], self.today, is_in_use=is_in_use)

    def _run_since(self, key: Key, day: date) -> float | None:
        """Return what a machine has run since a day; None where a meter that says it was not read.

        A housing or a clamp has no meter: it runs with the hammers it hangs on.
        """
        if key.sort in self.running:
            meter = self.running[key.sort].get(key.pk)
            return meter.now - meter.at(day) if meter else None
        total = 0.0
        for hammer, begun_at, ended_at in self.spans[key.sort].get(key.pk, ()):
            ended = _day(ended_at) if ended_at else None
            if ended is not None and ended <= day:
                continue
            meter = self.running[MachineSort.HAMMER].get(hammer)
            if meter is None:
                return None
            begun = _day(begun_at)
            total += (meter.now if ended is None else meter.at(ended)) - meter.at(max(begun, day))
        return total


def _until(day: date, running: Mapping[int, Running]) -> dict[int, Running]:
    """Return what machines had run by a day, of those whose meter was read by then."""
    cut = {key: run.until(day) for key, run in running.items()}
    return {key: run for key, run in cut.items() if run is not None}


Span = tuple[int, datetime, datetime | None]


def _spans(
    model: Any,
    owner: str,
    keys: Mapping[MachineSort, set[int]],
    as_of: AsOf | None = None,
    *,
    is_narrow: bool,
) -> dict[int, list[Span]]:
    """Return which hammers each was on, from which moment to which, by the owner's key."""
    begun = "mounted_at" if model is Mounting else "fitted_at"
    if as_of is not None:
        return _spans_as_of(model, owner, begun, as_of)
    spans = model.objects.order_by(begun)
    if is_narrow:
        spans = spans.filter(**{f"{owner}__in": keys[MachineSort(owner)]})
    found: dict[int, list[Span]] = {}
    for key, hammer, first, last in spans.values_list(owner, "hammer", begun, "removed_at"):
        found.setdefault(key, []).append((hammer, first, last))
    return found


def _spans_as_of(model: Any, owner: str, begun: str, as_of: AsOf) -> dict[int, list[Span]]:
    """Return the same as was known, of what had begun by a past moment."""
    found: dict[int, list[Span]] = {}
    for row in rows_known_by(model, as_of.known_by, begun, "removed_at"):
        first, last = getattr(row, begun), row.removed_at
        if first <= as_of.at:
            ended = last if last is not None and last <= as_of.at else None
            key = getattr(row, f"{owner}_id")
            found.setdefault(key, []).append((row.hammer_id, first, ended))
    return found


def _day(moment: datetime) -> date:
    return timezone.localtime(moment).date()


def _last_seen(
    keys: Mapping[MachineSort, set[int]] | None,
    own: Mapping[str, OwnKind],
    as_of: AsOf | None = None,
) -> dict[Key, list[tuple[str, date]]]:
    """Return the day each kind was last made at each machine; a corrected one counts no more.

    One of a kind counts for the machines that the kind looked at when it was seen.
    keys: of the machines asked about, by sort; None for all. own: the yard's own kinds, by name.
    Two queries.
    """
    which = Q()
    if keys is not None:
        which = Q(pk__in=[])
        for sort, of_sort in keys.items():
            if of_sort:
                which |= Q(**{f"{sort.column}__in": of_sort})
    columns = [f"{sort.column}_id" for sort in MachineSort]
    said = Case(
        *(
            When(own_kind=change.kind_id, seen_at__gte=change.recorded_at, then=Value(change.pk))
            for kind in own.values()
            for change in kind.sorts_changes.all()
        ),
        default=Value(0),
        output_field=IntegerField(),
    )
    standing = Inspection.objects.standing()
    if as_of is not None:
        standing = Inspection.objects.as_of(as_of, "seen_at")
    made = (
        standing.filter(which, lacks="")
        .order_by()
        .annotate(name=Coalesce("own_kind__name", "kind"), sorts_said=said)
        .values(*columns, "name", "sorts_said")
        .annotate(last=Max("seen_at"))
        .values_list("name", "last", *columns)
    )
    # Whatever its kind, an inspection that counted the pads is a count of them. The newest of each
    # housing is asked by its index: however long a life it had, no more of it is read.
    counts = standing.filter(
        Exists(PadCount.objects.filter(inspection=OuterRef("pk"))), housing=OuterRef("pk")
    )
    housings = SuppressorHousing.objects.all()
    if keys is not None:
        housings = housings.filter(pk__in=keys.get(MachineSort.HOUSING, ()))
    counted = (
        housings.order_by()
        .annotate(last=Subquery(counts.order_by("-seen_at").values("seen_at")[:1]))
        .values_list("pk", "last")
    )
    seen: dict[Key, list[tuple[str, date]]] = {}
    days: dict[datetime, date] = {}
    common = sorts_by_kind(())

    def day_of(moment: datetime) -> date:
        # Many machines were seen at one moment, and the time zone is slow to ask.
        if moment not in days:
            days[moment] = _day(moment)
        return days[moment]

    for kind, seen_at, *machines in made:
        looked_at = own[kind].sorts_at(seen_at) if kind in own else common.get(kind, ())
        for sort, pk in zip(MachineSort, machines, strict=True):
            if pk is not None and sort in looked_at:
                seen.setdefault(Key(sort, pk), []).append((kind, day_of(seen_at)))
    for pk, seen_at in counted:
        if seen_at is None:
            continue
        count = (str(InspectionKind.PAD_COUNT), day_of(seen_at))
        seen.setdefault(Key(MachineSort.HOUSING, pk), []).append(count)
    return seen


Pressing = tuple[bool, bool, date, float]


def _pressing(kind: Due) -> Pressing:
    left = inf if kind.hours_left is None else kind.hours_left
    return not kind.is_overdue, not kind.is_soon, kind.due_on or date.max, left


def _worst(kinds: Iterable[Due]) -> Pressing:
    return min((_pressing(kind) for kind in kinds), default=(True, True, date.max, inf))
