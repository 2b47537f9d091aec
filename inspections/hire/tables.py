"""Hires, and checks of hammers that are not ours, as tables."""

from __future__ import annotations

from typing import Any

import django_filters
from django.db.models import F, QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.quantities import capacity_words, pull_words
from fleet.tables import (
    Column,
    DatedFilter,
    DayColumn,
    MomentColumn,
    PersonColumn,
    RecordsTable,
    TemplateColumn,
)
from inspections.models import ForeignCheck


class HireTable(RecordsTable):
    """A row for each hire, the newest first."""

    caption = "Units on hire"
    empty_words = "No unit was let yet."
    nothing_found = "No hire matches: clear the filters."

    number = Column("Hire", accessor="pk")
    state = TemplateColumn("hire/state.html", "State", orderable=False)
    housing = Column("Unit", order_by="housing__mark")
    hirer = Column("Hired by")
    place = Column("Where")
    from_day = DayColumn("Leaves")
    back_due = DayColumn("Expected back")

    def render_number(self, record: Any) -> SafeString:
        url = reverse("hire", args=[record.pk])
        return format_html('<a href="{}"><strong>{}</strong></a>', url, record.pk)


class HireFilter(DatedFilter):
    """Narrow the hires by a word or by how they stand."""

    hint = "mark, hirer or place"
    searched = ("housing__mark", "hammer__mark", "hirer", "contact", "place")
    begins, ends = "from_day", "ended_on"

    state = django_filters.ChoiceFilter(
        label="State",
        empty_label="any",
        choices=[
            ("agreed", "agreed"),
            ("out", "out"),
            ("overdue", "overdue back"),
            ("back", "back"),
            ("cancelled", "cancelled"),
        ],
        method="filter_state",
    )

    def filter_state(self, found: Any, name: str, value: str) -> QuerySet[Any]:
        narrowed: QuerySet[Any]
        if value in ("back", "cancelled"):
            narrowed = found.filter(end=value)
        elif value == "agreed":
            narrowed = found.open().filter(left_on__isnull=True)
        else:
            narrowed = found.out()
            if value == "overdue":
                narrowed = narrowed.filter(back_due__lt=timezone.localdate())
        return narrowed


class ForeignCheckTable(RecordsTable):
    """A row for each check that stands, the newest first."""

    caption = "Hammers that are not ours"
    empty_words = "No hammer that is not ours was checked yet."
    nothing_found = "No check matches: clear the filters."

    number = Column("Check", accessor="pk")
    owner = Column("Whose")
    mark = Column("Mark")
    make_and_type = Column("Make and type")
    checked_at = MomentColumn("Checked")
    pull = Column("Line pull", empty_values=(), orderable=False)
    capacity = Column("Working capacity", empty_values=(), orderable=False)
    by = PersonColumn("By")

    def render_number(self, record: ForeignCheck) -> SafeString:
        url = reverse("foreign-check", args=[record.pk])
        return format_html('<a href="{}"><strong>{}</strong></a>', url, record.pk)

    def render_pull(self, record: ForeignCheck) -> str:
        listed = record.stated_listed_lbf
        return pull_words(record.results["pull_lbf"], self.system, listed_lbf=listed)

    def render_capacity(self, record: ForeignCheck) -> str:
        listed = record.stated_listed_lbf
        figure = record.results["working_capacity_lbf"]
        return capacity_words(figure, self.system, listed_lbf=listed)


class ForeignCheckFilter(DatedFilter):
    """Narrow the checks by a word."""

    hint = "owner, mark or type"
    searched = ("owner", "mark", "make_and_type")
    begins = "checked_at"


def newest_first(hires: QuerySet[Any]) -> QuerySet[Any]:
    """Return hires with their units: those that are open before those that ended."""
    asked = hires.select_related("housing__yard", "hammer", "recorded_by", "ended_by")
    return asked.order_by(F("ended_on").desc(nulls_first=True), "back_due", "-pk")
