"""Units as of a past day as a table, and as a file."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.as_of import AsOf
from fleet.dates import day_words, days_words
from fleet.models import SuppressorHousing
from fleet.quantities import Quantity, capacity_words, listed_words, pull_words
from fleet.tables import NONE, Column, RecordsTable, TemplateColumn
from fleet.units import Hung
from inspections.as_of.records import findings_as_of, holding_as_of
from inspections.as_of.units import UnitThen, with_documents
from inspections.models import Severity
from inspections.schedule.due import due_as_of


def load_units(units: list[UnitThen], as_of: AsOf) -> None:
    """Look up what the rows of some units show beside their figures, in a fixed number of queries.

    Each then has counted_at, findings_open, overdue and held.
    """
    with_documents(units)
    keys = [unit.housing.pk for unit in units]
    seen = SuppressorHousing.objects.filter(pk__in=keys).with_last_seen_as_of(as_of)
    counted = {each.pk: getattr(each, "counted_at", None) for each in seen}
    hung = [
        Hung(unit.hung.hammer, unit.housing, unit.hung.clamp, unit.hung.power_pack)
        for unit in units
    ]
    due = due_as_of(hung, as_of)
    open_at: dict[tuple[str, int], int] = {}
    grave = findings_as_of(as_of).exclude(severity=Severity.MONITOR)
    for finding in grave.prefetch_related(None):
        column = finding.sort.column
        whose = column, getattr(finding, f"{column}_id")
        open_at[whose] = open_at.get(whose, 0) + 1
    held = holding_as_of(as_of, keys)
    for unit, machines, asked in zip(units, hung, due, strict=True):
        unit.counted_at = counted.get(unit.housing.pk)
        unit.overdue = [each.row.kind for each in asked.overdue]
        unit.findings_open = sum(
            open_at.get((sort.column, machine.pk), 0) for sort, machine in machines.by_sort.items()
        )
        unit.held = [
            f"{each.job.site}, {days_words(each.first_day, each.last_day)}"
            for each in held.get(unit.housing.pk, ())
        ]


class UnitThenTable(RecordsTable):
    """A row for each unit as of a past day, the worst first."""

    caption = "Units as of the day, worst first"
    anchor = "units"
    empty_words = "No unit."

    mark = TemplateColumn("as_of/cell_unit.html", "Unit", orderable=False)
    standing = TemplateColumn("as_of/cell_standing.html", "Standing", orderable=False)
    pull = Column("Line pull", empty_values=(), orderable=False)
    capacity = Column("Working capacity", empty_values=(), orderable=False)
    listed = Column("Listed", empty_values=(), orderable=False)
    pads = Column("Sound pads", empty_values=(), orderable=False)
    travel = Column("Usable travel", empty_values=(), orderable=False)
    counted = Column("Last full count", empty_values=(), orderable=False)
    by = TemplateColumn("as_of/cell_by.html", "By", orderable=False)

    def __init__(self, *args: Any, as_of: AsOf, query: str, **kwargs: Any) -> None:
        self.as_of, self.query = as_of, query
        super().__init__(*args, **kwargs)

    def load_page(self, records: list[UnitThen]) -> None:
        load_units(records, self.as_of)

    def cell_context(self, record: UnitThen) -> dict[str, Any]:
        return {"unit": record, "standing": record.standing, "query": self.query}

    def render_pull(self, record: UnitThen) -> str:
        entry = record.entry
        return (
            pull_words(entry.pull_lbf, self.system, listed_lbf=entry.listed_lbf) if entry else NONE
        )

    def render_capacity(self, record: UnitThen) -> str:
        entry = record.entry
        if entry is None:
            return NONE
        capacity = entry.working_capacity_lbf
        return capacity_words(capacity, self.system, listed_lbf=entry.listed_lbf)

    def render_listed(self, record: UnitThen) -> str:
        return listed_words(record.entry.listed_lbf if record.entry else None, self.system)

    def render_pads(self, record: UnitThen) -> str:
        return record.entry.sound_pads_words if record.entry else "not counted"

    def render_travel(self, record: UnitThen) -> str:
        usable_in = record.entry.usable_travel_in if record.entry else None
        return NONE if usable_in is None else Quantity.LENGTH.words(usable_in, self.system)

    def render_counted(self, record: UnitThen) -> SafeString | str:
        if record.counted_at is None:
            return "never"
        return format_html('<span class="nowrap">{}</span>', day_words(record.counted_at))


def unit_url(unit: UnitThen, query: str) -> str:
    """Return the address of one unit as of the same day."""
    return f"{reverse('unit-as-of', args=[unit.housing.pk])}?{query}"


def _of_entry(name: str) -> Callable[[UnitThen], Any]:
    return lambda unit: getattr(unit.entry, name) if unit.entry else None


# What the file of a day has, by its heading; figures in the units they are kept in.
CSV_COLUMNS: dict[str, Callable[[UnitThen], Any]] = {
    "unit": lambda unit: unit.mark,
    "yard": lambda unit: unit.yard,
    "hammer": lambda unit: unit.hammer.mark if unit.hammer else None,
    "clamp": lambda unit: unit.hung.clamp.mark if unit.hung.clamp else None,
    "power_pack": lambda unit: unit.hung.power_pack.mark if unit.hung.power_pack else None,
    "standing": lambda unit: unit.standing.value,
    "out_of_service_since": lambda unit: unit.outages[0].since if unit.outages else None,
    "out_of_service_because": lambda unit: "; ".join(each.reason for each in unit.outages),
    "line_pull_lbf": _of_entry("pull_lbf"),
    "working_capacity_lbf": _of_entry("working_capacity_lbf"),
    "listed_lbf": _of_entry("listed_lbf"),
    "sound_pads": _of_entry("sound_pads"),
    "pad_positions": _of_entry("positions"),
    "usable_travel_in": _of_entry("usable_travel_in"),
    "last_full_count": lambda unit: unit.counted_at,
    "overdue": lambda unit: "; ".join(unit.overdue),
    "findings_open": lambda unit: unit.findings_open,
    "held_by": lambda unit: "; ".join(unit.held),
    "figures_by": lambda unit: unit.by.value,
    "ledger_entry": lambda unit: unit.entry.sequence if unit.entry and unit.entry.pk else None,
    "ledger_entry_then": lambda unit: unit.told.sequence if unit.told else None,
}
