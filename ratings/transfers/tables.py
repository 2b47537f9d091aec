"""Transfers, distances between yards and transport rules as tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import django_filters
from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.dates import day_words
from fleet.models import Transfer, TransferEnd, Yard
from fleet.people.own_yards import OwnYardsFilter
from fleet.quantities import Quantity
from fleet.tables import (
    ChangesTable,
    Column,
    DatedFilter,
    DayColumn,
    MeasuredColumn,
    MomentColumn,
    PersonColumn,
    RecordsTable,
    TemplateColumn,
)
from ratings.models import TransferForJob


class TransferTable(RecordsTable):
    """A row for each transfer."""

    caption = "Transfers between yards"
    empty_words = "No transfer is on record."
    nothing_found = "No transfer matches: clear the filters."

    what = Column("What", accessor="pk", order_by=("housing__mark", "hammer__mark"))
    state = TemplateColumn("transfers/state.html", "State", orderable=False)
    origin = Column("From", accessor="origin__name")
    goal = Column("To", accessor="goal__name")
    leaves_on = DayColumn("Leaves")
    arrives_on = DayColumn("Arrives")
    haul_mi = MeasuredColumn(Quantity.DISTANCE, "Haul")
    job = Column("For", empty_values=(), orderable=False)

    def load_page(self, records: list[Transfer]) -> None:
        links = TransferForJob.objects.filter(transfer__in=records).select_related("job")
        self.jobs = {each.transfer_id: each.job for each in links}

    def render_what(self, record: Transfer) -> SafeString:
        url = reverse("transfer", args=[record.pk])
        return format_html('<a href="{}"><strong>{}</strong></a>', url, record.what)

    def render_job(self, record: Transfer) -> SafeString | str:
        job = self.jobs.get(record.pk)
        if job is None:
            return record.note or "–"
        return format_html('<a href="{}">{}</a>', reverse("job", args=[job.pk]), job.site)


class TransferFilter(OwnYardsFilter, DatedFilter):
    """Narrow the transfers by a word, a yard or how they stand."""

    hint = "mark or yard"
    searched = ("housing__mark", "hammer__mark", "origin__name", "goal__name")
    begins, ends = "leaves_on", "arrives_on"

    state = django_filters.ChoiceFilter(
        label="State",
        empty_label="any",
        choices=[
            ("open", "planned or on its way"),
            ("late", "late"),
            ("arrived", "arrived"),
            ("cancelled", "cancelled"),
        ],
        method="filter_state",
    )
    yard = django_filters.ModelChoiceFilter(
        label="Yard", empty_label="any", queryset=Yard.objects.all(), method="filter_yard"
    )

    def filter_state(self, found: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        if value in ("arrived", "cancelled"):
            return found.filter(end__kind=value)
        still = found.filter(end__isnull=True)
        return still.filter(arrives_on__lt=timezone.localdate()) if value == "late" else still

    def filter_yard(self, found: QuerySet[Any], name: str, value: Yard) -> QuerySet[Any]:
        return self.in_yards(found, (value,))

    def in_yards(self, records: Any, yards: Sequence[Yard]) -> QuerySet[Any]:
        found: QuerySet[Any] = records.filter(Q(origin__in=yards) | Q(goal__in=yards))
        return found


class YardHaulTable(RecordsTable):
    """Distances between yards as they were recorded, the last first."""

    caption = "Distances recorded"
    anchor = "hauls"
    own_prefix = "hauls-"
    empty_words = "None yet: a transfer then asks for its haul each time."
    dated_by = ("recorded_at",)

    one_yard = Column("Between", accessor="one_yard__name")
    other_yard = Column("And", accessor="other_yard__name")
    haul_mi = MeasuredColumn(Quantity.DISTANCE, "Distance")
    recorded_at = MomentColumn("Recorded")
    by = PersonColumn("By")


class TransportRulesTable(ChangesTable):
    """Transport rules of before."""

    rule = Column("Rule", empty_values=(), orderable=False)

    class Meta:
        sequence = ("recorded_at", "rule", "reason", "by")

    def render_rule(self, record: Any) -> str:
        miles = Quantity.DISTANCE.words(record.miles_a_day, self.system)
        return f"{miles} a day, {record.least_days} at the least"


def ended_words(transfer: Transfer) -> str:
    """Say where a thing is now that its transfer ended, and with which hammer."""
    end = transfer.ended
    if end is None or end.kind == TransferEnd.CANCELLED:
        return f"The transfer is cancelled: {transfer.what} stays in {transfer.origin}."
    with_hammer = f" with {end.hammer}" if end.hammer and transfer.housing_id else ""
    return f"{transfer.what}{with_hammer} is in {transfer.goal} since {day_words(end.ended_on)}."
