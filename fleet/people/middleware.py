"""Whoever signed in with a password that a manager gave changes it before anything else."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

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
