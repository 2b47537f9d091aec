from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.models import SuppressorHousing
from fleet.roles import manager_required, signed_in
from ratings.forms.mounting import MountingForm
from ratings.recording.mounting import mount_housing


@manager_required
def mounting(request: HttpRequest, housing_id: int) -> HttpResponse:
    """Move a housing to another hammer, or take it off."""
    housing = get_object_or_404(SuppressorHousing, pk=housing_id)
    current = housing.mountings.filter(removed_at__isnull=True).select_related("hammer").first()
    form = MountingForm(
        request.POST if request.method == "POST" else None,
        initial={"hammer": current.hammer_id if current else None},
    )
    if request.method == "POST" and form.is_valid():
        try:
            mount_housing(
                housing=housing,
                hammer=form.cleaned_data["hammer"],
                at=form.cleaned_data["at"],
                by=signed_in(request),
            )
        except ValidationError as trouble:
            form.add_error(None, trouble)
        else:
            messages.success(request, f"The mounting of housing {housing} is on record.")
            return redirect("unit", housing.pk)
    return render(
        request,
        "ratings/mounting_form.html",
        {"section": "board", "housing": housing, "current": current, "form": form},
    )
