from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from fleet.kept_files import open_kept
from fleet.models import MachineSort, OutOfService, SuppressorHousing
from fleet.models.machine import sort_of
from fleet.outages import capital, named, open_outage, outages_of_unit, take_out_of_service
from fleet.roles import manager_required, signed_in
from fleet.units import MODELS, unit_of
from inspections.count.submission import already_signed
from inspections.models import Finding, PhotoFile, Severity
from inspections.schedule.tables import machine_url
from inspections.service.forms import (
    ClosingForm,
    MoveFindingForm,
    ReleaseToServiceForm,
    TakeOutForm,
)
from inspections.service.recording import (
    close_finding,
    fresh_inspection,
    move_finding,
    open_gravest,
    other_machines,
    release_to_service,
    wanting,
)
from ratings.proposals.acts import SecondPersonNeeded
from ratings.proposals.views import may_propose


def machine_or_404(sort: str, machine_id: int) -> Any:
    """Return the machine that an address names. Raises Http404."""
    found = next((each for each in MachineSort if each.slug == sort), None)
    if found is None:
        raise Http404("There is no such sort of machine.")
    return get_object_or_404(MODELS[found].objects.select_related("yard"), pk=machine_id)


@manager_required
def take_out(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Pull a unit's housing out of service: from then on the unit heads the board."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    return _take_out_page(request, housing, reverse("unit", args=[housing.pk]))


@manager_required
def take_out_machine(request: HttpRequest, sort: str, machine_id: int) -> HttpResponse:
    """Pull any machine out of service, and so the unit it is part of."""
    machine = machine_or_404(sort, machine_id)
    return _take_out_page(request, machine, machine_url(machine))


def _take_out_page(request: HttpRequest, machine: Any, back: str) -> HttpResponse:
    form = TakeOutForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid() and _take_out(request, machine, form):
        return redirect(back)
    unit = unit_of(machine).housing
    commitments = unit.commitments.not_over(timezone.localdate()) if unit else None
    return render(
        request,
        "service/take_out.html",
        {
            "section": "board",
            "machine": machine,
            "sort": sort_of(machine),
            "back": back,
            "unit": unit,
            "form": form,
            "outage": open_outage(machine),
            "commitments": commitments.select_related("job") if commitments is not None else [],
        },
    )


@manager_required
@may_propose
def release(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Release a unit's housing to service, where a fresh count is on record."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    return _release_page(request, housing, reverse("unit", args=[housing.pk]))


@manager_required
@may_propose
def release_machine(request: HttpRequest, sort: str, machine_id: int) -> HttpResponse:
    """Release any machine to service, where it was inspected since."""
    machine = machine_or_404(sort, machine_id)
    return _release_page(request, machine, machine_url(machine))


def _release_page(request: HttpRequest, machine: Any, back: str) -> HttpResponse:
    form = ReleaseToServiceForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid() and _release(request, machine, form):
        return redirect(back)
    outage, now = open_outage(machine), timezone.now()
    unit = unit_of(machine).housing
    others = outages_of_unit(unit) if unit else []
    return render(
        request,
        "service/release.html",
        {
            "section": "board",
            "machine": machine,
            "sort": sort_of(machine),
            "housing": machine if isinstance(machine, SuppressorHousing) else None,
            "back": back,
            "form": form,
            "outage": outage,
            "others": [each for each in others if each.machine != machine],
            "wanting": wanting(outage, now) if outage else "",
            "inspection": fresh_inspection(outage, now) if outage else None,
            "findings": open_gravest(machine) if outage else [],
        },
    )


def _take_out(request: HttpRequest, machine: Any, form: TakeOutForm) -> bool:
    is_copy = form.is_on_record(OutOfService)
    try:
        outage = take_out_of_service(
            submission_id=form.cleaned_data["submission_id"],
            machine=machine,
            since=form.cleaned_data["since"],
            reason=form.cleaned_data["reason"],
            by=signed_in(request),
        )
    except ValidationError as trouble:
        form.add_error(None, trouble)
        return False
    if is_copy:
        messages.warning(request, already_signed(outage.recorded_at))
    else:
        messages.warning(request, f"{capital(named(machine))} is out of service.")
    return True


def _release(request: HttpRequest, machine: Any, form: ReleaseToServiceForm) -> bool:
    try:
        release_to_service(
            machine=machine,
            at=form.cleaned_data["at"],
            reason=form.cleaned_data["reason"],
            qualified_person=form.cleaned_data["qualified_person"],
            by=signed_in(request),
        )
    except SecondPersonNeeded:
        raise
    except ValidationError as trouble:
        form.add_error(None, trouble)
        return False
    messages.success(request, f"{capital(named(machine))} is back in service.")
    return True


@manager_required
def close(request: HttpRequest, finding_id: int) -> HttpResponse:
    """Close a finding: what was done about it."""
    found = get_object_or_404(
        Finding.objects.select_related(
            "hammer", "housing", "clamp", "power_pack", "inspection__recorded_by", "closing"
        ),
        pk=finding_id,
    )
    form = ClosingForm(request.POST if request.method == "POST" else None, finding=found)
    if request.method == "POST" and form.is_valid():
        closing = close_finding(finding=found, by=signed_in(request), **form.cleaned_data)
        is_own = closing.submission_id == form.cleaned_data["submission_id"]
        words = "The finding is closed." if is_own else "Somebody closed it before: that stands."
        messages.success(request, words)
        machine = found.machine
        if open_outage(machine) and found.severity == Severity.DO_NOT_USE:
            return redirect("release-machine", sort_of(machine).slug, machine.pk)
        return redirect("due")
    return render(
        request,
        "service/close_finding.html",
        {"section": "due", "finding": found, "machine": named(found.machine), "form": form},
    )


@manager_required
def move(request: HttpRequest, finding_id: int) -> HttpResponse:
    """Put a finding to the machine it is of."""
    found = get_object_or_404(
        Finding.objects.select_related(
            *(sort.column for sort in MachineSort),
            *(f"inspection__{sort.column}" for sort in MachineSort),
            "closing",
        ),
        pk=finding_id,
    )
    others = other_machines(found)
    form = MoveFindingForm(request.POST if request.method == "POST" else None, machines=others)
    if request.method == "POST" and form.is_valid():
        try:
            moved = move_finding(finding=found, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            messages.success(request, f"The finding now stands at {named(moved.machine)}.")
            if found.out_of_service and found.out_of_service.released_at is None:
                messages.warning(
                    request,
                    f"{capital(named(found.machine))} stays out of service until it is released.",
                )
            return redirect(machine_url(moved.machine))
    return render(
        request,
        "service/move_finding.html",
        {
            "section": "due",
            "finding": found,
            "machine": named(found.machine),
            "others": others,
            "form": form,
        },
    )


def photo(request: HttpRequest, photo_id: uuid.UUID) -> FileResponse:
    """Send a photo of an inspection; there is no other way to it."""
    held = get_object_or_404(PhotoFile, photo=photo_id)
    return FileResponse(open_kept(held.file), content_type="image/jpeg")
