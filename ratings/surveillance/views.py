from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.models import PadLot
from fleet.roles import RECORD, manager_required, signed_in
from fleet.tables import table_of
from ratings.models import SurveillancePlan
from ratings.surveillance.forms import PlanForm
from ratings.surveillance.plans import promise_words, set_plan
from ratings.surveillance.tables import PlanTable


def surveillance(request: HttpRequest) -> HttpResponse:
    """Show the plan for all lots; a manager may change it."""
    form = PlanForm(request.POST if request.method == "POST" else None, is_of_lot=False)
    if request.method == "POST":
        if not signed_in(request).has_perm(RECORD):
            raise PermissionDenied
        if _is_set(request, form, None):
            messages.success(request, "The plan is in force for every lot without one of its own.")
            return redirect("surveillance")
    in_force = SurveillancePlan.objects.for_all()
    return render(
        request,
        "surveillance/surveillance.html",
        {
            "section": "lots",
            "in_force": in_force,
            "promise": promise_words(in_force.pads_a_year or 0) if in_force else "",
            "form": form,
            "table": table_of(
                request,
                PlanTable,
                SurveillancePlan.objects.filter(lot=None).select_related("recorded_by"),
            ),
        },
    )


@manager_required
def lot_plan(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Say how many pads of one lot are drawn a year."""
    lot = get_object_or_404(PadLot, pk=lot_id)
    form = PlanForm(request.POST if request.method == "POST" else None, is_of_lot=True)
    if request.method == "POST" and _is_set(request, form, lot):
        messages.success(request, f"The plan of lot {lot} is in force.")
        return redirect("lot", lot.pk)
    plan = SurveillancePlan.objects.in_force_by_lot([lot.pk]).get(lot.pk)
    return render(
        request,
        "surveillance/lot_plan.html",
        {
            "section": "lots",
            "lot": lot,
            "plan": plan,
            "promise": promise_words(plan.pads_a_year) if plan else "",
            "form": form,
            "table": table_of(
                request, PlanTable, lot.surveillance_plans.select_related("recorded_by")
            ),
        },
    )


def _is_set(request: HttpRequest, form: PlanForm, lot: PadLot | None) -> bool:
    if not form.is_valid():
        return False
    try:
        set_plan(lot=lot, by=signed_in(request), **form.cleaned_data)
    except ValidationError as refusal:
        form.add_error(None, refusal)
        return False
    return True
