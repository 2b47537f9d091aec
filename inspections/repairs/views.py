"""The pages of repairs: ordered, worked on, done, and the list of work for a day."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.context import system_of
from fleet.fields import show_refusal, whole_number
from fleet.kept_files import open_kept
from fleet.models import MachineSort
from fleet.people.own_yards import opens_in_own_yards
from fleet.picture import NoPicture
from fleet.roles import RECORD, manager_required, signed_in
from fleet.tables import records_page, table_of
from fleet.units import MODELS
from inspections.models import Finding, RepairLine, RepairOrder, RepairPhoto, RestorePlan
from inspections.repairs.forms import (
    CancelForm,
    FinishForm,
    LineForm,
    PhotoForm,
    RepairOrderForm,
    TakeBackForm,
    WorkListForm,
    named,
)
from inspections.repairs.recording import (
    add_line,
    add_photo,
    cancel_repair,
    cost_of,
    finish_repair,
    order_repair,
    take_back_line,
)
from inspections.repairs.tables import (
    RepairLineTable,
    RepairOrderFilter,
    RepairOrderTable,
    with_machines,
)
from ratings.record.giving import send_paper


@opens_in_own_yards
def repairs(request: HttpRequest) -> HttpResponse:
    """Show every repair order, the newest first, and offer the list of work for a day."""
    filters = RepairOrderFilter(
        request.GET, queryset=with_machines(RepairOrder.objects.all()), request=request
    )
    table = table_of(request, RepairOrderTable, filters.qs)
    context = {"section": "due", "work_list": WorkListForm()}
    return records_page(request, "repairs/repairs.html", table, filters, context)


@manager_required
def new_repair(request: HttpRequest) -> HttpResponse:
    """Order a repair: of a finding, of a machine named in the address, or of one by its mark."""
    finding = _finding_asked(request)
    form = RepairOrderForm(
        request.POST if request.method == "POST" else None,
        finding=finding,
        initial=_initial(request, finding),
    )
    if request.method == "POST" and form.is_valid():
        given = dict(form.cleaned_data)
        machine = finding.machine if finding is not None else given.pop("machine")
        try:
            made = order_repair(machine=machine, finding=finding, by=signed_in(request), **given)
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
        else:
            messages.success(request, f"Repair order {made.pk} is made.")
            return redirect("repair-order", made.pk)
    return render(
        request, "repairs/order_form.html", {"section": "due", "form": form, "finding": finding}
    )


def repair_order(request: HttpRequest, order_id: int) -> HttpResponse:
    """Show a repair: what is to be done, what it took and cost, its photos; who records adds."""
    order = get_object_or_404(with_machines(RepairOrder.objects.all()), pk=order_id)
    forms = _forms(request, order)
    if request.method == "POST":
        if not signed_in(request).has_perm(RECORD):
            raise PermissionDenied
        name = next((each for each in forms if each in request.POST), None)
        if name is not None and forms[name].is_valid() and _take(request, order, name, forms[name]):
            return redirect("repair-order", order.pk)
    lines = list(order.lines.select_related("recorded_by", "taken_back__recorded_by"))
    return render(
        request,
        "repairs/order.html",
        {
            "section": "due",
            "order": order,
            "forms": forms,
            "photos": order.photos.select_related("recorded_by"),
            "cost": cost_of(lines),
            "table": table_of(
                request,
                RepairLineTable,
                order.lines.all().select_related("recorded_by", "taken_back__recorded_by"),
            ),
            "is_housing": order.sort is MachineSort.HOUSING,
            "plan": RestorePlan.objects.of_order(order),
        },
    )


@manager_required
def take_back(request: HttpRequest, line_id: int) -> HttpResponse:
    """Take back a line of a repair that was wrong."""
    line = get_object_or_404(RepairLine.objects.select_related("order"), pk=line_id)
    form = TakeBackForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            take_back_line(line=line, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal, system_of(request))
        else:
            messages.success(request, f"“{line.text}” counts no more.")
            return redirect("repair-order", line.order_id)
    return render(request, "repairs/take_back.html", {"section": "due", "form": form, "line": line})


def work_list(request: HttpRequest) -> HttpResponse:
    """Print what is to be repaired in a yard by a day; asked wrongly, say what would do."""
    form = WorkListForm(request.GET)
    if not form.is_valid():
        return render(request, "repairs/work_list.html", {"section": "due", "form": form})
    # Imported on need: the site must not wait for the PDF library at start.
    from inspections.repairs.paper import work_list_pdf, work_list_stated

    yard, day = form.cleaned_data["yard"], form.cleaned_data["day"]
    return send_paper(
        request,
        "work list",
        f"{yard.pk} {day}",
        f"work-list-{day.isoformat()}.pdf",
        lambda stamp: work_list_pdf(yard, day, stamp),
        work_list_stated(yard, day),
    )


def photo(request: HttpRequest, repair_photo_id: uuid.UUID) -> FileResponse:
    """Send a photo of a repair; there is no other way to it."""
    kept = get_object_or_404(RepairPhoto, pk=repair_photo_id)
    return FileResponse(open_kept(kept.file), content_type="image/jpeg")


def _forms(request: HttpRequest, order: RepairOrder) -> dict[str, Any]:
    """Return the forms of an order's page by the name of their button; the one sent is filled."""

    def sent(name: str) -> Any:
        return request.POST if request.method == "POST" and name in request.POST else None

    files = request.FILES if sent("photo_of") is not None else None
    made: dict[str, Any] = {
        "line": LineForm(sent("line"), yard=order.machine.yard),
        "photo_of": PhotoForm(sent("photo_of"), files),
        "finish": FinishForm(sent("finish"), order=order),
        "cancel": CancelForm(sent("cancel")),
    }
    return made


def _take(request: HttpRequest, order: RepairOrder, name: str, form: Any) -> bool:
    given, by = dict(form.cleaned_data), signed_in(request)
    try:
        match name:
            case "line":
                add_line(order=order, by=by, **given)
                said = "It is recorded."
            case "photo_of":
                given["photo_id"] = given.pop("submission_id")
                add_photo(order=order, by=by, sent=given.pop("photo").read(), **given)
                said = "The photo is kept."
            case "finish":
                given.setdefault("closes_finding", False)
                finish_repair(order=order, by=by, **given)
                said = "The repair is done."
            case _:
                cancel_repair(order=order, by=by, **given)
                said = "The order is cancelled."
    except NoPicture as refusal:
        form.add_error("photo", str(refusal))
        return False
    except ValidationError as refusal:
        show_refusal(form, refusal, system_of(request))
        return False
    messages.success(request, said)
    return True


def _finding_asked(request: HttpRequest) -> Finding | None:
    key = whole_number(request.GET.get("finding", ""))
    if key is None:
        return None
    found: Finding
    found = get_object_or_404(Finding.objects.select_related("inspection", "closing"), pk=key)
    return found


def _initial(request: HttpRequest, finding: Finding | None) -> dict[str, Any]:
    if finding is not None:
        return {"what": finding.text, "who": finding.who_acts, "planned_on": finding.act_by}
    for sort in MachineSort:
        key = whole_number(request.GET.get(sort.column, ""))
        machine = MODELS[sort].objects.filter(pk=key).first() if key is not None else None
        if machine is not None:
            return {"machine": named(machine)}
    return {}
