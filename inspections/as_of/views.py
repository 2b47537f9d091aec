"""Pages of past days: what was so, and what was known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from django.core.paginator import Page, Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from fleet.as_of import AsOf
from fleet.cells import csv_download
from fleet.context import system_of
from fleet.models import OutOfService, PadLot, SuppressorHousing
from fleet.models.machine import sort_of
from fleet.tables import ROWS_ON_A_PAGE, table_of
from inspections.as_of.asking import AsOfForm, TwoDaysForm, form_of, nothing_words
from inspections.as_of.differences import (
    job_differences,
    lot_differences,
    machine_differences,
    unit_differences,
    units_differing,
)
from inspections.as_of.records import (
    findings_of,
    holding_as_of,
    job_as_of,
    lots_as_of,
    machine_as_of,
)
from inspections.as_of.tables import CSV_COLUMNS, UnitThenTable, load_units
from inspections.as_of.units import (
    By,
    UnitThen,
    facts_as_of,
    known_only_later,
    outages_as_of,
    outages_of,
    units_as_of,
    with_documents,
)
from inspections.count.newest_facts import travels_as_of
from inspections.machines.forms import METERED
from inspections.schedule.due import due_as_of
from inspections.service.views import machine_or_404
from ratings.ledger.differences import differences
from ratings.ledger.facts import staleness
from ratings.mechanics.record import FORMAT
from ratings.models import ExtractionJob, LotRating, RatingPolicy
from ratings.models.policy import policy_in_force
from ratings.pictures import large_rules


def board_as_of(request: HttpRequest) -> HttpResponse:
    """Show every unit as of a day, worst first."""
    form = form_of(request)
    context: dict[str, Any] = {"section": "board", "form": form}
    if form.is_valid():
        units = units_as_of(form.as_of)
        if units:
            context["table"] = table_of(
                request, UnitThenTable, units, as_of=form.as_of, query=form.query
            )
            context["otherwise"] = [unit for unit in units if unit.is_told_otherwise]
            context["out"] = sum(1 for unit in units if unit.outages and unit.hammer)
        else:
            context["nothing"] = nothing_words(form.as_of)
        if form.as_of.is_as_known_then and form.as_of.at < form.now:
            context["known_later"] = known_only_later(form.as_of, form.now)
    return render(request, "as_of/board.html", context)


def board_as_of_csv(request: HttpRequest) -> HttpResponse:
    """Send every unit as of a day as a CSV file; what is wrong with the day the page says."""
    form = form_of(request)
    if not form.is_valid():
        return board_as_of(request)
    as_of = form.as_of
    units = units_as_of(as_of)
    load_units(units, as_of)
    rows = ([read(unit) for read in CSV_COLUMNS.values()] for unit in units)
    name = f"units-{form.cleaned_data['sense']}-on-{as_of.day:%Y-%m-%d}"
    return csv_download(name, tuple(CSV_COLUMNS), rows)


def unit_as_of(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Show one unit as of a day: figures, pads, what hung together, what was open, held and due."""
    housing = get_object_or_404(SuppressorHousing.objects.select_related("yard"), pk=housing_id)
    form = form_of(request)
    context: dict[str, Any] = {"section": "board", "housing": housing, "form": form}
    if form.is_valid():
        found = units_as_of(form.as_of, [housing.pk])
        context |= _unit(request, form, found[0]) if found else _no_unit(form, housing)
    return render(request, "as_of/unit.html", context)


def _unit(request: HttpRequest, form: AsOfForm, unit: UnitThen) -> dict[str, Any]:
    as_of, system = form.as_of, system_of(request)
    load_units([unit], as_of)
    key, entry = unit.housing.pk, unit.entry
    hung = {} if unit.hammer is None else {key: unit.hung}
    facts = facts_as_of([unit.housing], as_of, hung)[key]
    positions = sorted(facts.positions, key=lambda each: (each.side, each.number))
    machines = [*unit.hung.machines]
    if unit.housing not in machines:
        machines.append(unit.housing)
    travels = travels_as_of([key], as_of)
    return {
        "unit": unit,
        "entry": entry,
        "standing": unit.standing,
        "method": FORMAT,
        "is_by_method": unit.by is By.METHOD,
        "rules": large_rules(entry, unit.mark, system),
        "sides": {side: [each for each in positions if each.side == side] for side in "AB"},
        "travel_in": facts.inputs.travel_in,
        "travel_inspection": travels[key][1] if key in travels else None,
        "guide": facts.guide,
        "listing": facts.listing,
        "ratings": facts.ratings,
        "machines": [(each, unit.hung.by_sort.get(each)) for each in unit.hung.by_sort],
        "findings": findings_of(machines, as_of),
        "promises": holding_as_of(as_of, [key]).get(key, []),
        "due": due_as_of([_with_housing(unit)], as_of)[0],
        "otherwise": _otherwise(form, unit, system),
    }


def _no_unit(form: AsOfForm, housing: SuppressorHousing) -> dict[str, Any]:
    """Say that nothing of a unit was on record, and how it was by what came on record since."""
    as_of = form.as_of
    context: dict[str, Any] = {"nothing": nothing_words(as_of, housing)}
    if as_of.is_as_known_then:
        so = units_as_of(AsOf(as_of.at, form.now), [housing.pk])
        with_documents(so)
        context["so"] = so[0] if so else None
    return context


