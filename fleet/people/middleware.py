"""What holds of a sign-in: one's own password first, a role, a month from its last use, no copy."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import add_never_cache_headers

from fleet.fields import note_refusal
from fleet.people.second_step import has_second_step, is_asked_of
from fleet.people.yard_pages import named_by_page
from fleet.people.yards import BoundElsewhere, must_act_in, yards_bound_to
from fleet.refusals import refused_by_role
from fleet.roles import READ, RIGHT_ASKED, signed_in

# In the session: a password a manager gives ends every session there is, so that whoever must
# change theirs signs in anew, and no page asks the database for it.
MUST_CHANGE = "must_change_password"
ALLOWED = {"own-password", "sign-out", "second-step", "set-up-second-step", "new-passkey"}


def must_change_password(request: HttpRequest) -> bool:
    """Whether whoever asks must choose a password of their own first."""
    return bool(request.session.get(MUST_CHANGE))


class BeforeThePage:
    """What is looked at once it is known which page is asked for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)


class OwnPasswordFirst(BeforeThePage):
    """Lead to the change of password from every page that asks for a sign-in."""

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        match = request.resolver_match
        if not getattr(view, "login_required", True) or not must_change_password(request):
            return None
        if match is not None and match.url_name in ALLOWED:
            return None
        return redirect("own-password")


# In the session: that the second step of its sign-in was taken, or is owed since the person has
# one; and where the sign-in was to lead.
PASSED, OWED, AFTERWARDS = "second_step_passed", "second_step_owed", "after_second_step"
STEPS = {"second-step", "set-up-second-step", "new-passkey", "sign-out"}


def owes_second_step(request: HttpRequest) -> bool:
    """Whether whoever asks is to take a second step first; nobody does where none is asked for.

    A session from before the site asked it of their role owes it too; one of somebody whose second
    step was taken away meanwhile owes none any more, as if they had signed in since.
    """
    if request.session.get(PASSED):
        return False
    if is_asked_of(request.user):
        return True
    return bool(request.session.get(OWED)) and has_second_step(signed_in(request))


def note_second_step(request: HttpRequest, user: User, **_: Any) -> None:
    """Let a sign-in owe the second step of a person who has set one up."""
    request.session.pop(PASSED, None)
    if request.resolver_match is not None and has_second_step(user):
        request.session[OWED] = True


class SecondStepFirst(BeforeThePage):
    """Lead to the second step of a sign-in from every page that asks for one."""

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        match = request.resolver_match
        if not getattr(view, "login_required", True) or not request.user.is_authenticated:
            return None
        if (match is not None and match.url_name in STEPS) or not owes_second_step(request):
            return None
        if request.method == "GET" and not getattr(request, "htmx", False):
            request.session[AFTERWARDS] = request.get_full_path()
        return redirect("second-step")


class RoleFirst(BeforeThePage):
    """Show nothing to whoever has no role, or has it no more, from that moment on.

    Asked of the rights that every page looks at, so that it costs no page a question of its own.
    """

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        match = request.resolver_match
        if not getattr(view, "login_required", True) or request.user.has_perm(READ):
            return None
        if match is not None and match.url_name in ALLOWED:
            return None
        return refused_by_role(render(request, "people/no_role.html", status=403))


PLAIN_METHODS = ("GET", "HEAD", "OPTIONS", "POST")
# Programs and phones are told by the addresses they ask, in words of theirs.
PHONE = {"field-pack", "field-inspections", "field-pulls", "field-photo"}


class PlainMethodsOnly(BeforeThePage):
    """Answer no page in a way that no browser asks for: some would take it for a look."""

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        match = request.resolver_match
        if request.method in PLAIN_METHODS or match is None:
            return None
        if "api" in match.namespaces or match.url_name in PHONE:
            return None
        return HttpResponseNotAllowed(PLAIN_METHODS)


class YardFirst(BeforeThePage):
    """Let nobody fill in a form of what stands in a yard where they may not act.

    What they sent all the same is refused by the recording functions, and told here in a page of
    its own where the page they came by has no place for it.
    """

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        right = getattr(view, RIGHT_ASKED, "")
        if not right or not request.user.has_perm(right) or not yards_bound_to(request.user):
            return None
        try:
            page = request.resolver_match.url_name if request.resolver_match else ""
            must_act_in(signed_in(request), *named_by_page(page or "", kwargs))
        except BoundElsewhere as refusal:
            return _elsewhere(request, refusal)
        return None

    def process_exception(self, request: HttpRequest, trouble: Exception) -> HttpResponse | None:
        return _elsewhere(request, trouble) if isinstance(trouble, BoundElsewhere) else None


def _elsewhere(request: HttpRequest, refusal: BoundElsewhere) -> HttpResponse:
    note_refusal(*refusal.messages)
    return render(request, "people/elsewhere.html", {"refusal": refusal.messages}, status=403)


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
