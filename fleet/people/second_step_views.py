"""The pages of the second step of a sign-in: asked, set up, taken away by a manager."""

from __future__ import annotations

from base64 import b32encode
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from fleet.fields import note_refusal
from fleet.models import SignIn
from fleet.people.forms import PasswordOfNowForm
from fleet.people.guesses import count_wrong_password, too_many_guesses
from fleet.people.middleware import AFTERWARDS, PASSED, owes_second_step
from fleet.people.passkeys import (
    PasskeyRefused,
    enter_from,
    hosts_of_passkeys,
    new_challenge,
    options_to_enter,
    site_of,
)
from fleet.people.phones import begin, has_phone
from fleet.people.recovery_codes import codes_left
from fleet.people.second_step import (
    NOT_IT,
    confirm,
    has_second_step,
    is_asked_of,
    make_codes_anew,
    passes,
)
from fleet.roles import signed_in
from fleet.sign_ins import keep_from_page
from fleet.throttle import count_failure

NAME = "second step"
NOT_RIGHT = "The code was not right."


def code_field(**kwargs: Any) -> forms.CharField:
    """Return the field of a code that a phone shows."""
    return forms.CharField(
        label="Code",
        max_length=24,
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "inputmode": "text", "autofocus": True}
        ),
        error_messages={"required": "This is blank: type the code."},
        **kwargs,
    )


class CodeForm(forms.Form):
    """The code of this moment."""

    code = code_field(help_text="The six digits your phone shows now, or a recovery code.")

    def __init__(self, *args: Any, has_phone: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not has_phone:
            self.fields["code"].label = "Recovery code"
            self.fields["code"].help_text = "One of those you kept."
            # A passkey is asked for first: no keyboard is to come up over its button.
            del self.fields["code"].widget.attrs["autofocus"]


class SetUpForm(PasswordOfNowForm):
    """The first code of a phone, beside the password."""

    code = code_field(help_text="The six digits it shows now.")
    field_order = ("code", "old")


@sensitive_post_parameters("code")
@never_cache
def second_step(request: HttpRequest) -> HttpResponse:
    """Ask for the code or the passkey that belongs to a sign-in."""
    user = signed_in(request)
    if not owes_second_step(request):
        return redirect("board")
    if not has_second_step(user):
        return redirect("set-up-second-step")
    if refused := too_many_guesses(request, NAME):
        return refused
    by_passkey = "passkey" in request.POST
    by_code = request.method == "POST" and not by_passkey
    form = CodeForm(request.POST if by_code else None, has_phone=has_phone(user))
    if by_passkey:
        why_not = _passkey_refused(request, user)
        return redirect(pass_on(request)) if not why_not else _asked(request, user, form, why_not)
    if form.is_valid() and _is_the_code(request, user, form):
        return redirect(pass_on(request))
    return _asked(request, user, form)


def _passkey_refused(request: HttpRequest, user: User) -> str:
    """Return why the passkey a page sent is no second step of somebody; "" where it is."""
    try:
        enter_from(request, user)
    except PasskeyRefused as refusal:
        _count(request, user, str(refusal))
        return str(refusal)
    keep_from_page(request, SignIn.What.PASSKEY, user)
    return ""


def _is_the_code(request: HttpRequest, user: User, form: CodeForm) -> bool:
    if passes(user, form.cleaned_data["code"]):
        keep_from_page(request, SignIn.What.CODE, user)
        return True
    _count(request, user, NOT_RIGHT)
    form.add_error("code", NOT_IT)
    return False


def _asked(request: HttpRequest, user: User, form: CodeForm, refused: str = "") -> HttpResponse:
    """Ask for a code, or for a passkey where one may be used at this name of the site."""
    site, hosts = site_of(request), hosts_of_passkeys(user)
    is_here = site is not None and site.host in hosts
    shown: dict[str, Any] = {
        "form": form,
        "has_phone": has_phone(user),
        "has_passkey": bool(hosts) and (site is None or is_here),
        "hosts": hosts if site is not None and not is_here else [],
        "passkey_refused": refused,
    }
    if site is not None and is_here:
        shown["options"] = options_to_enter(site, new_challenge(request), user)
    return render(request, "people/second_step.html", shown)


@sensitive_post_parameters("code", "old")
@never_cache
def set_up_second_step(request: HttpRequest) -> HttpResponse:
    """Set a phone up as the second step of one's sign-ins, and show its recovery codes once."""
    user = signed_in(request)
    if owes_second_step(request) and has_second_step(user):
        return redirect("second-step")
    if refused := too_many_guesses(request, NAME):
        return refused
    form = SetUpForm(request.POST if request.method == "POST" else None, user=user)
    if request.method == "POST" and form.is_valid():
        try:
            codes = confirm(user, form.cleaned_data["code"])
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            shown = {"codes": codes, "goes_on_to": pass_on(request)}
            return render(request, "people/recovery_codes.html", shown)
    if request.method == "POST":
        _count(request, user, NOT_RIGHT)
    device = begin(user)
    key = b32encode(device.bin_key).decode()
    context = {
        "form": form,
        "picture": _picture_of(device.config_url),
        "key": " ".join(key[at : at + 4] for at in range(0, len(key), 4)),
        "has_phone": has_phone(user),
        "has_one": has_second_step(user),
        "has_codes": codes_left(user) > 0,
        "is_asked": is_asked_of(user),
    }
    return render(request, "people/set_up_second_step.html", context)


@sensitive_post_parameters("old")
@never_cache
def new_recovery_codes(request: HttpRequest) -> HttpResponse:
    """Make a new set of recovery codes, and show it once; the one of before ends."""
    user, sent = signed_in(request), request.method == "POST"
    if not has_second_step(user):
        return redirect("set-up-second-step")
    if refused := too_many_guesses(request, NAME):
        return refused
    form = PasswordOfNowForm(request.POST if sent else None, user=user)
    if sent and form.is_valid():
        try:
            codes = make_codes_anew(user)
        except ValidationError as refusal:
            form.add_error(None, refusal)
        else:
            back = reverse("person", args=[user.pk])
            shown = {"codes": codes, "goes_on_to": back, "is_anew": True}
            return render(request, "people/recovery_codes.html", shown)
    elif sent:
        count_wrong_password(request, NAME, form)
    context = {"form": form, "left": codes_left(user)}
    return render(request, "people/new_recovery_codes.html", context)


def _picture_of(address: str) -> str:
    # Imported on need: the site must not wait for the library of such codes at start.
    import segno

    return str(segno.make(address).svg_data_uri(scale=5, border=3, light="white"))


def pass_on(request: HttpRequest) -> str:
    """Note that the second step was taken, and return where the sign-in was to lead."""
    request.session[PASSED] = True
    return str(request.session.pop(AFTERWARDS, "/"))


def _count(request: HttpRequest, user: User, words: str) -> None:
    count_failure(request, NAME)
    keep_from_page(request, SignIn.What.FAILED, user)
    note_refusal(words)
