"""The pages of passkeys: adding one to one's own, taking one away, what a browser is asked."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import User
from django.core.exceptions import PermissionDenied, ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from fleet.characters import check_name
from fleet.dates import day_words
from fleet.fields import SubmissionForm, field_of, show_refusal
from fleet.models import Passkey, PasskeyEnd
from fleet.people.forms import PasswordOfNowForm
from fleet.people.guesses import count_wrong_password, too_many_guesses
from fleet.people.middleware import owes_second_step
from fleet.people.passkeys import (
    CHALLENGE,
    NOT_VERIFIED,
    PASSKEYS,
    add_passkey,
    challenge_of,
    end_passkey,
    new_challenge,
    options_to_add,
    options_to_enter,
    site_of,
)
from fleet.people.second_step import has_second_step, is_asked_of
from fleet.people.second_step_views import pass_on
from fleet.roles import signed_in, who_words
from fleet.signers import signer_words
from fleet.tables import Column, DayColumn, MomentColumn, RecordsTable
from fleet.throttle import at_most

SECTION = {"section": "set-up"}
PASSWORD = "password of a passkey"
ASKED_A_MINUTE = 30


class PasskeyForm(PasswordOfNowForm, SubmissionForm):
    """A passkey that the browser made, what it is called, and the password."""

    name = field_of(
        Passkey,
        "name",
        label="Where it is kept",
        help_text="Such as: my phone. Once you add it, the browser asks how to keep it.",
        validators=[check_name],
        error_messages={"required": "This is blank: say where the passkey is kept."},
    )
    passkey = forms.CharField(
        required=False, max_length=20_000, label="passkey", widget=forms.HiddenInput
    )

    field_order = ("name", "old", "passkey", "submission_id")


class EndPasskeyForm(PasswordOfNowForm, SubmissionForm):
    """Why a passkey is taken away, and the password of whoever does."""

    reason = field_of(
        PasskeyEnd,
        "reason",
        label="Why",
        help_text="It stays on record, such as: the phone is lost.",
        error_messages={"required": "This is blank: say why, since it stays on record."},
    )
    field_order = ("reason", "old", "submission_id")


class PasskeyTable(RecordsTable):
    """The passkeys of one person, the newest first."""

    caption = "Passkeys"
    anchor = "passkeys"
    own_prefix = "passkeys-"
    empty_words = "None: they sign in with a password."

    name = Column("Where it is kept", orderable=False)
    host = Column("Made for", orderable=False)
    recorded_at = DayColumn("Added")
    use = MomentColumn("Last used", accessor="use__used_at", default="never", orderable=False)
    state = Column("Now", empty_values=(), orderable=False)

    @classmethod
    def records(cls, person: User) -> QuerySet[Passkey]:
        """Return the passkeys of somebody, with what tells how they stand."""
        asked = Passkey.objects.select_related("use", "end__recorded_by")
        return asked.filter(person=person)

    def render_state(self, record: Passkey) -> Any:
        if hasattr(record, "end"):
            end = record.end
            by, day = signer_words(end), day_words(end.recorded_at)
            return f"taken away on {day} by {by}: {end.reason}"
        url = reverse("end-passkey", args=[record.pk])
        return format_html('works · <a href="{}">Take it away</a>', url)


def _too_often(request: HttpRequest) -> HttpResponse:
    return JsonResponse({"detail": "Too many within a minute: wait, and try again."}, status=429)


@login_not_required
@require_POST
@never_cache
@at_most(ASKED_A_MINUTE, _too_often)
def passkey_options(request: HttpRequest) -> HttpResponse:
    """Tell the browser of a visitor what to ask of a passkey that is to sign them in."""
    site = site_of(request)
    if site is None:
        detail = "Passkeys work over HTTPS alone, and at a name, not a bare address."
        return JsonResponse({"detail": detail}, status=400)
    options = options_to_enter(site, new_challenge(request))
    return HttpResponse(options, content_type="application/json")


@sensitive_post_parameters("old")
@never_cache
def new_passkey(request: HttpRequest) -> HttpResponse:
    """Add a passkey to one's own."""
    user, sent = signed_in(request), request.method == "POST"
    if owes_second_step(request) and has_second_step(user):
        return redirect("second-step")
    if refused := too_many_guesses(request, PASSWORD, SECTION):
        return refused
    form = PasskeyForm(request.POST if sent else None, user=user)
    if sent and form.is_valid():
        codes = _add(request, user, form)
        if codes is not None:
            return _added(request, user, form.cleaned_data["name"], codes)
    if sent:
        count_wrong_password(request, PASSWORD, form)
    return _page_to_add(request, user, form)


