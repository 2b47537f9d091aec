"""Signing in and out, and the reader's choice of units."""

from __future__ import annotations

import logging
from typing import Any

from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.base_user import AbstractBaseUser
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.models import User
from django.contrib.auth.signals import user_login_failed
from django.contrib.auth.views import LoginView, LogoutView
from django.core.exceptions import (
    NON_FIELD_ERRORS,
    BadRequest,
    RequestDataTooBig,
    TooManyFieldsSent,
    TooManyFilesSent,
)
from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST
from django.views.defaults import bad_request, permission_denied

from fleet.fields import note_refusal
from fleet.kept_files import GONE, NOT_FOUND, NotKept
from fleet.models import Person, ReaderPreference
from fleet.models.reader import Units
from fleet.people.locks import is_locked_out, locked_page, tries_left_words
from fleet.people.middleware import MUST_CHANGE, PASSED
from fleet.people.passkeys import PasskeyRefused, enter_from, owner_of, site_of
from fleet.refusals import refused_by_role
from fleet.roles import RECORD, signed_in
from fleet.sign_ins import BY_PASSKEY
from fleet.throttle import count_failure, has_failed_often
from fleet.whole_requests import TIMED_OUT, BrokenOff

logger = logging.getLogger(__name__)

BAD_REQUEST = 400


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
        if "passkey" in request.POST:
            return self._by_passkey(request)
        return super().post(request, *args, **kwargs)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        shown = {"takes_passkeys": site_of(self.request) is not None}
        return super().get_context_data(**shown | kwargs)

    def _by_passkey(self, request: HttpRequest) -> HttpResponse:
        """Let somebody in by a passkey that made sure of them: first and second step in one."""
        owner = owner_of(request.POST["passkey"])
        if owner is not None and is_locked_out(request, owner):
            return locked_page(request, None, {"username": owner.username})
        try:
            user = enter_from(request)
        except PasskeyRefused as refusal:
            return self._refused_passkey(request, refusal)
        setattr(request, BY_PASSKEY, True)
        login(request, user, backend="django.contrib.auth.backends.ModelBackend")
        request.session[PASSED] = True
        self._note_given_password(user)
        return redirect(self.get_success_url())

    def _refused_passkey(self, request: HttpRequest, refusal: PasskeyRefused) -> HttpResponse:
        words, who = str(refusal), refusal.person
        count_failure(request, "sign-in")
        note_refusal(words)
        logger.warning("a passkey of %s was refused", f"“{who}”" if who else "nobody here")
        # Counted toward a lock as a wrong password is, and on record.
        name = who.username if who is not None else ""
        user_login_failed.send(__name__, credentials={"username": name}, request=request)
        form = self.get_form_class()(request)
        return self.render_to_response(self.get_context_data(form=form, passkey_refused=words))

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        response = super().form_valid(form)
        self._note_given_password(form.get_user())
        return response

    def _note_given_password(self, user: AbstractBaseUser) -> None:
        if Person.objects.filter(user=user.pk, must_change_password=True).exists():
            self.request.session[MUST_CHANGE] = True

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        # Only a name that is somebody's: what was typed may be a password in the wrong field.
        name = form.cleaned_data.get("username", "")
        who = User.objects.filter(username=name).first()
        count_failure(self.request, "sign-in")
        logger.warning("sign-in failed for %s", f"“{who}”" if who else "a name nobody here has")
        if form.has_error(NON_FIELD_ERRORS):
            form.add_error(None, tries_left_words(self.request, name))
        return super().form_invalid(form)


class SignOut(LogoutView):
    pass


def unreadable(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say why what was sent can’t be read; of a request turned away unread, nothing."""
    if not hasattr(request, "user"):
        return bad_request(request, exception)
    if isinstance(exception, BrokenOff):
        logger.warning("broken off: %s %r", request.method, request.path)
        return render(request, "fleet/unreadable.html", {"told": str(exception)}, status=TIMED_OUT)
    words = _why_unreadable(exception)
    note_refusal(words)
    logger.warning("can’t be read: %s %r: %s", request.method, request.path, exception)
    return render(request, "fleet/unreadable.html", {"told": words}, status=BAD_REQUEST)


def _why_unreadable(exception: Exception) -> str:
    match exception:
        case BadRequest():
            return str(exception)
        case RequestDataTooBig():
            most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
            return (
                f"The fields of this form hold more than {most:,} bytes in all: shorten its texts."
            )
        case TooManyFieldsSent():
            most = settings.DATA_UPLOAD_MAX_NUMBER_FIELDS
            return f"This form has more than {most:,} fields: send it in parts."
        case TooManyFilesSent():
            most = settings.DATA_UPLOAD_MAX_NUMBER_FILES
            return f"More than {most:,} files came at once: send them in parts."
    return (
        "The form is broken off, or not put together as a browser does it: go back, open the page "
        "again and send it from there."
    )


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
    # By the shortcut a word without a slash would be the name of a page, and lead nowhere.
    return HttpResponseRedirect(back if safe and back.startswith("/") else "/")