def _with_housing(unit: UnitThen) -> Any:
    return replace(unit.hung, housing=unit.housing)


def _otherwise(form: AsOfForm, unit: UnitThen, system: str) -> dict[str, Any] | None:
    """Return how what was so and what was known of a unit differ; None where they don't."""
    as_of = form.as_of
    so = unit
    if as_of.at == form.now:
        return None
    if as_of.is_as_known_then:
        so = units_as_of(AsOf(as_of.at, form.now), [unit.housing.pk])[0]
        with_documents([so])
    known = {each.pk for each in outages_of_then(unit, as_of)}
    outages = [each for each in so.outages if each.pk not in known]
    if not so.is_told_otherwise and not outages:
        return None
    lines = []
    if so.is_told_otherwise and so.entry is not None:
        lines = differences(so.told, so.entry, system) if so.told else ["no entry was posted yet"]
    return {"so": so, "told": so.told, "lines": lines, "outages": outages}


def outages_of_then(unit: UnitThen, as_of: AsOf) -> list[OutOfService]:
    """Return the times out of service of a unit as they were known at the moment itself."""
    if as_of.is_as_known_then:
        return unit.outages
    then = as_of.as_known_then
    return outages_of(unit.hung, unit.housing, outages_as_of(then))


def machine_page_as_of(request: HttpRequest, sort: str, machine_id: int) -> HttpResponse:
    """Show one machine as of a day: what it hung on, hours, what was due, found and open."""
    machine = machine_or_404(sort, machine_id)
    form = form_of(request)
    context: dict[str, Any] = {"section": "machines", "machine": machine, "form": form}
    context["sort"] = sort_of(machine)
    if form.is_valid():
        found = machine_as_of(machine, form.as_of)
        others = {key: each for key, each in found.hung.by_sort.items() if each != machine}
        context |= {"then": found, "others": others, "is_metered": found.sort in METERED}
    return render(request, "as_of/machine.html", context)


def lot_page_as_of(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Show one lot as of a day: the rating in force, its shelves, its tests."""
    lot, form = get_object_or_404(PadLot, pk=lot_id), form_of(request)
    context: dict[str, Any] = {"section": "lots", "lot": lot, "form": form}
    if form.is_valid():
        as_of = form.as_of
        found = lots_as_of([lot], as_of)[lot.pk]
        row = RatingPolicy.objects.filter(recorded_at__lte=as_of.at).first()
        stale = staleness(found.rating, policy_in_force(row), as_of.at) if found.rating else ""
        context |= {"then": found, "stale": stale}
        if found.rating is not None:
            now = LotRating.objects.in_force().filter(pk=found.rating.pk).first()
            context["since"] = since_words(found.rating, now)
    return render(request, "as_of/lot.html", context)


def since_words(then: Any, now: Any) -> str:
    """Say what has become of a rating since a day it was in force on, "" where nothing has.

    Both as LotRating.objects.in_force tells; now: None where it is in force no more.
    """
    if now is None:
        return "It was withdrawn since."
    if now.rests_on_corrected and not then.rests_on_corrected:
        return "A test it rests on was corrected since."
    if now.gauge_found_off and not then.gauge_found_off:
        return "The gauge of a test it rests on was found off since."
    return ""


def job_page_as_of(request: HttpRequest, job_id: int) -> HttpResponse:
    """Show one job as of a day: its answers, and what was promised for it on which verdict."""
    job, form = get_object_or_404(ExtractionJob, pk=job_id), form_of(request)
    context: dict[str, Any] = {"section": "jobs", "job": job, "form": form}
    if form.is_valid():
        context["then"] = job_as_of(job, form.as_of)
    return render(request, "as_of/job.html", context)


def differences_page(request: HttpRequest) -> HttpResponse:
    """Show what differs between two days: only that, each with the record that made it so."""
    form = form_of(request, TwoDaysForm)
    context: dict[str, Any] = {"section": "board", "form": form}
    if isinstance(form, TwoDaysForm) and form.is_valid():
        system, first, later = system_of(request), form.as_of, form.later
        units = _part(request, "Units", units_differing(first, later))
        units.told = unit_differences(units.told, system)
        parts = (
            units,
            _part(request, "Machines", machine_differences(first, later)),
            _part(request, "Lots", lot_differences(first, later, system)),
            _part(request, "Jobs", job_differences(first, later)),
        )
        context |= {"days": (first.day, later.day), "parts": parts}
        context["nothing"] = not any(part.page.paginator.count for part in parts)
    return render(request, "as_of/differences.html", context)


@dataclass
class Part:
    """One kind of things that differ, a page of them. told: what is told of those of the page."""

    caption: str
    page: Page[Any]
    told: list[Any]

    @property
    def anchor(self) -> str:
        """Its id on the page."""
        return self.caption.lower()

    @property
    def page_field(self) -> str:
        """What names its page in the address."""
        return f"{self.anchor}-page"

    @property
    def fragment(self) -> str:
        """Where the links to its other pages lead."""
        return f"#{self.anchor}"


def _part(request: HttpRequest, caption: str, differing: list[Any]) -> Part:
    part = Part(caption, Paginator(differing, ROWS_ON_A_PAGE).get_page(None), [])
    part.page = part.page.paginator.get_page(request.GET.get(part.page_field))
    part.told = list(part.page)
    return part
