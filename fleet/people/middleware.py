"""What holds of a sign-in: one's own password first, a month from its last use, no copies kept."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.cache import add_never_cache_headers

# In the session: a password a manager gives ends every session there is, so that whoever must
# change theirs signs in anew, and no page asks the database for it.
MUST_CHANGE = "must_change_password"
ALLOWED = {"own-password", "sign-out"}


def must_change_password(request: HttpRequest) -> bool:
    """Whether whoever asks must choose a password of their own first."""
    return bool(request.session.get(MUST_CHANGE))


class OwnPasswordFirst:
    """Lead to the change of password from every page that asks for a sign-in."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        match = request.resolver_match
        if not getattr(view, "login_required", True) or not must_change_password(request):
            return None
        if match is not None and match.url_name in ALLOWED:
            return None
        return redirect("own-password")


LAST_USED = "last_used_on"


def count_the_month(request: HttpRequest, **_: Any) -> None:
    """Let the month of a sign-in begin today, unless it did already."""
    today = timezone.localdate().isoformat()
    if request.session.get(LAST_USED) != today:
        request.session[LAST_USED] = today


class MonthAnew:
    """Count the month of a sign-in from the last day it was used.

    Once a day: writing a session for every page would make readers wait for each other.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.user.is_authenticated:
            count_the_month(request)
        return self.get_response(request)


class KeptByNobody:
    """Let no browser or proxy keep a page of whoever is signed in, for whoever comes after.

    But for what says itself how long it may be kept.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if request.user.is_authenticated and not response.has_header("Cache-Control"):
            add_never_cache_headers(response)
        return response
