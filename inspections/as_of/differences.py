"""What differs between two days: units, machines, lots and jobs, each with what made it so."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from fleet.as_of import AsOf
from fleet.dates import moment_words
from fleet.hours import running_hours_by_sort
from fleet.models import MachineSort, OutOfService, PadLot
from fleet.outages import named
from fleet.quantities import Quantity, capacity_words, plain_number, pull_words
from fleet.units import MODELS, Hung, hung_as_of, hung_on_hammer_as_of
from inspections.as_of.records import commitments_as_of, findings_as_of, lots_as_of
from inspections.as_of.units import By, UnitThen, outages_as_of, units_as_of, with_documents
from inspections.machines.forms import METERED
from inspections.schedule.tables import machine_url
from ratings.ledger.differences import NO_INPUT_DIFFERS
from ratings.ledger.differences import differences as inputs_differing
from ratings.models import ExtractionJob


@dataclass(frozen=True)
class Change:
    """One thing that differs, and the address of the record that made it so, "" where none."""

    words: str
    url: str = ""


@dataclass(frozen=True)
class Differing:
    """What differs of one unit, machine, lot or job."""

    name: str
    url: str
    changes: tuple[Change, ...]


@dataclass(frozen=True)
class UnitTwice:
    """One unit at two moments; None at one where it was not on record, or out of use."""

    then: UnitThen | None
    now: UnitThen | None

    @property
    def unit(self) -> UnitThen:
        """As it is told of: at the later moment, or at the first."""
        unit = self.now or self.then
        assert unit is not None
        return unit

    @property
    def has_other_entry(self) -> bool:
        """Whether its figures come from another entry; no document is needed to tell."""
        then, now = self.then, self.now
        return then is not None and now is not None and _entry_key(then) != _entry_key(now)

    @property
    def differs(self) -> bool:
        """Whether anything of it differs, its documents unread."""
        return self.has_other_entry or any(_changes_but_figures(self.then, self.now))


def units_differing(first: AsOf, later: AsOf) -> list[UnitTwice]:
    """Return the units of which anything differs from one moment to another, by mark."""
    then = {unit.housing.pk: unit for unit in units_as_of(first)}
    now = {unit.housing.pk: unit for unit in units_as_of(later)}
    pairs = [UnitTwice(then.get(key), now.get(key)) for key in then.keys() | now.keys()]
    return sorted((each for each in pairs if each.differs), key=lambda each: each.unit.mark)


def unit_differences(pairs: Sequence[UnitTwice], system: str) -> list[Differing]:
    """Return what differs of each of some units, of which the entries are read here. One query."""
    with_documents(
        unit for each in pairs if each.has_other_entry for unit in (each.then, each.now) if unit
    )
    return [
        Differing(
            each.unit.mark,
            reverse("unit", args=[each.unit.housing.pk]),
            tuple(_unit_changes(each, system)),
        )
        for each in pairs
    ]


def _entry_key(unit: UnitThen) -> Any:
    """Return what tells two entries apart: a key, or all that one never posted says."""
    if unit.entry is None:
        return None
    return unit.entry.pk or unit.entry.document


def _unit_changes(pair: UnitTwice, system: str) -> Iterator[Change]:
    yield from _changes_but_figures(pair.then, pair.now)
    if pair.then is None or pair.now is None or not pair.has_other_entry:
        return
    figures = tuple(_figure_changes(pair.then, pair.now, system))
    yield from figures
    if not figures and pair.now.entry is not None:
        words = f"another entry, by which no figure differs: {pair.now.entry.cause_words}"
        yield Change(words, _entry_url(pair.now))


def _changes_but_figures(then: UnitThen | None, now: UnitThen | None) -> Iterator[Change]:
    """Yield what differs of a unit by what its entries do not tell."""
    if then is None or now is None:
        yield Change("came on record" if then is None else "taken out of use")
        return
    for name, before, after in (
        ("yard", then.yard, now.yard),
        ("hammer", then.hung.hammer, now.hung.hammer),
        ("clamp", then.hung.clamp, now.hung.clamp),
        ("power pack", then.hung.power_pack, now.hung.power_pack),
    ):
        if before != after:
            url = _records(now, "mountings")
            if name == "yard":
                url = f"{reverse('transfers')}?{urlencode({'search': now.mark})}"
            yield Change(f"{name}: {before or 'none'} → {after or 'none'}", url)
    yield from _outage_changes(then.outages, now.outages, _records(now, "service"))


def _figure_changes(then: UnitThen, now: UnitThen, system: str) -> Iterator[Change]:
    before, after = then.entry, now.entry
    url = _entry_url(now)
    if then.standing != now.standing:
        yield Change(f"standing: {then.standing} → {now.standing}", url)
    if after is None:
        return
    listed_lbf = after.listed_lbf
    figures = (
        ("line pull", "pull_lbf", pull_words),
        ("working capacity", "working_capacity_lbf", capacity_words),
    )
    for name, field, words in figures:
        was, is_now = (getattr(each, field) if each else None for each in (before, after))
        if was != is_now:
            both = (words(value, system, listed_lbf=listed_lbf) for value in (was, is_now))
            yield Change(f"{name}: {' → '.join(both)}", url)
    for line in inputs_differing(before, after, system):
        # What hangs on what is told already, by what hung there; entries may differ in name alone.
        if not line.startswith("hammer: ") and line != NO_INPUT_DIFFERS:
            yield Change(line, url)
    if now.by is By.METHOD:
        yield Change("figures of the later day by today’s method: no entry has them")


def _entry_url(unit: UnitThen) -> str:
    """Return the address of the entry its figures come from, "" where none was posted."""
    if unit.entry is None or not unit.entry.pk:
        return ""
    return f"{_records(unit, 'ledger')}?entry={unit.entry.sequence}"


def _records(unit: UnitThen, what: str) -> str:
    return reverse("unit-records", args=[unit.housing.pk, what])


def _outage_changes(
    before: Iterable[OutOfService], after: Iterable[OutOfService], url: str
) -> Iterator[Change]:
    then, now = ({each.pk: each for each in some} for some in (before, after))
    for key in sorted(now.keys() - then.keys()):
        outage = now[key]
        yield Change(f"out of service since {moment_words(outage.since)}: {outage.reason}", url)
    for key in sorted(then.keys() - now.keys()):
        yield Change(f"no more out of service for: {then[key].reason}", url)


def machine_differences(first: AsOf, later: AsOf) -> list[Differing]:
    """Return what differs of each machine but the housings, which the units tell of."""
    changes: dict[tuple[MachineSort, int], list[Change]] = {}
    sides = [_machine_sides(as_of) for as_of in (first, later)]
    hours = [_hours_run(as_of) for as_of in (first, later)]
    sorts = (MachineSort.HAMMER, MachineSort.CLAMP, MachineSort.POWER_PACK)
    machines = {
        (sort, each.pk): each for sort in sorts for each in MODELS[sort].objects.order_by("mark")
    }
    for key, machine in machines.items():
        url = machine_url(machine)
        (on_then, out_then, found_then), (on_now, out_now, found_now) = (
            (hung.get(key, "nothing"), outages.get(key, []), findings.get(key, {}))
            for hung, outages, findings in sides
        )
        found = changes.setdefault(key, [])
        if on_then != on_now:
            found.append(Change(f"hung on: {on_then} → {on_now}", f"{url}#hung"))
        found += _outage_changes(out_then, out_now, f"{url}#service")
        for finding in found_now.keys() - found_then.keys():
            inspection, text = found_now[finding]
            found.append(Change(f"found: {text}", reverse("inspection", args=[inspection])))
        for finding in found_then.keys() - found_now.keys():
            found.append(Change(f"closed: {found_then[finding][1]}", f"{url}#findings"))
        ran = [hours_of.get(key) for hours_of in hours]
        if ran[0] != ran[1] and ran[1] is not None:
            was = "never read" if ran[0] is None else f"{plain_number(ran[0], 1)} h"
            words = f"hours run: {was} → {plain_number(ran[1], 1)} h"
            found.append(Change(words, f"{url}#readings"))
    return [
        Differing(named(machine), machine_url(machine), tuple(changes[key]))
        for key, machine in machines.items()
        if changes[key]
    ]


MachineKey = tuple[MachineSort, int]
Sides = tuple[
    dict[MachineKey, str],
    dict[MachineKey, list[OutOfService]],
    dict[MachineKey, dict[int, tuple[int, str]]],
]


def _machine_sides(as_of: AsOf) -> Sides:
    """Return what each machine hung on, its times out of service and its findings of a moment."""
    hung: dict[MachineKey, str] = {}
    for unit in hung_as_of(as_of).values():
        if unit.hammer is not None and unit.housing is not None:
            hung[MachineSort.HAMMER, unit.hammer.pk] = f"housing {unit.housing}"
    for each in hung_on_hammer_as_of(as_of):
        hung |= _on_hammer(each)
    outages: dict[MachineKey, list[OutOfService]] = {}
    for outage in outages_as_of(as_of):
        key = outage.sort, getattr(outage, f"{outage.sort.column}_id")
        outages.setdefault(key, []).append(outage)
    findings: dict[MachineKey, dict[int, tuple[int, str]]] = {}
    for finding in findings_as_of(as_of).prefetch_related(None):
        key = finding.sort, getattr(finding, f"{finding.sort.column}_id")
        findings.setdefault(key, {})[finding.pk] = (finding.inspection_id, finding.text)
    return hung, outages, findings


def _on_hammer(hung: Hung) -> dict[MachineKey, str]:
    return {
        (sort, machine.pk): f"hammer {hung.hammer}"
        for sort, machine in hung.by_sort.items()
        if sort in (MachineSort.CLAMP, MachineSort.POWER_PACK)
    }


def _hours_run(as_of: AsOf) -> dict[MachineKey, float]:
    keys = {sort: MODELS[sort].objects.order_by().values("pk") for sort in METERED}
    found = {}
    for sort, running in running_hours_by_sort(keys, as_of.known_by).items():
        for key, run in running.items():
            if (until := run.until(as_of.day)) is not None:
                found[sort, key] = until.now
    return found


def lot_differences(first: AsOf, later: AsOf, system: str) -> list[Differing]:
    """Return what differs of each lot: its rating in force, its shelves, its tests."""
    lots = list(PadLot.objects.order_by("mark"))
    then, now = lots_as_of(lots, first), lots_as_of(lots, later)
    found = []
    for lot in lots:
        before, after = then[lot.pk], now[lot.pk]
        changes = []
        if before.rating != after.rating:
            words = (
                f"rating {each.pk}, {Quantity.RATE.words(each.rate_lbf_in, system)}"
                if each
                else "no rating"
                for each in (before.rating, after.rating)
            )
            newest = after.rating or before.rating
            url = reverse("lot-rating", args=[newest.pk]) if newest else ""
            changes.append(Change(f"in force: {' → '.join(words)}", url))
        shelf_url = f"{reverse('lot', args=[lot.pk])}#moves"
        shelves, shelves_now = dict(before.shelves), dict(after.shelves)
        for yard in sorted(shelves.keys() | shelves_now.keys()):
            was, is_now = shelves.get(yard, 0), shelves_now.get(yard, 0)
            if was != is_now:
                changes.append(Change(f"on the shelf in {yard}: {was} → {is_now}", shelf_url))
        known = {test.pk for test in before.tests}
        changes += [
            Change(f"test {test.pk} made", reverse("bench-test", args=[test.pk]))
            for test in after.tests
            if test.pk not in known
        ]
        if changes:
            found.append(Differing(f"lot {lot}", reverse("lot", args=[lot.pk]), tuple(changes)))
    return found


def job_differences(first: AsOf, later: AsOf) -> list[Differing]:
    """Return what differs of each job: what was promised for it and released, and its figures."""
    then, now = ({each.pk: each for each in commitments_as_of(when)} for when in (first, later))
    changes: dict[int, list[Change]] = {}
    sites: dict[int, str] = {}
    for key in sorted(then.keys() ^ now.keys()):
        made = now.get(key) or then[key]
        words = f"{made.housing} committed" if key in now else f"{made.housing} released"
        url = reverse("commitment", args=[key])
        changes.setdefault(made.job_id, []).append(Change(words, url))
        sites[made.job_id] = made.job.site
    saved = ExtractionJob.objects.filter(
        versions__recorded_at__gt=first.at, versions__recorded_at__lte=later.at
    )
    for key, site, number in saved.order_by("pk", "versions__number").values_list(
        "pk", "site", "versions__number"
    ):
        url = reverse("job-history", args=[key])
        changes.setdefault(key, []).append(Change(f"saved as version {number}", url))
        sites[key] = site
    return [
        Differing(sites[key], reverse("job", args=[key]), tuple(changes[key]))
        for key in sorted(changes, key=lambda key: (sites[key], key))
    ]
