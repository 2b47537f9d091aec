from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.context import system_of
from fleet.dates import days_words
from fleet.roles import PLAN, planner_required, signed_in
from ratings.extraction.answer import answer_for_unit, question_of
from ratings.extraction.told import tell_unit
from ratings.forms.commit import CommitForm, ReleaseForm
from ratings.mechanics.extraction.verdict import Verdict
from ratings.models import Commitment, ExtractionJob
from ratings.recording.commitment import CannotCommit, commit_unit, release_unit


def job_unit(request: HttpRequest, job_id: int, housing_id: int) -> HttpResponse:
    """Show one unit's answer for a job on record; who plans may commit it."""
    job = get_object_or_404(ExtractionJob.objects.prefetch_related("layers"), pk=job_id)
    answer = answer_for_unit(question_of(job), housing_id)
    if answer is None:
        raise Http404("This housing is on no hammer.")
    form = CommitForm(
        request.POST if request.method == "POST" else None,
        needs_care=answer.verdict.verdict is Verdict.CARE,
        holds_over_range=answer.verdict.holds_over_range,
    )
    if request.method == "POST":
        if not signed_in(request).has_perm(PLAN):
            raise PermissionDenied
        if form.is_valid():
            try:
                made = commit_unit(
                    submission_id=form.cleaned_data["submission_id"],
                    job=job,
                    housing=answer.candidate.housing,
                    by=signed_in(request),
                )
            except CannotCommit as refusal:
                form.add_error(None, refusal)
            else:
                messages.success(request, f"{made.housing} is committed to {job.site}.")
                return redirect("commitment", made.pk)
    held = Commitment.objects.filter(job=job, housing=housing_id, released_at__isnull=True).first()
    return render(
        request,
        "ratings/job_unit.html",
        {
            "section": "jobs",
            "job": job,
            "answer": answer,
            "told": tell_unit(answer, system_of(request)),
            "form": form,
            "days": days_words(job.first_day, job.last_day),
            "may_go": answer.verdict.verdict.may_go,
            "held": held,
            "held_days": days_words(held.first_day, held.last_day) if held else "",
        },
    )


@planner_required
def release_commitment(request: HttpRequest, commitment_id: int) -> HttpResponse:
    """Release a unit from a job, for a reason."""
    held = get_object_or_404(
        Commitment.objects.select_related("job", "housing", "hammer"), pk=commitment_id
    )
    form = ReleaseForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        release_unit(commitment=held, reason=form.cleaned_data["reason"], by=signed_in(request))
        messages.success(request, f"{held.housing} is released; its pull sheet is void.")
        return redirect("job", held.job_id)
    return render(
        request,
        "ratings/release_commitment.html",
        {"section": "jobs", "held": held, "form": form},
    )
