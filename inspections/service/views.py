from __future__ import annotations

import uuid

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.models import OutOfService, SuppressorHousing
from fleet.outages import open_outage, take_out_of_service
from fleet.roles import manager_required, signed_in
from inspections.count.submission import already_signed
from inspections.models import Finding, PhotoFile, Severity
from inspections.service.forms import ClosingForm, ReleaseToServiceForm, TakeOutForm
from inspections.service.recording import (
    close_finding,
    fresh_inspection,
    open_gravest,
    release_to_service,
    wanting,
)


@manager_required
def take_out(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Pull a unit out of service: from then on it suits no job and heads the board."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    form = TakeOutForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid() and _take_out(request, housing, form):
        return redirect("unit", housing.pk)
    return render(
        request,
        "service/take_out.html",
        {
            "section": "board",
            "housing": housing,
            "form": form,
            "outage": open_outage(housing),
            "commitments": housing.commitments.not_over(timezone.localdate()).select_related("job"),
        },
    )


@manager_required
def release(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Release a unit to service, where a fresh inspection is on record."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    form = ReleaseToServiceForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid() and _release(request, housing, form):
        return redirect("unit", housing.pk)
    outage, now = open_outage(housing), timezone.now()
    return render(
        request,
        "service/release.html",
        {
            "section": "board",
            "housing": housing,
            "form": form,
            "outage": outage,
            "wanting": wanting(outage, now) if outage else "",
            "inspection": fresh_inspection(outage, now) if outage else None,
            "findings": open_gravest(housing) if outage else [],
        },
    )


def _take_out(request: HttpRequest, housing: SuppressorHousing, form: TakeOutForm) -> bool:
    is_copy = form.is_on_record(OutOfService)
    try:
        outage = take_out_of_service(
            submission_id=form.cleaned_data["submission_id"],
            housing=housing,
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
        messages.warning(request, f"Housing {housing} is out of service.")
    return True


def _release(request: HttpRequest, housing: SuppressorHousing, form: ReleaseToServiceForm) -> bool:
    try:
        release_to_service(
            housing=housing,
            at=form.cleaned_data["at"],
            reason=form.cleaned_data["reason"],
            qualified_person=form.cleaned_data["qualified_person"],
            by=signed_in(request),
        )
    except ValidationError as trouble:
        form.add_error(None, trouble)
        return False
    messages.success(request, f"Housing {housing} is back in service.")
    return True


@manager_required
def close(request: HttpRequest, finding_id: int) -> HttpResponse:
    """Close a finding: what was done about it."""
    found = get_object_or_404(
        Finding.objects.select_related("housing", "inspection__recorded_by", "closing"),
        pk=finding_id,
    )
    form = ClosingForm(request.POST if request.method == "POST" else None, finding=found)
    if request.method == "POST" and form.is_valid():
        closing = close_finding(finding=found, by=signed_in(request), **form.cleaned_data)
        is_own = closing.submission_id == form.cleaned_data["submission_id"]
        words = "The finding is closed." if is_own else "Somebody closed it before: that stands."
        messages.success(request, words)
        if open_outage(found.housing) and found.severity == Severity.DO_NOT_USE:
            return redirect("release-to-service", found.housing_id)
        return redirect("due")
    return render(
        request,
        "service/close_finding.html",
        {"section": "due", "finding": found, "form": form},
    )


def photo(request: HttpRequest, photo_id: uuid.UUID) -> FileResponse:
    """Send a photo of an inspection; there is no other way to it."""
    held = get_object_or_404(PhotoFile, photo=photo_id)
    return FileResponse(held.file.open("rb"), content_type="image/jpeg")
