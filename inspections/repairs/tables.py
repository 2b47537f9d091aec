"""Repair orders and what they took, as tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import django_filters
from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.models import MachineSort, Yard
from fleet.people.own_yards import OwnYardsFilter
from fleet.quantities import money
from fleet.tables import (
    Column,
    DatedFilter,
    DayColumn,
    PersonColumn,
    RecordsTable,
    TemplateColumn,
)
from inspections.models import RepairLine, RepairOrder

MARKS = tuple(f"{sort.column}__mark" for sort in MachineSort)


def with_machines(orders: QuerySet[RepairOrder]) -> QuerySet[RepairOrder]:
    """Return orders with their machines, the yards of these, and how they ended."""
    yards = [f"{sort.column}__yard" for sort in MachineSort]
    return orders.select_related(*yards, "finding", "closing", "recorded_by")


class RepairOrderTable(RecordsTable):
    """A row for each repair order."""

    caption = "Repair orders"
    empty_words = "No repair was ordered yet."
    nothing_found = "No order matches: clear the filters."

    number = Column("Order", accessor="pk")
    state = TemplateColumn("repairs/state.html", "State", orderable=False)
    machine = Column("Machine", empty_values=(), orderable=False)
    what = Column("What")
    who = Column("Who")
    planned_on = DayColumn("Planned for")

    def render_number(self, record: RepairOrder) -> SafeString:
        url = reverse("repair-order", args=[record.pk])
        return format_html('<a href="{}"><strong>{}</strong></a>', url, record.pk)

    def render_machine(self, record: RepairOrder) -> str:
        return f"{record.sort.label} {record.machine.mark}, {record.machine.yard}"


class RepairOrderFilter(OwnYardsFilter, DatedFilter):
    """Narrow the orders by a word, a yard, a sort of machine, or how they stand."""

    hint = "mark, part or person"
    searched = ("what", "who", "parts_needed", *MARKS)
    begins, ends = "recorded_at", "closing__recorded_at"

    state = django_filters.ChoiceFilter(
        label="State",
        empty_label="any",
        choices=[
            ("open", "to be done"),
            ("late", "late"),
            ("done", "done"),
            ("cancelled", "cancelled"),
        ],
        method="filter_state",
    )
    sort_of_machine = django_filters.ChoiceFilter(
        label="Machine", empty_label="any", choices=MachineSort.choices, method="filter_sort"
    )
    yard = django_filters.ModelChoiceFilter(
        label="Yard", empty_label="any", queryset=Yard.objects.all(), method="filter_yard"
    )

    def filter_state(self, found: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        if value in ("done", "cancelled"):
            return found.filter(closing__kind=value)
        still = found.filter(closing__isnull=True)
        return still.filter(planned_on__lt=timezone.localdate()) if value == "late" else still

    def filter_sort(self, found: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return found.filter(**{f"{MachineSort(value).column}__isnull": False})

    def filter_yard(self, found: Any, name: str, value: Yard) -> QuerySet[Any]:
        return self.in_yards(found, (value,))

    def in_yards(self, records: Any, yards: Sequence[Yard]) -> QuerySet[Any]:
        found: QuerySet[Any] = records.in_yards(yards)
        return found


class RepairLineTable(RecordsTable):
    """A row for each part and each bit of work of one order."""

    caption = "Parts, hours and what they cost"
    anchor = "lines"
    own_prefix = "lines-"
    empty_words = "No part and no hour is recorded yet."

    kind = Column("Kind", accessor="get_kind_display", order_by="kind")
    text = TemplateColumn("repairs/line_text.html", "What", order_by="text")
    amount = Column("Pieces or hours", css="number")
    price_each = Column("Price each", css="number")
    cost = Column("Cost", css="number", orderable=False)
    by = PersonColumn("By")

    def render_amount(self, record: RepairLine) -> str:
        return f"{record.amount.normalize():f}"

    def render_price_each(self, record: RepairLine) -> str:
        # Without a price the cell is empty, and nothing renders it.
        assert record.price_each is not None
        return money(record.price_each, record.currency)

    def render_cost(self, record: RepairLine) -> str:
        assert record.cost is not None
        return money(record.cost, record.currency)