def _add(request: HttpRequest, user: User, form: PasskeyForm) -> list[str] | None:
    """Add what a browser made, and return new recovery codes; None where the form says why not."""
    given, site, challenge = form.cleaned_data, site_of(request), challenge_of(request)
    # Each challenge is answered once.
    request.session.pop(CHALLENGE, None)
    try:
        if site is None or challenge is None or not given["passkey"]:
            raise ValidationError(NOT_VERIFIED)
        return add_passkey(
            submission_id=given["submission_id"],
            user=user,
            name=given["name"],
            answer=given["passkey"],
            challenge=challenge,
            site=site,
        )
    except ValidationError as refusal:
        show_refusal(form, refusal, "us")
        return None


def _page_to_add(request: HttpRequest, user: User, form: PasskeyForm) -> HttpResponse:
    site, challenge = site_of(request), challenge_of(request)
    # One that was made stays good while the rest of the form is put right, unless it is at fault.
    keeps = form.is_bound and challenge is not None and "passkey" not in form.errors
    if challenge is None or not keeps:
        challenge = new_challenge(request)
    context = SECTION | {
        "form": form,
        "made": request.POST.get("passkey", "") if keeps else "",
        "options": options_to_add(site, user, challenge) if site is not None else "",
        "is_asked": is_asked_of(user) and not has_second_step(user),
    }
    return render(request, "people/new_passkey.html", context)


def _added(request: HttpRequest, user: User, name: str, codes: list[str]) -> HttpResponse:
    goes_on_to = pass_on(request)
    if codes:
        shown = {"codes": codes, "goes_on_to": goes_on_to}
        return render(request, "people/recovery_codes.html", shown)
    messages.success(request, f"Passkey “{name}” is added: it signs you in from now on.")
    return redirect("person", user.pk)


@sensitive_post_parameters("old")
def take_away_passkey(request: HttpRequest, passkey_id: int) -> HttpResponse:
    """Take a passkey away: whose it is, or a manager."""
    found, user = Passkey.objects.select_related("person"), signed_in(request)
    passkey, sent = get_object_or_404(found, pk=passkey_id), request.method == "POST"
    if not PASSKEYS.may_end(passkey, user):
        raise PermissionDenied
    if refused := too_many_guesses(request, PASSWORD, SECTION):
        return refused
    form = EndPasskeyForm(request.POST if sent else None, user=user)
    if sent and form.is_valid():
        given = form.cleaned_data
        try:
            end_passkey(
                submission_id=given["submission_id"],
                passkey=passkey,
                reason=given["reason"],
                by=user,
            )
        except ValidationError as refusal:
            show_refusal(form, refusal, "us")
        else:
            messages.success(request, f"Passkey “{passkey}” lets nobody in any more.")
            return redirect("person", passkey.person_id)
    elif sent:
        count_wrong_password(request, PASSWORD, form)
    person = passkey.person
    context = SECTION | {
        "form": form,
        "passkey": passkey,
        "person": person,
        "name": who_words(person),
        "is_self": person.pk == user.pk,
        "is_ended": PasskeyEnd.objects.filter(passkey=passkey).exists(),
    }
    return render(request, "people/end_passkey.html", context)
