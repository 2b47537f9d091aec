"""The pages of the second step of a sign-in: asked, set up, taken away by a manager."""

from __future__ import annotations

from base64 import b32encode
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from fleet.fields import note_refusal
from fleet.models import SignIn
from fleet.people.forms import PasswordOfNowForm
from fleet.people.middleware import AFTERWARDS, PASSED, owes_second_step
from fleet.people.passkeys import (
    PasskeyRefused,
    enter_from,
    has_passkey,
    new_challenge,
    options_to_enter,
    site_of,
)
from fleet.people.recovery_codes import has_codes
from fleet.people.second_step import (
    NOT_IT,
    begin,
    confirm,
    has_phone,
    has_second_step,
    is_asked_of,
    passes,
)
from fleet.roles import signed_in
from fleet.sign_ins import keep_from_page
from fleet.throttle import count_failure, has_failed_often

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
    sent = request.method == "POST"
    if sent and has_failed_often(request, NAME):
        return render(request, "people/too_often.html", status=429)
    by_passkey = sent and "passkey" in request.POST
    by_phone = has_phone(user)
    form = CodeForm(request.POST if sent and not by_passkey else None, has_phone=by_phone)
    shown: dict[str, Any] = {"form": form, "has_phone": by_phone}
    if by_passkey:
        try:
            enter_from(request, user)
        except PasskeyRefused as refusal:
            shown["passkey_refused"] = str(refusal)
            _count(request, user, str(refusal))
        else:
            keep_from_page(request, SignIn.What.PASSKEY, user)
            return redirect(pass_on(request))
    elif sent and form.is_valid():
        if passes(user, form.cleaned_data["code"]):
            keep_from_page(request, SignIn.What.CODE, user)
            return redirect(pass_on(request))
        _count(request, user, NOT_RIGHT)
        form.add_error("code", NOT_IT)
    site = site_of(request)
    shown["has_passkey"] = has_passkey(user)
    if site is not None and shown["has_passkey"]:
        shown["options"] = options_to_enter(site, new_challenge(request), user)
    return render(request, "people/second_step.html", shown)


@sensitive_post_parameters("code", "old")
@never_cache
def set_up_second_step(request: HttpRequest) -> HttpResponse:
    """Set a phone up as the second step of one's sign-ins, and show its recovery codes once."""
    user = signed_in(request)
    if owes_second_step(request) and has_second_step(user):
        return redirect("second-step")
    if request.method == "POST" and has_failed_often(request, NAME):
        return render(request, "people/too_often.html", status=429)
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
        "has_codes": has_codes(user),
        "is_asked": is_asked_of(user),
    }
    return render(request, "people/set_up_second_step.html", context)


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
