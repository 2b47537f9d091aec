"""What the phone talks to: the pack it takes along, inspections it sends, photos in pieces."""

from __future__ import annotations

import json
import logging
import uuid
from collections.abc import Callable, Mapping, Sequence
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from fleet.context import system_of
from fleet.people.middleware import must_change_password, owes_second_step
from fleet.picture import NoPicture
from fleet.roles import PLAN, READ, RECORD, signed_in
from inspections.field.pack import pack_json
from inspections.field.payload import BadPayload, Sent, read_payload
from inspections.field.pulls import SentPull, pull_words, read_pull, receive_pull
from inspections.field.receive import receive, signed_words
from inspections.models import PullPhoto
from inspections.photos.pieces import OutOfStep, TooLarge, TooSmall
from inspections.photos.recording import UnknownPhoto, photo_named, progress, take_piece

MOST_PAYLOAD_BYTES = 1024 * 1024
OWN_PASSWORD = "Choose a password of your own first: open any page of the site and change it."
SIGN_IN = "You are signed out: sign in, and what waits here is sent."

View = Callable[..., HttpResponse]

logger = logging.getLogger(__name__)


SECOND_STEP = "Your sign-in lacks its second step: open any page of the site and take it."
NO_ROLE = "You have no role here: an equipment manager gives you one."
READ_ONLY = "You may read here and not sign: an equipment manager may."


def for_the_phone(may: str) -> Callable[[View], View]:
    """Answer somebody signed out, or one who may only read, in words the phone can show.

    may: what it takes to send anything.
    """

    def decorated(view: View) -> View:
        @login_not_required
        @never_cache
        @wraps(view)
        def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if not request.user.is_authenticated:
                return _refusal(request, 401, {"": [SIGN_IN]})
            if must_change_password(request):
                return _refusal(request, 401, {"": [OWN_PASSWORD]})
            if owes_second_step(request):
                return _refusal(request, 401, {"": [SECOND_STEP]})
            if not request.user.has_perm(READ):
                return _refusal(request, 403, {"": [NO_ROLE]})
            if request.method != "GET" and not request.user.has_perm(may):
                return _refusal(request, 403, {"": [READ_ONLY]})
            return view(request, *args, **kwargs)

        return answered

    return decorated


# A token masked anew and a length made up with chance each time keep its size from telling.
@gzip_page
@for_the_phone(RECORD)
@require_GET
def pack(request: HttpRequest) -> HttpResponse:
    """Send what a phone takes along."""
    more = {"csrf": get_token(request)}
    taken = pack_json(signed_in(request), system_of(request), more)
    return HttpResponse(taken, content_type="application/json")


@for_the_phone(RECORD)
@require_POST
def inspections(request: HttpRequest) -> HttpResponse:
    """Record an inspection a phone sends, once."""
    return _recorded(request, read_payload, _inspection_answer)


@for_the_phone(PLAN)
@require_POST
def pulls(request: HttpRequest) -> HttpResponse:
    """Record a pull a phone sends, once."""
    return _recorded(request, read_pull, _pull_answer)


def _recorded(
    request: HttpRequest,
    read: Callable[[Any], Any],
    answer_of: Callable[[HttpRequest, Any], tuple[bool, dict[str, Any]]],
) -> HttpResponse:
    """Read what was sent, record it, and answer; or say what is wrong with it."""
    if len(request.body) > MOST_PAYLOAD_BYTES:
        words = "This is longer than any inspection: shorten what was written."
        return _refusal(request, 413, {"": [words]})
    try:
        sent = read(json.loads(request.body))
        if sent.signed_by != signed_in(request).pk:
            words = "Somebody else signed this: sign in as them."
            return _refusal(request, 403, {"signed_by": [words]})
        is_copy, answer = answer_of(request, sent)
    except (ValueError, RecursionError):
        return _refusal(request, 422, {"": ["What came is not whole: it will be sent again."]})
    except BadPayload as bad:
        return _refusal(request, 422, bad.errors)
    outcome = {"outcome": "already recorded" if is_copy else "recorded"}
    return JsonResponse(outcome | answer, status=200 if is_copy else 201)


def _inspection_answer(request: HttpRequest, sent: Sent) -> tuple[bool, dict[str, Any]]:
    signed = receive(sent, signed_in(request), system_of(request))
    return signed.is_copy, {
        "inspection": signed.inspection.pk,
        "url": reverse("inspection", args=[signed.inspection.pk]),
        "words": signed_words(signed, system_of(request)),
    }


def _pull_answer(request: HttpRequest, sent: SentPull) -> tuple[bool, dict[str, Any]]:
    recorded = receive_pull(sent, signed_in(request), system_of(request))
    return recorded.is_copy, {
        "pull": recorded.pull.pk,
        "url": reverse("pull-record", args=[recorded.pull.pk]),
        "words": pull_words(recorded.pull, system_of(request)),
    }


@for_the_phone(PLAN)
@require_http_methods(["GET", "PUT"])
def photo(request: HttpRequest, photo_id: uuid.UUID) -> HttpResponse:
    """Take a piece of a photo, or say how much of it is here."""
    try:
        if request.method == "GET":
            here, is_whole = progress(photo_id)
        elif not signed_in(request).has_perm(needed_for(photo_id)):
            return _refusal(request, 403, {"": [READ_ONLY]})
        else:
            here, is_whole = _take(request, photo_id)
    except UnknownPhoto:
        words = "No signed record names this photo yet."
        return _refusal(request, 404, {"photo": [words]})
    except OutOfStep as step:
        return JsonResponse({"received": step.received}, status=409)
    except (TooLarge, TooSmall, NoPicture) as refusal:
        return _refusal(request, 422, {"photo": [str(refusal)]})
    is_new = is_whole and request.method == "PUT"
    return JsonResponse({"received": here, "done": is_whole}, status=201 if is_new else 200)


def needed_for(photo_id: uuid.UUID) -> str:
    """Return what it takes to send a photo: as much as to record what names it.

    Raises UnknownPhoto.
    """
    return PLAN if isinstance(photo_named(photo_id), PullPhoto) else RECORD


def _take(request: HttpRequest, photo_id: uuid.UUID) -> tuple[int, bool]:
    try:
        offset = int(request.headers["Upload-Offset"])
        length = int(request.headers["Upload-Length"])
    except (KeyError, ValueError):
        raise TooLarge(
            "This piece does not say where it begins, or how long the photo is."
        ) from None
    if offset < 0 or length < 1:
        raise TooLarge("This piece begins nowhere.")
    return take_piece(
        photo_id=photo_id, offset=offset, length=length, piece=request.body, by=signed_in(request)
    )


def _refusal(
    request: HttpRequest, status: int, errors: Mapping[str, Sequence[str]]
) -> JsonResponse:
    logger.warning(
        "refused with %d: %s %s of “%s”: %.500r",
        status,
        request.method,
        request.path,
        request.user,
        errors,
    )
    return JsonResponse({"errors": errors}, status=status)
