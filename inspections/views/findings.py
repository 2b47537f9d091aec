from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.roles import manager_required, signed_in
from fleet.service import open_spell
from inspections.forms.closing import ClosingForm
from inspections.models import Finding, PhotoFile, Severity
from inspections.recording.closing import close_finding


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
        if open_spell(found.housing) and found.severity == Severity.STOP:
            return redirect("release-to-service", found.housing_id)
        return redirect("due")
    return render(
        request,
        "inspections/close_finding.html",
        {"section": "due", "finding": found, "form": form},
    )


def photo(request: HttpRequest, photo_id: uuid.UUID) -> FileResponse:
    """Send a photo of an inspection; there is no other way to it."""
    held = get_object_or_404(PhotoFile, photo=photo_id)
    return FileResponse(held.file.open("rb"), content_type="image/jpeg")
