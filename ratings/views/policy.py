from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from fleet.context import system_of
from fleet.roles import RECORD, signed_in
from ratings.forms.policy import PolicyForm
from ratings.models import RatingPolicy
from ratings.policy import policy_in_force
from ratings.recording.policy import change_policy


def policy(request: HttpRequest) -> HttpResponse:
    """Show the policy in force and those before it; a manager may change it."""
    rows = list(RatingPolicy.objects.select_related("recorded_by"))
    in_force = policy_in_force(rows[0] if rows else None)
    data = request.POST if request.method == "POST" else None
    form = PolicyForm(data, in_force=in_force, system=system_of(request))
    if request.method == "POST":
        if not signed_in(request).has_perm(RECORD):
            raise PermissionDenied
        if form.is_valid():
            change_policy(
                submission_id=form.cleaned_data["submission_id"],
                policy=form.policy,
                reason=form.cleaned_data["reason"],
                by=signed_in(request),
            )
            messages.success(request, "The policy is in force and every unit is rated by it.")
            return redirect("policy")
    return render(
        request,
        "ratings/policy.html",
        {"section": "policy", "in_force": in_force, "rows": rows, "form": form},
    )
