from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from fleet.roles import RECORD, signed_in
from inspections.checklists.inforce import checklists_in_force
from inspections.forms.checklist import ChecklistForm
from inspections.forms.schedule import ScheduleForm
from inspections.kinds import kind_named, kinds_in_use
from inspections.models import Checklist, ServiceSchedule
from inspections.recording.rules import change_checklist, change_schedule
from inspections.schedule.rows import rows_in_force


def schedule(request: HttpRequest) -> HttpResponse:
    """Show how often each kind is due; a manager may change it."""
    rows = rows_in_force()
    form = ScheduleForm(
        request.POST if request.method == "POST" else None, kinds=kinds_in_use(), in_force=rows
    )
    if request.method == "POST":
        _refuse_readers(request)
        if form.is_valid():
            change_schedule(
                submission_id=form.cleaned_data["submission_id"],
                rows=form.rows,
                reason=form.cleaned_data["reason"],
                by=signed_in(request),
            )
            messages.success(request, "The schedule is in force.")
            return redirect("schedule")
    return render(
        request,
        "inspections/schedule.html",
        {
            "section": "due",
            "rows": rows,
            "form": form,
            "earlier": ServiceSchedule.objects.select_related("recorded_by"),
        },
    )


def checklists(request: HttpRequest) -> HttpResponse:
    """Show the list of every kind."""
    return render(
        request,
        "inspections/checklists.html",
        {"section": "due", "lists": checklists_in_force().values()},
    )


def checklist(request: HttpRequest, name: str) -> HttpResponse:
    """Edit the list of one kind, and show who changed it before."""
    in_force = checklists_in_force().get(name)
    if in_force is None:
        raise Http404("There is no such kind of inspection.")
    form = ChecklistForm(request.POST if request.method == "POST" else None, in_force=in_force)
    if request.method == "POST":
        _refuse_readers(request)
        if form.is_valid():
            change_checklist(
                submission_id=form.cleaned_data["submission_id"],
                kind=kind_named(name),
                items=form.cleaned_data["lines"],
                reason=form.cleaned_data["reason"],
                by=signed_in(request),
            )
            messages.success(request, f"The list for {in_force.kind} is in force.")
            return redirect("checklists")
    return render(
        request,
        "inspections/checklist.html",
        {
            "section": "due",
            "in_force": in_force,
            "form": form,
            "earlier": Checklist.objects.filter(**kind_named(name).columns).select_related(
                "recorded_by"
            ),
        },
    )


def _refuse_readers(request: HttpRequest) -> None:
    if not signed_in(request).has_perm(RECORD):
        raise PermissionDenied
