"""What the code on a paper, or its file, leads to: whether it is known, and still so, no account.

It says nothing that the paper's reader has not in hand but whether it still is so, and how much
was added since.
"""

from __future__ import annotations

from hashlib import sha256
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST, require_safe

from fleet.picture import BadUpload
from fleet.throttle import at_most
from fleet.uploads import Form, let_in_place
from ratings.models import Paper
from ratings.record.paper_now import paper_now
from ratings.record.papers import read_code

# Somebody with a pile of papers looks at a few a minute; a guess has no hope at any such rate.
MOST_A_MINUTE = 30
MOST_BYTES = 30_000_000


def _too_many(request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
    return _said(request, trouble="Too many have asked from here just now: ask again in a minute.")


@login_not_required
@never_cache
@require_safe
@at_most(MOST_A_MINUTE, refuse=_too_many)
def ask(request: HttpRequest) -> HttpResponse:
    """Ask for the code of a paper; typed, lead to what is said of it."""
    typed = request.GET.get("code", "")
    if not typed:
        return _said(request)
    code = read_code(typed)
    if code:
        return redirect("paper", code)
    return _said(
        request,
        typed=typed[:40],
        trouble="A code has four groups of four letters and digits, such as ABCD-EFGH-JKMN-PQRS, "
        "with no O, I, L, 0 or 1 in it. It stands at the foot of each page.",
    )


@login_not_required
@never_cache
@require_safe
@at_most(MOST_A_MINUTE, refuse=_too_many)
def paper(request: HttpRequest, code: str) -> HttpResponse:
    """Say whether a paper of a code was given out here, what it stated, and what came since."""
    found = Paper.objects.filter(code=read_code(code) or "-").first()
    if found is None:
        return _said(request, typed=code[:40], is_unknown=True, status=404)
    return _said(request, now=paper_now(found))


@csrf_exempt
@login_not_required
@never_cache
@require_POST
@at_most(MOST_A_MINUTE, refuse=_too_many)
def paper_file(request: HttpRequest) -> HttpResponse:
    """Say whether a file is, byte by byte, a paper that was given out here.

    Nothing is kept of it and nothing in it is read, so nothing is to be guarded by a token; and
    one that is larger than any paper is refused before it is taken.
    """
    length = request.headers.get("Content-Length", "")
    if length.isdecimal() and int(length[:20]) > MOST_BYTES:
        most_mb = MOST_BYTES // 1_000_000
        words = f"The file is larger than {most_mb} MB, as no paper is: give the paper alone."
        return _said(request, trouble=words, status=413)
    sent = request.FILES.get("paper")
    if sent is None:
        return _said(request, trouble="No file came: choose the PDF of the paper.", status=400)
    try:
        let_in_place(sent, sent.size or 0, Form.PDF, Form.ARCHIVE, most_bytes=MOST_BYTES)
    except BadUpload as refusal:
        words = f"That is no paper: {refusal}. Give the file as it was given out."
        return _said(request, trouble=words, status=400)
    told = sha256()
    for piece in sent.chunks():
        told.update(piece)
    found = Paper.objects.filter(file_hash=told.hexdigest()).first()
    if found is None:
        return _said(request, is_other_file=True, status=404)
    return _said(request, now=paper_now(found), is_whole=True)


def _said(request: HttpRequest, *, status: int = 200, **said: Any) -> HttpResponse:
    context = {"asked_at": timezone.now(), **said}
    response = render(request, "record/paper.html", context, status=status)
    response["X-Robots-Tag"] = "noindex, nofollow, noarchive"
    # The code stands in the address: no other site is told where a reader came from.
    response["Referrer-Policy"] = "no-referrer"
    return response
