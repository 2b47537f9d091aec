from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from fleet import clock
from fleet.context import system_of
from fleet.dates import moment_words
from fleet.roles import signed_in
from ratings.jobs.answer_page import tell_recorded
from ratings.jobs.commitments import Held, held_commitment
from ratings.models import Commitment
from ratings.paper.style import who_words
from ratings.pullsheet.facts import state_of


def commitment(request: HttpRequest, commitment_id: int) -> HttpResponse:
    """Show whether a commitment's sheet holds, and the answer it was made on."""
    held = _held(commitment_id)
    answer = held.commitment.answer
    return render(
        request,
        "pullsheet/commitment.html",
        {
            "section": "jobs",
            "held": held,
            "state": state_of(held),
            "made": held.commitment,
            "answer": answer,
            "told": tell_recorded(answer, system_of(request)),
        },
    )


def pull_sheet(request: HttpRequest, commitment_id: int) -> HttpResponse:
    """Print the pull sheet of a commitment; one that holds no more says VOID."""
    # Imported on need: the site must not wait for the PDF library at start.
    from ratings.pullsheet.facts import read_sheet
    from ratings.pullsheet.paper import pull_sheet_pdf

    held = _held(commitment_id)
    url = request.build_absolute_uri(reverse("commitment", args=[commitment_id]))
    printed = f"{moment_words(clock.now())} by {who_words(signed_in(request))}"
    return HttpResponse(
        pull_sheet_pdf(read_sheet(held, url, system_of(request), printed)),
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="pull-sheet-{commitment_id}.pdf"',
            "Cache-Control": "no-store",
        },
    )


def answer_document(request: HttpRequest, commitment_id: int) -> HttpResponse:
    """Send the answer's document as it was written, to be hashed and reckoned by anybody."""
    held = _held(commitment_id)
    return HttpResponse(
        held.commitment.answer.document, content_type="application/json; charset=utf-8"
    )


def _held(commitment_id: int) -> Held:
    get_object_or_404(Commitment, pk=commitment_id)
    return held_commitment(commitment_id)
