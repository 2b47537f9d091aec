from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.fields import FactForm, MomentField
from fleet.hours import record_meter_change, running_hours, stand_near
from fleet.models import Hammer, HourReading, MeterChange, PowerPack
from fleet.models.machine import sort_of
from fleet.people.own_yards import OwnYardsTable
from fleet.quantities import plain_number
from fleet.roles import manager_required, signed_in
from fleet.tables import Column, MomentColumn, PersonColumn, RecordsTable, table_of


class MeterForm(FactForm):
    """A meter that was changed or set back."""

    changed_at = MomentField(label="Changed at", initial=timezone.now)

    class Meta:
        model = MeterChange
        fields = ["changed_at", "old_hours", "new_hours", "reason"]


class HoursColumn(Column):
    """Hours of running."""

    def render(self, value: float) -> str:
        return f"{plain_number(value, 1)} h"


class MeterChangeTable(RecordsTable):
    """Changes of one machine's meter, the last first."""

    caption = "Changes of the meter"
    anchor = "changes"
    own_prefix = "changes-"
    empty_words = "No change of meter."
    dated_by = ("changed_at",)

    changed_at = MomentColumn("When")
    old_hours = HoursColumn("Changed at", css="number")
    new_hours = HoursColumn("The new one from", css="number")
    reason = Column("Why")
    by = PersonColumn("By")


class HourReadingTable(OwnYardsTable):
    """Readings of one machine's meter, the last first."""

    caption = "Readings"
    anchor = "readings"
    own_prefix = "readings-"
    empty_words = "Never read."
    dated_by = ("read_at",)

    read_at = MomentColumn("When")
    hours = HoursColumn("Hours", css="number")
    inspection = Column("Inspection", empty_values=(), orderable=False)
    by = PersonColumn("By")

    def render_inspection(self, record: HourReading) -> SafeString | str:
        inspection = getattr(record, "inspection", None)
        inspection = inspection or getattr(record, "inspection_of_pack", None)
        corrected = format_html(": <strong>{}</strong>", "corrected since, counts no more")
        if inspection is not None:
            return format_html(
                '<a href="{}">inspection {}</a>{}',
                reverse("inspection", args=[inspection.pk]),
                inspection.pk,
                corrected if hasattr(inspection, "corrected_by") else "",
            )
        if hasattr(record, "corrected_by"):
            return format_html("by itself{}", corrected)
        machine = record.machine
        if not self.may_record_in(machine.yard_id):
            return "by itself"
        url = reverse("enter-hours", args=[sort_of(machine).slug, machine.pk])
        return format_html('by itself <a href="{}?corrects={}">Correct it</a>', url, record.pk)


@manager_required
def meter(request: HttpRequest, hammer_id: int) -> HttpResponse:
    """Record that a hammer's hour meter was changed, and show what it read before."""
    return _meter_page(request, get_object_or_404(Hammer, pk=hammer_id), "meter")


@manager_required
def pack_meter(request: HttpRequest, machine_id: int) -> HttpResponse:
    """Record that a power pack's hour meter was changed, and show what it read before."""
    return _meter_page(request, get_object_or_404(PowerPack, pk=machine_id), "pack-meter")


def _meter_page(request: HttpRequest, machine: Hammer | PowerPack, page: str) -> HttpResponse:
    form = MeterForm(request.POST if request.method == "POST" else None)
    stand_near(form.fields["old_hours"], machine)
    if request.method == "POST" and form.is_valid():
        try:
            record_meter_change(
                hammer=machine if isinstance(machine, Hammer) else None,
                power_pack=machine if isinstance(machine, PowerPack) else None,
                by=signed_in(request),
                **form.cleaned_data,
            )
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            messages.success(request, "The meter change is recorded; hours run go on over it.")
            return redirect(page, machine.pk)
    readings = machine.hour_readings.select_related(
        "recorded_by",
        "hammer",
        "power_pack",
        "corrected_by",
        "inspection__corrected_by",
        "inspection_of_pack__corrected_by",
    )
    changes = machine.meter_changes.select_related("recorded_by")
    return render(
        request,
        "service/meter.html",
        {
            "section": "machines",
            "machine": machine,
            "sort": sort_of(machine),
            "form": form,
            "running": running_hours([machine.pk], sort_of(machine)).get(machine.pk),
            "tables": [
                table_of(request, MeterChangeTable, changes),
                table_of(request, HourReadingTable, readings),
            ],
        },
    )
