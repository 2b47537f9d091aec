"""Machines as tables: those of a sort, what each hung on, its inspections, findings, outages."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import django_filters
from django.db.models import QuerySet
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from fleet.hours import running_hours
from fleet.models import (
    ClampFitting,
    Hire,
    MachineSort,
    Mounting,
    OutOfService,
    PowerPackConnection,
    Yard,
)
from fleet.outages import named
from fleet.people.own_yards import OwnYardsFilter
from fleet.quantities import plain_number
from fleet.tables import Column, MomentColumn, PersonColumn, RecordsTable
from inspections.machines.forms import METERED
from inspections.models import Finding, Inspection
from inspections.repairs.tables import RepairOrderTable
from inspections.schedule.due import Due, due_of_machines, key_of
from inspections.schedule.tables import FindingTable, machine_url
from inspections.units.records import OutageTable


class MachineListTable(RecordsTable):
    """Machines of one sort, each with what it hangs on and how it stands."""

    caption = "Machines"
    anchor = "machines"
    css = "tiles"
    empty_words = "None is on record."
    nothing_found = "No machine matches: clear the filters."

    mark = Column("Mark")
    hangs = Column("Hangs on", empty_values=(), orderable=False)
    yard = Column("Yard", accessor="yard__name")
    hours = Column("Hours run", empty_values=(), orderable=False)
    due = Column("What is due", empty_values=(), orderable=False)
    open = Column("Open", empty_values=(), orderable=False)

    def __init__(self, *args: Any, sort: MachineSort, **kwargs: Any) -> None:
        self.sort = sort
        # A housing and a clamp have no meter.
        left_out = () if sort in METERED else ("hours",)
        super().__init__(*args, exclude=left_out, **kwargs)

    def load_page(self, records: list[Any]) -> None:
        keys = [record.pk for record in records]
        self.asked = due_of_machines(records)
        column = self.sort.column
        self.out = dict(
            OutOfService.objects.open()
            .filter(**{f"{column}__in": keys})
            .values_list(column, "reason")
        )
        self.findings: dict[int, int] = {}
        for key in (
            Finding.objects.open().filter(**{f"{column}__in": keys}).values_list(column, flat=True)
        ):
            self.findings[key] = self.findings.get(key, 0) + 1
        self.running = running_hours(keys, self.sort) if self.sort in METERED else {}
        self.on = self._hangs_on(keys)
        self.hires = hires_by_machine(self.sort, keys)

    def _hangs_on(self, keys: list[int]) -> dict[int, str]:
        if self.sort is MachineSort.HAMMER:
            mounted = Mounting.objects.current().filter(hammer__in=keys).select_related("housing")
            return {each.hammer_id: f"under housing {each.housing}" for each in mounted}
        if self.sort is MachineSort.HOUSING:
            hammers = Mounting.objects.hammers_by_housing(keys)
            return {key: f"on hammer {hammer}" for key, hammer in hammers.items()}
        model: Any = ClampFitting if self.sort is MachineSort.CLAMP else PowerPackConnection
        column = self.sort.column
        fitted = model.objects.current().filter(**{f"{column}__in": keys}).select_related("hammer")
        return {getattr(each, f"{column}_id"): f"on hammer {each.hammer}" for each in fitted}

    def render_mark(self, record: Any) -> SafeString:
        return format_html('<a href="{}"><strong>{}</strong></a>', machine_url(record), record.mark)

    def render_hangs(self, record: Any) -> SafeString | str:
        if record.retired_on is not None:
            return "out of use"
        none = "on no housing" if self.sort is MachineSort.HAMMER else "spare"
        words = self.on.get(record.pk, none)
        hire = self.hires.get(record.pk)
        if hire is None:
            return words
        # Since an overdue one presses, it is not told by its colour alone.
        css = "error" if hire.is_overdue else "small"
        return format_html(
            '{}<br><a class="{}" href="{}">{}</a>',
            words,
            css,
            reverse("hire", args=[hire.pk]),
            hire.machine_words,
        )

    def render_hours(self, record: Any) -> str:
        run = self.running.get(record.pk)
        return f"{plain_number(run.now, 1)} h" if run else "–"

    def render_due(self, record: Any) -> SafeString | str:
        found = self.asked[key_of(record)]
        lines = [*found.overdue, *found.soon] or list(found.kinds[:1])
        if not lines:
            return "nothing scheduled"
        return format_html_join(SafeString("<br>"), "{}", ((due_words(each),) for each in lines))

    def render_open(self, record: Any) -> SafeString | str:
        words = []
        if record.pk in self.out:
            words.append(format_html('<strong class="error">{}</strong>', "out of service"))
        many = self.findings.get(record.pk, 0)
        if many:
            words.append(format_html("{} finding{}", many, "" if many == 1 else "s"))
        return format_html_join(SafeString("<br>"), "{}", ((each,) for each in words)) or "–"


def hires_by_machine(sort: MachineSort, keys: Iterable[int]) -> dict[int, Hire]:
    """Return the open hire that each of some machines of a sort is part of, by its key.

    A clamp or a power pack goes with the hammer it is on.
    """
    hires = Hire.objects.open()
    if sort is MachineSort.HOUSING:
        return hires.open_by_housing(keys)
    by_hammer = {each.hammer_id: each for each in hires}
    if sort is MachineSort.HAMMER:
        return {key: by_hammer[key] for key in keys if key in by_hammer}
    model: Any = ClampFitting if sort is MachineSort.CLAMP else PowerPackConnection
    fitted = model.objects.current().filter(
        hammer__in=by_hammer, **{f"{sort.column}__in": list(keys)}
    )
    return {key: by_hammer[hammer] for key, hammer in fitted.values_list(sort.column, "hammer")}


def due_words(kind: Due) -> SafeString | str:
    """Return how one kind stands at a machine, what is overdue said first."""
    words = f"{kind.row.kind}: {kind.words}"
    if not kind.is_overdue:
        return words
    return format_html('<strong class="error">overdue</strong> {}', words)


class MachineFilter(OwnYardsFilter):
    """Narrow machines by a word, by yard, by whether they hang on anything."""

    hint = "mark, make or yard"
    searched = ("mark", "yard__name", "serial_number")

    yard = django_filters.ModelChoiceFilter(
        label="Yard", empty_label="any", queryset=Yard.objects.all()
    )
    hangs = django_filters.ChoiceFilter(
        label="Hangs",
        empty_label="either",
        choices=[("yes", "in a unit"), ("no", "by itself")],
        method="filter_hangs",
    )
    state = django_filters.ChoiceFilter(
        label="Stands",
        empty_label="any",
        choices=[("out", "out of service"), ("finding", "with an open finding")],
        method="filter_state",
    )

    def filter_hangs(self, records: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        is_mounted = records.model._meta.model_name in ("hammer", "suppressorhousing")
        spans = "mountings" if is_mounted else "fittings"
        hanging = records.model.objects.filter(**{f"{spans}__removed_at": None}).exclude(
            **{f"{spans}__isnull": True}
        )
        keys = hanging.order_by().values("pk")
        return records.filter(pk__in=keys) if value == "yes" else records.exclude(pk__in=keys)

    def filter_state(self, records: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        if value == "out":
            return records.filter(
                times_out_of_service__isnull=False, times_out_of_service__released_at=None
            ).distinct()
        return records.filter(findings__isnull=False, findings__closing=None).distinct()


class HungTable(RecordsTable):
    """What a machine hung on, or what hung on it, the last first."""

    anchor = "hung"
    own_prefix = "hung-"
    empty_words = "Never hung on anything on record."
    caption = "What it hung on"
    dated_by = ("begun", "ended")

    what = Column("What", empty_values=(), orderable=False)
    begun = MomentColumn("From", orderable=False)
    ended = MomentColumn("To", default="now", orderable=False)

    def render_what(self, record: dict[str, Any]) -> SafeString:
        machine = record["machine"]
        return format_html('<a href="{}">{}</a>', machine_url(machine), named(machine))


class MachineInspectionTable(RecordsTable):
    """Inspections of one machine, the last first."""

    caption = "Inspections"
    anchor = "inspections"
    own_prefix = "inspections-"
    empty_words = "Never inspected."
    dated_by = ("seen_at",)

    seen_at = MomentColumn("When")
    kind = Column("Inspection", accessor="kind_name", orderable=False)
    hung = Column("Hung together with", empty_values=(), orderable=False)
    by = PersonColumn("By")

    def render_kind(self, record: Inspection, value: str) -> SafeString:
        corrected = format_html(", <strong>{}</strong>", "corrected since")
        return format_html(
            '<a href="{}">inspection {}</a>, {}{}',
            reverse("inspection", args=[record.pk]),
            record.pk,
            value,
            corrected if hasattr(record, "corrected_by") else "",
        )

    def render_hung(self, record: Inspection) -> str:
        marks = [str(machine) for machine in record.machines.values()]
        return ", ".join(marks) if len(marks) > 1 else "by itself"


class MachineFindingTable(FindingTable):
    """Findings of one machine, those still open first."""

    caption = "Findings"
    empty_words = "None recorded."

    class Meta:
        exclude = ("unit",)


class MachineOutageTable(OutageTable):
    """Times one machine was out of service, the last first."""

    own_prefix = "service-"
    dated_by = ("since", "released_at")


class MachineRepairTable(RepairOrderTable):
    """The repairs of one machine."""

    anchor = "repairs"
    own_prefix = "repairs-"
    empty_words = "None: no repair of it was ordered."
    dated_by = ("recorded_at", "closing__recorded_at")

    class Meta:
        exclude = ("machine",)
