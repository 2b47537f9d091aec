"""The pages beside a job: its files, and its copy for other days."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.kept_files import open_kept
from fleet.roles import PLAN, planner_required, signed_in
from fleet.tables import records_page, table_of
from fleet.uploads import JPEG
from ratings.jobs.attachments import (
    AttachmentForm,
    AttachmentTable,
    WithdrawalForm,
    attach,
    withdraw,
)
from ratings.jobs.copying import CopyForm, copy_job
from ratings.models import ExtractionJob, JobAttachment

# A file somebody sent runs nothing, loads nothing and is shown in no page of the site.
SAFE_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; sandbox",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "private, no-store",
}


def job_attachments(request: HttpRequest, job_id: int) -> HttpResponse:
    """Show the files beside a job; who plans may add one."""
    job = get_object_or_404(ExtractionJob, pk=job_id)
    is_sent = request.method == "POST"
    if is_sent and not signed_in(request).has_perm(PLAN):
        raise PermissionDenied
    form = AttachmentForm(
        request.POST if is_sent else None, files=request.FILES if is_sent else None
    )
    if is_sent and form.is_valid():
        given = form.cleaned_data
        try:
            kept = attach(
                submission_id=given["submission_id"],
                job=job,
                kind=given["kind"],
                title=given["title"],
                sent=given["sent"].read(),
                by=signed_in(request),
            )
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            messages.success(request, f"“{kept.title}” is attached to {job.site}.")
            return redirect("job-attachments", job.pk)
    found = job.attachments.select_related("recorded_by", "withdrawal__recorded_by")
    table = table_of(request, AttachmentTable, found)
    context = {"section": "jobs", "job": job, "form": form}
    return records_page(request, "jobs/attachments.html", table, None, context)


def job_attachment(request: HttpRequest, attachment_id: int) -> FileResponse:
    """Send a file beside a job, to whoever is signed in; there is no other way to it."""
    return send_kept(get_object_or_404(JobAttachment, pk=attachment_id))


def send_kept(held: Any) -> FileResponse:
    """Send a kept file so that a browser runs nothing in it."""
    name = str(held.file.name).rpartition("/")[2]
    return FileResponse(
        open_kept(held.file),
        content_type=held.content_type,
        as_attachment=held.content_type != JPEG,
        filename=name,
        headers=SAFE_HEADERS,
    )


@planner_required
def withdraw_attachment(request: HttpRequest, attachment_id: int) -> HttpResponse:
    """Say that a file beside a job counts no more, and why; it is kept."""
    held = get_object_or_404(JobAttachment.objects.select_related("job"), pk=attachment_id)
    form = WithdrawalForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        withdraw(
            submission_id=given["submission_id"],
            attachment=held,
            reason=given["reason"],
            by=signed_in(request),
        )
        messages.success(request, f"“{held.title}” is withdrawn.")
        return redirect("job-attachments", held.job_id)
    context = {"section": "jobs", "attachment": held, "form": form}
    return render(request, "jobs/withdraw_attachment.html", context)


@planner_required
def job_copy(request: HttpRequest, job_id: int) -> HttpResponse:
    """Enter a job again for other days."""
    job = get_object_or_404(ExtractionJob, pk=job_id)
    sent = request.POST if request.method == "POST" else None
    form = CopyForm(sent, initial={"site": job.site})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = copy_job(
            submission_id=given["submission_id"],
            job=job,
            site=given["site"],
            first_day=given["first_day"],
            last_day=given["last_day"],
            by=signed_in(request),
        )
        messages.success(request, f"The job at {made.site} is a copy: no unit is committed to it.")
        return redirect("job", made.pk)
    context = {"section": "jobs", "job": job, "form": form}
    return render(request, "jobs/copy.html", context)
