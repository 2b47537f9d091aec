"""The pages of machines: what belongs to each, whatever it hangs on."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.db.models import BooleanField, ExpressionWrapper, Q
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from fleet.context import system_of
from fleet.fields import open_to_correction, show_refusal, whole_number, words_by_field
from fleet.hours import record_hours, running_hours
from fleet.models import Hammer, HourReading, MachineSort, OutOfService, PowerPack, Yard
from fleet.models.machine import column_of, sort_of
from fleet.outages import capital, named, open_outage
from fleet.people.own_yards import opens_in_own_yards
from fleet.quantities import plain_number
from fleet.roles import RECORD, manager_required, signed_in
from fleet.tables import records_page, table_of
from fleet.units import MODELS, unit_of
from inspections.count.signing import Correction, sign_inspection
from inspections.count.submission import Submission, already_signed
from inspections.machines.documents import DocumentTable, keep_document, withdraw_document
from inspections.machines.forms import (
    METERED,
    DocumentForm,
    DocumentWithdrawalForm,
    HoursForm,
    MachineInspectionForm,
    MetersForm,
)
from inspections.machines.tables import (
    HungTable,
    MachineFilter,
    MachineFindingTable,
    MachineInspectionTable,
    MachineListTable,
    MachineOutageTable,
    MachineRepairTable,
    hires_by_machine,
)
from inspections.models import (
    Finding,
    Inspection,
    MachineDocument,
    MovedRecords,
    Photo,
)
from inspections.repairs.tables import with_machines
from inspections.schedule.checklists import checklists_in_force, sort_of_part
from inspections.schedule.due import due_of_machine, findings_with_gravity
from inspections.schedule.kinds import Kind, kinds_in_use
from inspections.schedule.tables import machine_url
from inspections.service.meter import HourReadingTable
from inspections.service.views import machine_or_404
from inspections.units.records import MovedRecordsTable
from ratings.hours import correct_hours
from ratings.jobs.paper_views import send_kept
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.views import may_propose

PHOTOS_SHOWN = 24
METER_PAGES = {MachineSort.HAMMER: "meter", MachineSort.POWER_PACK: "pack-meter"}


def sort_or_404(slug: str) -> MachineSort:
    """Return the sort that an address names. Raises Http404."""
    found = next((each for each in MachineSort if each.slug == slug), None)
    if found is None:
        raise Http404("There is no such sort of machine.")
    return found


@opens_in_own_yards
def machine_list(request: HttpRequest, sort: str) -> HttpResponse:
    """Show the machines of one sort, and how each stands."""
    chosen = sort_or_404(sort)
    filters = MachineFilter(
        request.GET, queryset=MODELS[chosen].objects.select_related("yard"), request=request
    )
    table = table_of(request, MachineListTable, filters.qs, sort=chosen)
    context = {"section": "machines", "sort": chosen, "sorts": list(MachineSort)}
    return records_page(request, "machine/list.html", table, filters, context)


def machine_page(request: HttpRequest, sort: str, machine_id: int) -> HttpResponse:
    """Show one machine: what is due, what was found, what it hung on, its hours and papers."""
    machine = machine_or_404(sort, machine_id)
    chosen = sort_of(machine)
    hung = unit_of(machine)
    is_metered = chosen in METERED
    running = running_hours([machine.pk], chosen).get(machine.pk) if is_metered else None
    is_closed = ExpressionWrapper(Q(closing__isnull=False), BooleanField())
    findings = findings_with_gravity(Finding.objects.of(machine)).annotate(is_closed=is_closed)
    photos = Photo.objects.filter(
        Q(**{f"finding__{chosen.column}": machine})
        | Q(finding=None, **{f"inspection__{chosen.column}": machine})
    )
    tables = [
        table_of(request, HungTable, _hung_spans(machine)),
        table_of(
            request,
            MachineInspectionTable,
            machine.inspections.select_related(
                "own_kind",
                "recorded_by",
                "corrected_by",
                "hammer",
                "housing",
                "clamp",
                "power_pack",
            ),
        ),
        table_of(request, MachineFindingTable, findings.order_by("is_closed", "-pk")),
        table_of(
            request,
            MachineOutageTable,
            OutOfService.objects.of(machine)
            .select_related("recorded_by", "released_by")
            .prefetch_related("reaches"),
        ),
    ]
    repairs = with_machines(machine.repair_orders.all())
    tables.append(table_of(request, MachineRepairTable, repairs))
    if is_metered:
        readings = machine.hour_readings.select_related(
            "recorded_by",
            "hammer",
            "power_pack",
            "corrected_by",
            "inspection__corrected_by",
            "inspection_of_pack__corrected_by",
        )
        tables.insert(1, table_of(request, HourReadingTable, readings))
    moved = MovedRecords.objects.of(machine).select_related(*_columns())
    if moved.exists():
        tables.append(table_of(request, MovedRecordsTable, moved))
    return render(
        request,
        "machine/page.html",
        {
            "section": "machines",
            "machine": machine,
            "sort": chosen,
            "hung": hung,
            "others": {key: each for key, each in hung.by_sort.items() if each != machine},
            "is_metered": is_metered,
            "meter_url": reverse(METER_PAGES[chosen], args=[machine.pk]) if is_metered else "",
            "running": running,
            "hours_form": HoursForm(machine=machine) if is_metered else None,
            "due": due_of_machine(machine),
            "outage": open_outage(machine),
            "hire": hires_by_machine(chosen, [machine.pk]).get(machine.pk),
            "open_findings": findings.filter(is_closed=False),
            "today": timezone.localdate(),
            "tables": tables,
            "photos": photos.select_related("held").order_by("-inspection__seen_at", "pk")[
                :PHOTOS_SHOWN
            ],
            "documents": table_of(
                request,
                DocumentTable,
                machine.documents.select_related("recorded_by", "withdrawal__recorded_by"),
            ),
        },
    )


def _columns() -> list[str]:
    return [sort.column for sort in MachineSort]


def _hung_spans(machine: Any) -> list[dict[str, Any]]:
    """Return what hung together with a machine and when, the last first."""
    sort = sort_of(machine)
    spans: list[dict[str, Any]] = []
    if sort is MachineSort.HOUSING:
        for each in machine.mountings.select_related("hammer"):
            spans.append(_span(each.hammer, each.mounted_at, each.removed_at))
    elif sort is MachineSort.HAMMER:
        for each in machine.mountings.select_related("housing"):
            spans.append(_span(each.housing, each.mounted_at, each.removed_at))
        for each in machine.clampfittings.select_related("clamp"):
            spans.append(_span(each.clamp, each.fitted_at, each.removed_at))
        for each in machine.powerpackconnections.select_related("power_pack"):
            spans.append(_span(each.power_pack, each.fitted_at, each.removed_at))
    else:
        for each in machine.fittings.select_related("hammer"):
            spans.append(_span(each.hammer, each.fitted_at, each.removed_at))
    return sorted(spans, key=lambda span: span["begun"], reverse=True)


def _span(machine: Any, begun: Any, ended: Any) -> dict[str, Any]:
    return {"machine": machine, "begun": begun, "ended": ended}


@manager_required
@may_propose
def enter_hours(request: HttpRequest, sort: str, machine_id: int) -> HttpResponse:
    """Record what the meter of one machine shows, by itself; or put such a reading right."""
    machine = machine_or_404(sort, machine_id)
    if sort_of(machine) not in METERED:
        raise Http404("It has no hour meter.")
    key = whole_number(request.GET.get("corrects", ""))
    wrong = None
    if key is not None:
        alone = {"inspection": None, "inspection_of_pack": None, **column_of(machine)}
        is_open = open_to_correction(request.POST.get("submission_id", ""))
        wrong = get_object_or_404(HourReading, is_open, pk=key, **alone)
    initial = {"hours": wrong.hours, "read_at": wrong.read_at} if wrong else None
    form = HoursForm(
        request.POST if request.method == "POST" else None,
        initial=initial,
        machine=machine,
        system=system_of(request),
    )
    if request.method == "POST" and form.is_valid():
        try:
            given = {"by": signed_in(request), **form.cleaned_data}
            if wrong is None:
                reading = record_hours(machine=machine, **given)
            else:
                reading = correct_hours(corrects=wrong, **given)
        except SecondPersonNeeded:
            raise
        except ValidationError as refusal:
            show_refusal(form, refusal, form.system)
        else:
            hours = plain_number(reading.hours, 1)
            messages.success(request, f"{capital(named(machine))}: {hours} h is on record.")
            return redirect(_back(machine))
    return render(
        request,
        "machine/hours.html",
        {
            "section": "machines",
            "machine": machine,
            "sort": sort_of(machine),
            "form": form,
            "wrong": wrong,
            "running": running_hours([machine.pk], sort_of(machine)).get(machine.pk),
        },
    )


def _back(machine: Any) -> str:
    return f"{machine_url(machine)}#readings"


@manager_required
def read_meters(request: HttpRequest) -> HttpResponse:
    """Record what every hour meter of a yard shows, on one page: all that was read, or none."""
    yard = Yard.objects.filter(pk=whole_number(request.GET.get("yard", "")) or 0).first()
    hammers, packs = Hammer.objects.select_related("yard"), PowerPack.objects.select_related("yard")
    if yard is not None:
        hammers, packs = hammers.filter(yard=yard), packs.filter(yard=yard)
    machines = [*hammers.filter(retired_on=None), *packs.filter(retired_on=None)]
    form = MetersForm(
        request.POST if request.method == "POST" else None,
        machines=machines,
        system=system_of(request),
    )
    if request.method == "POST" and form.is_valid() and _record_meters(request, form):
        many = len(form.read)
        messages.success(request, f"{many} reading{'' if many == 1 else 's'} on record.")
        return redirect(request.get_full_path())
    running = {
        MachineSort.HAMMER: running_hours([each.pk for each in hammers]),
        MachineSort.POWER_PACK: running_hours([each.pk for each in packs], MachineSort.POWER_PACK),
    }
    rows = [
        (machine, sort_of(machine), field, running[sort_of(machine)].get(machine.pk))
        for machine, field in form.meters
    ]
    return render(
        request,
        "machine/meters.html",
        {
            "section": "machines",
            "form": form,
            "rows": rows,
            "yard": yard,
            "yards": Yard.objects.all(),
        },
    )


def _record_meters(request: HttpRequest, form: MetersForm) -> bool:
    try:
        with transaction.atomic():
            refused: dict[str, Any] = {}
            for name, hours in form.read.items():
                try:
                    with transaction.atomic():
                        record_hours(
                            submission_id=form.id_of(name),
                            machine=form.machines[name],
                            hours=hours,
                            read_at=form.cleaned_data["read_at"],
                            by=signed_in(request),
                        )
                except ValidationError as refusal:
                    refused[name] = refusal.message_dict.get("hours", refusal.messages)
            if refused:
                raise ValidationError(refused)
    except ValidationError as refusal:
        for name, words in refusal.message_dict.items():
            form.add_error(name, words)
        return False
    return True


@manager_required
@may_propose
def inspect_machine(request: HttpRequest, sort: str, machine_id: int) -> HttpResponse:
    """Inspect one machine by itself, such as a hammer on no housing, or correct such a one."""
    machine = machine_or_404(sort, machine_id)
    chosen = sort_of(machine)
    corrected = _corrected(request, machine)
    kinds = [kind for kind in kinds_in_use() if chosen in kind.sorts]
    kind = _kind_asked(request, kinds, corrected)
    in_force = checklists_in_force().get(kind.name)
    items = [
        item
        for item in (in_force.items if in_force and corrected is None else ())
        if sort_of_part(item.part, item.text) is chosen
    ]
    form = MachineInspectionForm(
        request.POST if request.method == "POST" else None,
        sort=chosen,
        machine=machine,
        items=items,
        is_correction=corrected is not None,
        initial=_corrected_values(corrected),
        system=system_of(request),
    )
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data.get("correction_reason", "")
        try:
            signed = sign_inspection(
                machine=machine,
                submission=Submission(form.cleaned_data["submission_id"]),
                seen=form.seen(kind.name),
                by=signed_in(request),
                correction=Correction(reason, corrected) if corrected else None,
            )
        except SecondPersonNeeded:
            raise
        except ValidationError as refusal:
            _take_signing(form, refusal)
        else:
            if signed.is_copy:
                messages.warning(request, already_signed(signed.inspection.recorded_at))
            else:
                messages.success(request, f"The inspection of {named(machine)} is on record.")
            return redirect(machine_url(machine))
    return render(
        request,
        "machine/inspect.html",
        {
            "section": "machines",
            "machine": machine,
            "sort": chosen,
            "unit": unit_of(machine).housing,
            "kinds": kinds,
            "kind": kind,
            "form": form,
            "corrected": corrected,
        },
    )


def _corrected(request: HttpRequest, machine: Any) -> Inspection | None:
    key = whole_number(request.GET.get("corrects", ""))
    if key is None:
        return None
    is_open = open_to_correction(request.POST.get("submission_id", ""))
    alone = dict.fromkeys(_columns()) | column_of(machine)
    return get_object_or_404(Inspection, is_open, pk=key, **alone)


def _corrected_values(corrected: Inspection | None) -> dict[str, Any] | None:
    if corrected is None:
        return None
    reading = corrected.hour_reading or corrected.pack_hour_reading
    return {
        "seen_at": corrected.seen_at,
        "weather": corrected.weather,
        "note": corrected.note,
        "hours": reading.hours if reading else None,
    }


def _kind_asked(request: HttpRequest, kinds: list[Kind], corrected: Inspection | None) -> Kind:
    """Return the kind that an address names, the first that looks at this unless it names one."""
    name = corrected.kind_name if corrected else request.GET.get("kind", "")
    found = next((kind for kind in kinds if kind.name == name), None)
    if found is None and name:
        raise Http404("No such kind of inspection looks at this machine.")
    return found or next(kind for kind in kinds if kind.name == "monthly" or kind == kinds[-1])


def _take_signing(form: MachineInspectionForm, refusal: ValidationError) -> None:
    for name, words in words_by_field(refusal, form.system).items():
        field = "hours" if name == "pack_hours" else name
        for each in words:
            form.add_error(field if field in form.fields else None, each)


def machine_documents(request: HttpRequest, sort: str, machine_id: int) -> HttpResponse:
    """Show the files kept of a machine; who keeps records may add one."""
    machine = machine_or_404(sort, machine_id)
    is_sent = request.method == "POST"
    if is_sent and not signed_in(request).has_perm(RECORD):
        raise PermissionDenied
    form = DocumentForm(request.POST if is_sent else None, files=request.FILES if is_sent else None)
    if is_sent and form.is_valid():
        given = form.cleaned_data
        try:
            kept = keep_document(
                submission_id=given["submission_id"],
                machine=machine,
                kind=given["kind"],
                title=given["title"],
                sent=given["sent"].read(),
                by=signed_in(request),
            )
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            messages.success(request, f"“{kept.title}” is kept of {named(machine)}.")
            return redirect("machine-documents", sort, machine.pk)
    found = machine.documents.select_related("recorded_by", "withdrawal__recorded_by")
    table = table_of(request, DocumentTable, found)
    context = {"section": "machines", "machine": machine, "sort": sort_of(machine), "form": form}
    return records_page(request, "machine/documents.html", table, None, context)


def machine_document(request: HttpRequest, document_id: int) -> FileResponse:
    """Send a file kept of a machine, to whoever is signed in; there is no other way to it."""
    return send_kept(get_object_or_404(MachineDocument, pk=document_id))


@manager_required
def withdraw_machine_document(request: HttpRequest, document_id: int) -> HttpResponse:
    """Say that a file kept of a machine counts no more, and why; it is kept."""
    held = get_object_or_404(MachineDocument.objects.select_related(*_columns()), pk=document_id)
    form = DocumentWithdrawalForm(request.POST if request.method == "POST" else None)
    machine = held.machine
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        withdraw_document(
            submission_id=given["submission_id"],
            document=held,
            reason=given["reason"],
            by=signed_in(request),
        )
        messages.success(request, f"“{held.title}” is withdrawn.")
        return redirect("machine-documents", sort_of(machine).slug, machine.pk)
    context = {
        "section": "machines",
        "document": held,
        "machine": machine,
        "sort": sort_of(machine),
        "form": form,
    }
    return render(request, "machine/withdraw.html", context)
