from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from fleet.context import system_of
from fleet.roles import RECORD, signed_in
from ratings.extraction.rules import rules_of
from ratings.forms.rules import RulesEntry
from ratings.mechanics.extraction.policy import ExtractionPolicy
from ratings.models import ExtractionRules
from ratings.recording.rules import change_rules


def extraction_rules(request: HttpRequest) -> HttpResponse:
    """Show how extractions are judged, and earlier rules; a manager may change them."""
    rows = list(ExtractionRules.objects.select_related("recorded_by"))
    in_force = rules_of(rows[0]) if rows else ExtractionPolicy()
    entry = _entry(request, in_force)
    if request.method == "POST" and entry.form.is_bound and entry.is_valid():
        change_rules(
            submission_id=entry.form.cleaned_data["submission_id"],
            policy=entry.policy,
            reason=entry.form.cleaned_data["reason"],
            by=signed_in(request),
        )
        messages.success(
            request,
            "The rules are in force. What units were committed on before stays as it was judged.",
        )
        return redirect("extraction-rules")
    return render(
        request,
        "ratings/extraction_rules.html",
        {
            "section": "jobs",
            "in_force": in_force,
            "rows": rows,
            "entry": entry,
            "form": entry.form,
            "is_editing": request.method == "POST",
        },
    )


def _entry(request: HttpRequest, in_force: ExtractionPolicy) -> RulesEntry:
    system = system_of(request)
    if request.method != "POST":
        return RulesEntry(in_force=in_force, system=system)
    if not signed_in(request).has_perm(RECORD):
        raise PermissionDenied
    if "more_soils" in request.POST:
        return RulesEntry.with_more_rows(request.POST, in_force=in_force, system=system)
    return RulesEntry(request.POST, in_force=in_force, system=system)
