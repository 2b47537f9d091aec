"""What the code on a pull sheet leads to: whether the sheet holds, for whoever has it in hand.

It asks for no account, since a crew has none; so it says nothing that the sheet's reader might
not know already: no site, no name, no mark and no figure.
"""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.throttle import at_most
from ratings.jobs.validity import CommitmentNow, Word, commitment_now
from ratings.models import Commitment
from ratings.rerating.telling import AGAIN, BEING_RATED, that_rate

# A crew looks a few times a day; a yard's office, behind one address, a few times a minute.
MOST_A_MINUTE = 30


def _too_many(request: HttpRequest) -> HttpResponse:
    return _said(request, AGAIN, "Too many have asked from here just now.")


@login_not_required
@never_cache
@require_safe
@at_most(MOST_A_MINUTE, refuse=_too_many)
def crew(request: HttpRequest, code: str) -> HttpResponse:
    """Say whether the sheet that bears a code holds, and in general words why."""
    made = Commitment.objects.filter(code=code).only("pk").first()
    if made is None:
        words = "No sheet bears this code. Scan it again, or ask who handed out the sheet."
        return _said(request, "not known", words, status=404)
    now = commitment_now(made.pk)
    word = _word(now)
    if word == Word.VALID and that_rate(now.commitment.housing):
        # What is about to change a figure may be the withdrawal of a rate that was too high.
        return _said(request, AGAIN, BEING_RATED.format("sheet"), pk=made.pk)
    return _said(request, word, now.crew_words, pk=made.pk)


def _word(now: CommitmentNow) -> str:
    """A sheet whose days are over is void; one whose days have not begun is not yet to be used."""
    if now.word is Word.VALID and now.today < now.commitment.first_day:
        return str(Word.NOT_YET)
    return str(Word.VOID if now.word is Word.PAST else now.word)


def _said(
    request: HttpRequest, word: str, words: str, *, status: int = 200, pk: int | None = None
) -> HttpResponse:
    """Return the page. pk: of the commitment, linked for who is signed in."""
    context = {"word": word, "words": words, "asked_at": timezone.now(), "pk": pk}
    response = render(request, "pullsheet/crew.html", context, status=status)
    response["X-Robots-Tag"] = "noindex, nofollow, noarchive"
    # The code stands in the address: no other site is told where a reader came from.
    response["Referrer-Policy"] = "no-referrer"
    return response
