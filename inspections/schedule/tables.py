"""What is due, and findings, as tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any

import django_filters
from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.dates import day_words
from fleet.models import MachineSort, Yard
from fleet.models.machine import sort_of
from fleet.people.own_yards import OwnYardsFilter, OwnYardsTable
from fleet.signers import signer_words
from fleet.tables import (
    ChangesTable,
    Column,
    DayColumn,
    MomentColumn,
    PersonColumn,
    RecordsTable,
    TemplateColumn,
)
from inspections.models import Finding, Severity
from inspections.schedule.intervals import rows_in_force
from inspections.schedule.kinds import NEED_OR_SIGNER_WORDS
from inspections.schedule.pressing import CHANGED_JUST_NOW, PressingKind, with_units


def machine_url(machine: Any) -> str:
    """Return the address of a machine's page."""
    return reverse("machine-page", args=[sort_of(machine).slug, machine.pk])


def machine_link(machine: Any) -> SafeString:
    """Return a machine's mark as a link to its page, with its sort."""
    url = machine_url(machine)
    return format_html('{} <a href="{}">{}</a>', sort_of(machine), url, machine.mark)


class DueTable(RecordsTable):
    """A row for each kind that presses at a unit; they come from pressing_of_fleet."""

    caption = "Overdue first, then what comes within a week or the last tenth of its hours"
    anchor = "inspections"
    empty_words = "Nothing is due soon."
    nothing_found = "Nothing that is due matches: clear the filters."

    mark = Column("Unit")
    inspection = Column("Inspection", accessor="kind")
    stands = Column("How it stands", accessor="place")
    last_day = Column("Last made")
    by_whom = Column("By")

    def load_page(self, records: list[PressingKind]) -> None:
        self.read_now = with_units(records)

    def render_mark(self, record: PressingKind) -> SafeString | str:
        if record not in self.read_now:
            return record.mark
        unit, _ = self.read_now[record]
        return format_html(
            '<a href="{}"><strong>{}</strong></a> {}<br><span class="small faint">{}</span>',
            unit.url,
            unit.mark,
            unit.where,
            unit.yard,
        )

    def render_stands(self, record: PressingKind) -> SafeString | str:
        if record not in self.read_now:
            return CHANGED_JUST_NOW
        _, kind = self.read_now[record]
        if not kind.is_overdue:
            return kind.words_with_machine
        words = kind.words_with_machine
        return format_html('<strong class="error">overdue</strong>: {}', words)

    def render_last_day(self, record: PressingKind) -> str:
        return "never" if record.last_day == date.min else day_words(record.last_day)


def _kinds_scheduled() -> Iterator[tuple[str, str]]:
    for row in rows_in_force():
        yield row.kind, row.kind


