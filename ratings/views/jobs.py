from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.core.paginator import Paginator
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from fleet.context import system_of
from fleet.roles import PLAN, planner_required, signed_in
from ratings.extraction.standingfalls import held_by_job
from ratings.forms.job import REDRAWS, JobEntry
from ratings.models import Commitment, ExtractionJob

JOBS_ON_A_PAGE = 50
# A job is saved without them, and no unit can be judged for it.
NEEDED_FOR_A_VERDICT = ("capacity_lbf", "rigging_limit_lbf", "yield_strength_ksi")


def jobs(request: HttpRequest) -> HttpResponse:
    """Show every job, the latest first, with the units it holds."""
    held = Commitment.objects.filter(released_at__isnull=True).select_related("housing")
    rows = ExtractionJob.objects.prefetch_related(Prefetch("commitments", held, to_attr="held"))
    page = Paginator(rows, JOBS_ON_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "ratings/jobs.html", {"section": "jobs", "page": page})


@planner_required
def new_job(request: HttpRequest) -> HttpResponse:
    """Enter a job; the answer shows beside it as it is filled in."""
    return _page(request, None)


def job(request: HttpRequest, job_id: int) -> HttpResponse:
    """Show a job and which units suit it; who plans may change it."""
    found = get_object_or_404(ExtractionJob, pk=job_id)
    if request.method == "POST" and not signed_in(request).has_perm(PLAN):
        raise PermissionDenied
    return _page(request, found)


@require_POST
def job_layers(request: HttpRequest) -> HttpResponse:
    """The layers of a form as a button of it asks for them; nothing is kept."""
    entry = JobEntry.redrawn(request.POST, job=None, system=system_of(request))
    response = render(request, "ratings/job_layers.html", {"entry": entry, "form": entry.form})
    # The answer beside the form is asked for anew once they stand in it.
    response["HX-Trigger-After-Settle"] = "layersredrawn"
    return response


def _page(request: HttpRequest, found: ExtractionJob | None) -> HttpResponse:
    entry = _entry(request, found)
    if request.method == "POST" and entry.form.is_bound and entry.is_valid():
        try:
            saved = entry.save(signed_in(request))
        except ValidationError as refused:
            entry.refuse(refused)
        else:
            messages.success(request, f"The job at {saved.site} is saved.")
            return redirect("job", saved.pk)
    context: dict[str, Any] = {
        "section": "jobs",
        "job": found,
        "entry": entry,
        "form": entry.form,
        "needed_for_a_verdict": NEEDED_FOR_A_VERDICT,
    }
    if found is not None:
        context["held"] = held_by_job(found)
    return render(request, "ratings/job.html", context)


def _entry(request: HttpRequest, found: ExtractionJob | None) -> JobEntry:
    system = system_of(request)
    if request.method != "POST":
        return JobEntry(job=found, system=system)
    if any(name in request.POST for name in REDRAWS):
        return JobEntry.redrawn(request.POST, job=found, system=system)
    return JobEntry(request.POST, job=found, system=system)
