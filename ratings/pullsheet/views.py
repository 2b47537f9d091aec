from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from fleet import clock
from fleet.context import system_of
from fleet.dates import moment_words
from fleet.roles import signed_in, who_words
from ratings.jobs.answer import recorded_answer
from ratings.jobs.answer_page import describe
from ratings.jobs.commitment_forms import ConfirmForm
from ratings.jobs.validity import CommitmentNow, Word, commitment_now
from ratings.models import Commitment
from ratings.pullsheet.stated import KIND
from ratings.record.giving import send_paper
from ratings.rerating.telling import AGAIN, BEING_RATED, that_rate


def commitment(request: HttpRequest, commitment_id: int) -> HttpResponse:
    """Show whether a commitment's sheet holds, and the answer it was made on."""
    now = _now(commitment_id)
    answer = now.answer
    return render(
        request,
        "pullsheet/commitment.html",
        {
            "section": "jobs",
            "now": now,
            "state": now.state,
            "made": now.commitment,
            "answer": answer,
            "confirm_form": ConfirmForm(),
            "page": describe(recorded_answer(answer), system_of(request), now.assumed),
            "is_assumed": any(not each.is_met for each in now.conditions),
        },
    )


def pull_sheet(request: HttpRequest, commitment_id: int) -> HttpResponse:
    """Print the pull sheet of a commitment; one that holds no more says VOID.

    One that still waits for something isn't printed: the page says for what. Nor is one whose
    answer doesn't hold against the record, for its figures are nobody's; nor one that holds while
    its unit is rated again, for a sheet outlasts that.
    """
    # Imported on need: the site must not wait for the PDF library at start.
    from ratings.pullsheet.facts import read_sheet
    from ratings.pullsheet.paper import pull_sheet_pdf

    made = get_object_or_404(Commitment.objects.select_related("housing"), pk=commitment_id)
    # Asked before the sheet is read: where it ends between, the sheet tells of what came of it.
    is_rated_again = bool(that_rate(made.housing))
    now = commitment_now(commitment_id)
    if now.word is Word.NOT_YET:
        context = {"section": "jobs", "now": now, "made": now.commitment}
        return render(request, "pullsheet/not_yet.html", context, status=409)
    if now.fault:
        context = {"section": "jobs", "now": now, "made": now.commitment}
        return render(request, "pullsheet/no_sheet.html", context, status=409)
    if now.word is Word.VALID and is_rated_again:
        why = BEING_RATED.format("sheet")
        context = {"section": "jobs", "made": now.commitment, "word": AGAIN, "why": why}
        return render(request, "pullsheet/being_rated.html", context, status=409)
    url = request.build_absolute_uri(reverse("crew", args=[now.commitment.code]))
    printed = f"{moment_words(clock.now())} by {who_words(signed_in(request))}"
    return send_paper(
        request,
        KIND,
        commitment_id,
        f"pull-sheet-{commitment_id}.pdf",
        lambda stamp: pull_sheet_pdf(read_sheet(now, url, system_of(request), printed, stamp.code)),
    )


def answer_document(request: HttpRequest, commitment_id: int) -> HttpResponse:
    """Send the answer's document as it was written, for anybody to hash and calculate again."""
    now = _now(commitment_id)
    return HttpResponse(now.answer.document, content_type="application/json; charset=utf-8")


def _now(commitment_id: int) -> CommitmentNow:
    get_object_or_404(Commitment, pk=commitment_id)
    return commitment_now(commitment_id)
