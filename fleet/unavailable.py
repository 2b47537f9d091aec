"""What a visitor is told where the site fails: what is the matter, and that nothing was kept.

A transaction that fails is undone whole, so that nothing was. Of one whose connection was lost
nobody knows, and so they are told to send the same again, which is recorded once. Neither the
records nor who asks is looked at again, since neither may answer; but where others write, whether
they record much at once is.
"""

from __future__ import annotations

import sys

from django.db import Error
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string
from django.urls import Resolver404, resolve

from fleet.kept_files import StoreDown
from fleet.long_work.acts import HOLDING_UP
from fleet.models import LongWork
from fleet.people.middleware import PHONE
from fleet.troubles import READ_ONLY_WORDS, TOO_LONG_WORDS, Matter, matter_with

BROKEN, UNAVAILABLE = 500, 503
HTML, JSON = "text/html", "application/json"
AGAIN_AFTER_SECONDS = 30
_KEPT = "Nothing was recorded."
_FULL = (
    f"The disk that holds the records is full. {_KEPT} Have whoever keeps the machine make room, "
    "then send it again."
)
_BUSY = f"Others are writing, and it took too long. {_KEPT} Send it again."
_HELD_UP = (
    "A register or a sheet is being taken in, or many units are rated again, all of it or nothing, "
    "and others wait until it is. "
    f"{_KEPT} Send it again in a few minutes; a phone keeps what was signed on it, and sends it "
    "again by itself."
)
# Lost at the very end, a transaction may stand or not.
_GONE = (
    "The records do not answer at present. What was being sent may be on record or not: send the "
    "very same again in a minute, and it is there once."
)
_STORE = f"The store of files does not answer at present. {_KEPT} Send it again in a minute."
_FAULT = (
    f"Something went wrong on our side, and it is in the log. {_KEPT} Tell whoever keeps the "
    "machine what you did."
)
_WORDS = {
    Matter.FULL: _FULL,
    Matter.READ_ONLY: READ_ONLY_WORDS,
    Matter.HELD: _BUSY,
    Matter.TOO_LONG: TOO_LONG_WORDS,
    Matter.GONE: _GONE,
}


def words_of(trouble: BaseException | None) -> str:
    """Return what to tell of a trouble with records or files; "" of any other."""
    if trouble is None:
        return ""
    if isinstance(trouble, StoreDown):
        return _STORE
    matter = matter_with(trouble)
    if matter is None:
        return ""
    return _HELD_UP if matter is Matter.HELD and _is_held_up() else _WORDS[matter]


def _is_held_up() -> bool:
    """Whether work is being done that holds up whoever signs: reading waits for no writer."""
    being_done = LongWork.objects.filter(what__in=HOLDING_UP, ended_at=None).exclude(worker="")
    try:
        return being_done.exists()
    except Error:
        return False


# Scripts of the site and of the phone ask these, and read no page.
_ASKED_BY_SCRIPTS = PHONE | {"passkey-options"}


def _asks_for_json(request: HttpRequest) -> bool:
    """Whether who asks reads no page: by what they sent, would take, or ask for."""
    if request.content_type == JSON or request.get_preferred_type([HTML, JSON]) == JSON:
        return True
    try:
        # Whatever failed may have done so before it was known which page is asked for.
        return resolve(request.path_info).url_name in _ASKED_BY_SCRIPTS
    except Resolver404:
        return False


def broken(request: HttpRequest) -> HttpResponse:
    """Answer where a page failed: 503 where trying again may do, else 500."""
    words = words_of(sys.exc_info()[1])
    status = UNAVAILABLE if words else BROKEN
    words = words or _FAULT
    answer: HttpResponse
    if request.path.startswith("/api/"):
        told = {"type": "about:blank", "title": words, "status": status, "errors": []}
        answer = JsonResponse(told, status=status, content_type="application/problem+json")
    elif _asks_for_json(request):
        answer = JsonResponse({"errors": {"": [words]}, "detail": words}, status=status)
    else:
        page = render_to_string("fleet/unavailable.html", {"words": words})
        answer = HttpResponse(page, status=status)
    if status == UNAVAILABLE:
        answer["Retry-After"] = str(AGAIN_AFTER_SECONDS)
    return answer
