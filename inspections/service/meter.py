from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.fields import FactForm, MomentField
from fleet.hours import record_meter_change, running_hours
from fleet.models import Hammer, MeterChange
from fleet.roles import manager_required, signed_in


class MeterForm(FactForm):
    """A meter that was changed or set back."""

    changed_at = MomentField(label="Changed at", initial=timezone.now)

    class Meta:
        model = MeterChange
        fields = ["changed_at", "old_hours", "new_hours", "reason"]


@manager_required
def meter(request: HttpRequest, hammer_id: int) -> HttpResponse:
    """Record that a hammer's hour meter was changed, and show what it read before."""
    hammer = get_object_or_404(Hammer, pk=hammer_id)
    form = MeterForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            record_meter_change(hammer=hammer, by=signed_in(request), **form.cleaned_data)
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            messages.success(request, "The meter change is on record; hours run go on over it.")
            return redirect("meter", hammer.pk)
    return render(
        request,
        "service/meter.html",
        {
            "section": "due",
            "hammer": hammer,
            "form": form,
            "running": running_hours([hammer.pk]).get(hammer.pk),
            "readings": hammer.hour_readings.select_related(
                "recorded_by", "inspection__corrected_by"
            )[:20],
            "changes": hammer.meter_changes.select_related("recorded_by"),
        },
    )