class DueFilter(OwnYardsFilter):
    """Narrow what is due by a word, by yard, by kind, or by how it presses."""

    hint = "mark, hammer or yard"
    searched = ("mark", "yard__name")

    yard = django_filters.ModelChoiceFilter(
        label="Yard", empty_label="any", queryset=Yard.objects.all()
    )
    # These two are told of each kind of a unit, once it is worked out: not by the query.
    kind = django_filters.ChoiceFilter(
        label="Inspection", empty_label="any", choices=_kinds_scheduled, method="filter_later"
    )
    state = django_filters.ChoiceFilter(
        label="Stands",
        empty_label="either",
        choices=[("overdue", "overdue"), ("soon", "due soon")],
        method="filter_later",
    )

    def filter_search(self, records: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        mounted = records.filter(
            mountings__removed_at__isnull=True, mountings__hammer__mark__icontains=value
        )
        found = super().filter_search(records, name, value)
        return found | records.filter(pk__in=mounted.order_by().values("pk"))

    def filter_later(self, housings: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return housings

    def asked(self, name: str) -> str:
        """Return what is asked of a field, "" where nothing is."""
        return str(self.form.cleaned_data.get(name) or "") if self.form.is_valid() else ""


class FindingTable(OwnYardsTable):
    """Findings; they come from findings_with_gravity."""

    caption = "Findings still open"
    anchor = "findings"
    own_prefix = "findings-"
    empty_words = "None: every finding is closed."
    dated_by = ("inspection__seen_at", "closing__closed_at")

    finding = TemplateColumn("schedule/finding_cell.html", "Finding", order_by=("gravity", "text"))
    unit = Column("Machine", accessor="machine", order_by=("housing__mark", "hammer__mark"))
    found = Column("Found", accessor="inspection__seen_at")
    act_by = Column("To act", empty_values=())
    close = Column("", empty_values=(), orderable=False)

    def render_unit(self, record: Finding) -> SafeString:
        return machine_link(record.machine)

    def render_found(self, record: Finding) -> SafeString:
        return format_html(
            '<span class="nowrap">{}</span><br><span class="small">{}, <a href="{}">inspection {}'
            "</a></span>",
            day_words(record.inspection.seen_at),
            signer_words(record.inspection),
            reverse("inspection", args=[record.inspection_id]),
            record.inspection_id,
        )

    def render_act_by(self, record: Finding) -> SafeString | str:
        if record.act_by is None:
            return "nobody needs to"
        words = f"{record.who_acts} by {day_words(record.act_by)}"
        is_over = not hasattr(record, "closing") and record.act_by < timezone.localdate()
        return format_html('{} <strong class="error">overdue</strong>', words) if is_over else words

    def render_close(self, record: Finding) -> SafeString | str:
        if hasattr(record, "closing"):
            closing = record.closing
            by = signer_words(closing)
            return f"closed {day_words(closing.closed_at)} by {by}: {closing.done}"
        if not self.may_record_in(record.machine.yard_id):
            return ""
        return format_html('<a href="{}">Close it</a>', reverse("close-finding", args=[record.pk]))

    def cell_context(self, record: Finding) -> dict[str, Any]:
        return {"finding": record, "is_grave": record.severity == Severity.DO_NOT_USE}


class ChecklistTable(ChangesTable):
    """Editions of one kind's list."""

    empty_words = "None: the default list is in force."

    items = Column("Items", css="number", orderable=False)

    def render_items(self, value: list[Any]) -> str:
        return str(len(value))


class KindSortsTable(RecordsTable):
    """What a kind was changed to look at, the last first."""

    caption = "Changes of what it looks at"
    anchor = "looks-at"
    own_prefix = "looks-at-"
    empty_words = "None: it looks at what it looked at when it was added."
    dated_by = ("recorded_at",)

    recorded_at = MomentColumn("From")
    sorts_said = Column("Looks at", orderable=False)
    reason = Column("Why")
    by = PersonColumn("By")

    def render_sorts_said(self, value: tuple[MachineSort, ...]) -> str:
        return ", ".join(sort.label for sort in value)


class KindNeedsTable(RecordsTable):
    """What a kind was changed to need, the last first."""

    caption = "Changes of what it needs"
    anchor = "needs"
    own_prefix = "needs-"
    empty_words = "None: it needs what it needed when it was added."
    dated_by = ("recorded_at",)

    recorded_at = MomentColumn("From")
    needs_said = Column("Needs", orderable=False, empty_values=())
    reason = Column("Why")
    by = PersonColumn("By")

    def render_needs_said(self, value: tuple[str, ...]) -> str:
        return needs_words(value)


def needs_words(needs: Iterable[str]) -> str:
    """Say what a kind needs."""
    return ", ".join(NEED_OR_SIGNER_WORDS[need] for need in needs) or "nothing"


class KindTable(RecordsTable):
    """Kinds of inspection the yard added."""

    caption = "Kinds of your own"
    empty_words = "None yet: add the first below."

    name = Column("Kind")
    sorts = Column("Looks at", orderable=False)
    needs = Column("Needs", orderable=False, empty_values=())
    recorded_at = DayColumn("Added")
    by = PersonColumn("By")
    use = TemplateColumn("schedule/kind_in_use.html", "In use", orderable=False)

    def render_name(self, value: str) -> SafeString:
        return format_html("<strong>{}</strong>", value)

    def render_sorts(self, value: tuple[MachineSort, ...]) -> str:
        return ", ".join(sort.label for sort in value)

    def render_needs(self, value: tuple[str, ...]) -> str:
        return needs_words(value)
