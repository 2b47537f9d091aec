"""Signing in and out, and the reader's choice of units."""

from __future__ import annotations

import logging
from typing import Any

from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.models import User
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST
from django.views.defaults import permission_denied

from fleet.kept_files import GONE, NOT_FOUND, NotKept
from fleet.models import Person, ReaderPreference
from fleet.models.reader import Units
from fleet.people.middleware import MUST_CHANGE
from fleet.refusals import refused_by_role
from fleet.roles import RECORD, signed_in
from fleet.throttle import count_failure, has_failed_often

logger = logging.getLogger(__name__)


class SignIn(LoginView):
    template_name = "fleet/sign_in.html"
    redirect_authenticated_user = True

    def get_default_redirect_url(self) -> str:
        """Lead who keeps the records to what waits for them, everybody else to the board."""
        return reverse("waiting" if self.request.user.has_perm(RECORD) else "board")

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        # A preview that asked after the session ended must not be filled with this page.
        if getattr(request, "htmx", False):
            return render(request, "fleet/signed_out.html")
        return super().get(request, *args, **kwargs)

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if has_failed_often(request, "sign-in"):
            logger.warning("refused: too many sign-ins of one address failed within a minute")
            return render(request, "people/too_often.html", status=429)
        return super().post(request, *args, **kwargs)

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        response = super().form_valid(form)
        if Person.objects.filter(user=form.get_user(), must_change_password=True).exists():
            self.request.session[MUST_CHANGE] = True
        return response

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        # Only a name that is somebody's: what was typed may be a password in the wrong field.
        who = User.objects.filter(username=form.cleaned_data.get("username", "")).first()
        count_failure(self.request, "sign-in")
        logger.warning("sign-in failed for %s", f"“{who}”" if who else "a name nobody here has")
        return super().form_invalid(form)


class SignOut(LogoutView):
    pass


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say that a page is not for whoever asks."""
    logger.warning("refused by role: %s %r to “%s”", request.method, request.path, request.user)
    return refused_by_role(permission_denied(request, exception))


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say that nothing is there; of a file that is not kept, why."""
    if not isinstance(exception, NotKept):
        return render(request, "404.html", status=NOT_FOUND)
    status = exception.status
    context = {"told": str(exception), "is_let_go": status == GONE}
    return render(request, "404.html", context, status=status)


@require_POST
def choose_units(request: HttpRequest) -> HttpResponse:
    """Keep the reader's choice of units and go back to the page it was made on."""
    units = request.POST.get("units", "")
    if units not in Units.values:
        return HttpResponseBadRequest("Choose US customary or SI.")
    ReaderPreference.objects.update_or_create(user=signed_in(request), defaults={"units": units})
    back = request.POST.get("back", "/")
    safe = url_has_allowed_host_and_scheme(back, allowed_hosts={request.get_host()})
    return redirect(back if safe else "/")
