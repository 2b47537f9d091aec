"""Refusals on record: what the site would not do for somebody, kept once the answer is made.

Written after all that the page did, and so outside of the transaction that a refusal rolls back.
What can't be recorded, on a full disk or a database that only reads, never changes the answer.
"""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from django.contrib.auth.models import User
from django.core.cache import cache
from django.db import Error, transaction
from django.db.models import Model
from django.http import HttpRequest, HttpResponse

from fleet.fields import Noted, refusals_noted
from fleet.models import ApiToken, Refusal
from fleet.throttle import count, count_here, is_reached

logger = logging.getLogger(__name__)

# Of one person, and of all visitors who did not sign in together, in a minute and in a day: more
# are counted. A flood that lasts must not fill the disk either.
KEPT_IN_A_MINUTE = 30
KEPT_IN_A_DAY = 1_000
MINUTE_SECONDS, DAY_SECONDS = 60, 24 * 3600
# How long it is known that some were not kept, until the next that is.
COUNTED_SECONDS = 7 * 24 * 3600
SAFE = {"GET", "HEAD", "OPTIONS"}
FORBIDDEN, TOO_OFTEN = 403, 429
# The address led nowhere, or the way of asking is none; what was sent did not come whole; a piece
# of a photo is out of step.
NO_REFUSAL = {404, 405, 408, 409}
OTHER_SITE = "The form did not come from a page that this site had sent."


class KeepRefusals:
    """Put on record what the site refused to do."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with refusals_noted() as noted:
            response = self.get_response(request)
        if _is_refused(request, response, noted):
            _keep_refusal(request, response, noted)
        return response


def _is_refused(request: HttpRequest, response: HttpResponse, noted: Noted) -> bool:
    """Say whether an answer is a refusal: by its number, or a form shown again with errors."""
    status = response.status_code
    if status in {FORBIDDEN, TOO_OFTEN} or noted.is_final:
        return True
    # What is only looked at, such as a preview while a form is filled in, is not yet asked for.
    if request.method in SAFE or getattr(request, "htmx", False):
        return False
    if noted.fields or noted.words:
        return status == 200 or 400 <= status < 500
    return 400 <= status < 500 and status not in NO_REFUSAL


def _keep_refusal(request: HttpRequest, response: HttpResponse, noted: Noted) -> None:
    fields, words = noted.fields, noted.words
    if not (fields or words):
        fields, words = _told_by(response)
    why = {FORBIDDEN: Refusal.Why.ROLE, TOO_OFTEN: Refusal.Why.OFTEN}.get(
        response.status_code, Refusal.Why.GIVEN
    )
    if response.status_code == FORBIDDEN and not words and not _is_by_role(response):
        why, words = Refusal.Why.GIVEN, [OTHER_SITE]
    page, path = page_of(request)
    keep_refusal(person_of(request), why=why, page=page, path=path, fields=fields, words=words)


def keep_refusal(
    person: User | None,
    *,
    page: str,
    path: str,
    fields: Iterable[str],
    words: Iterable[str],
    why: Refusal.Why = Refusal.Why.GIVEN,
) -> None:
    """Put a refusal on record. page, path: by name of url, and its address."""
    keep(
        Refusal,
        person,
        why=why,
        page=page[:80],
        path=path[:300],
        fields=_kept(", ".join(fields), 500),
        words=_kept(" ".join(words), 1_000),
    )


def _kept(text: str, most: int) -> str:
    """Return a text as a database takes it: words of a refusal may quote what nobody can type."""
    return text.replace("\0", "").encode(errors="replace").decode()[:most]


BY_ROLE = "is_by_role"


def refused_by_role(response: HttpResponse) -> HttpResponse:
    """Mark an answer as a refusal by what somebody’s role may do."""
    setattr(response, BY_ROLE, True)
    return response


def _is_by_role(response: HttpResponse) -> bool:
    return bool(getattr(response, BY_ROLE, False))


def _told_by(response: HttpResponse) -> tuple[list[str], list[str]]:
    """Return the fields and words of a refusal in JSON, as the phone and programs are told."""
    if response.streaming or "json" not in response.get("Content-Type", ""):
        return [], []
    try:
        told: Any = json.loads(response.content)
    except ValueError:
        return [], []
    if not isinstance(told, Mapping):
        return [], []
    errors = told.get("errors")
    if isinstance(errors, Mapping):
        words = [str(each) for given in errors.values() for each in _listed(given)]
        return [str(name) for name in errors if name], words
    return [], [str(told[name]) for name in ("title", "detail") if told.get(name)]


def _listed(given: Any) -> list[Any]:
    return list(given) if isinstance(given, list | tuple) else [given]


TOKEN = "token_sent"


def came_by_token(request: HttpRequest, token: ApiToken) -> None:
    """Remember by whose token a request came, whether that works or not."""
    setattr(request, TOKEN, token)


def token_of(request: HttpRequest) -> ApiToken | None:
    """Return the token that a request came by, None where it came by none on record."""
    found: ApiToken | None = getattr(request, TOKEN, None)
    return found


def person_of(request: HttpRequest) -> User | None:
    """Return who is signed in, or whose token was sent; None where nobody is."""
    token = token_of(request)
    user = getattr(request, "user", None) if token is None else token.recorded_by
    return user if isinstance(user, User) else None


def page_of(request: HttpRequest) -> tuple[str, str]:
    """Return the name of the page a request asked for, and its address as it may be kept."""
    match = request.resolver_match
    if match is None:
        return "", ""
    is_open = not getattr(match.func, "login_required", True)
    return match.url_name or "", f"/{match.route}" if is_open else request.path


def keep(model: type[Model], who: User | None, **facts: Any) -> None:
    """Record a refusal or a sign-in of somebody, unless too many alike came in a minute or a day.

    Those left out are counted in the next that is kept, by each process of the site those that it
    left out itself, so that a flood asks the database nothing. Never raises for want of a database.
    """
    # Each kind by itself: who fails on purpose must not keep a true sign-in off the record.
    kind = str(facts.get("what", "")).replace(" ", "-")
    name = f"{model._meta.model_name}:{who.pk if who else 'visitor'}:{kind}"
    left_out = f"left-out:{name}"
    try:
        if _is_flood(name):
            count_here(left_out, COUNTED_SECONDS)
            return
        with transaction.atomic():
            _count(name)
            model._default_manager.create(person=who, left_out=cache.get(left_out, 0), **facts)
    except Error as trouble:
        logger.warning("a %s could not be put on record: %s", model._meta.verbose_name, trouble)
    else:
        cache.delete(left_out)


def _is_flood(name: str) -> bool:
    """Say whether as many came within the minute or the day as are kept."""
    return any(is_reached(key, most, 2 * span) for key, span, most in _spans(name))


def _count(name: str) -> None:
    for key, span, _most in _spans(name):
        count(key, 2 * span)


def _spans(name: str) -> Iterator[tuple[str, int, int]]:
    """Yield under which key one is counted now, for how many seconds, and how many are kept."""
    now = int(time.time())
    for span, most in ((DAY_SECONDS, KEPT_IN_A_DAY), (MINUTE_SECONDS, KEPT_IN_A_MINUTE)):
        yield f"kept:{name}:{span}:{now // span}", span, most
