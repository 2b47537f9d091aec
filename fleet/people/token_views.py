"""The pages of tokens: making one for oneself, and withdrawing one."""

from __future__ import annotations

import logging
from datetime import timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import PermissionDenied, ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables

from fleet.fields import SubmissionForm, field_of, show_refusal
from fleet.models import ApiScope, ApiToken, ApiTokenEnd
from fleet.people.guesses import count_wrong_password, too_many_guesses
from fleet.people.recording import role_of
from fleet.people.tokens import TOKENS, end_token, make_token, roles_within, why_not
from fleet.roles import signed_in, who_words
from fleet.tables import NONE, Column, DayColumn, MomentColumn, RecordsTable

logger = logging.getLogger(__name__)

FIRST_DAYS = 90
SECTION = {"section": "set-up"}
PASSWORD = "password of a token"


class TokenForm(SubmissionForm):
    """What a token is for, and what it may do."""

    name = field_of(
        ApiToken,
        "name",
        label="What uses it",
        error_messages={"required": "This is blank: say what uses the token."},
    )
    role = forms.ChoiceField(label="It acts as", widget=forms.RadioSelect)
    scopes = forms.MultipleChoiceField(
        label="It may",
        choices=ApiScope.choices,
        widget=forms.CheckboxSelectMultiple,
        initial=[ApiScope.READ],
        error_messages={"required": "Nothing is ticked: say what the token may do."},
        help_text="No more than its role: whoever keeps records signs inspections, tests and "
        "hours; whoever plans jobs records pulls.",
    )
    expires_on = forms.DateField(
        label="Holds until",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="A year at the most.",
        error_messages={"invalid": "This is not a day: give one such as 2026-03-14."},
    )
    old = forms.CharField(
        label="Your password",
        strip=False,
        max_length=128,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="So that nobody makes one at a screen you left open.",
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user
        roles: Any = self.fields["role"]
        roles.choices = [(each, each) for each in roles_within(role_of(user))]
        self.initial.setdefault("role", role_of(user))
        in_days = timezone.localdate() + timedelta(days=FIRST_DAYS)
        self.initial.setdefault("expires_on", in_days)

    def clean_old(self) -> str:
        old: str = self.cleaned_data["old"]
        if not self.user.check_password(old):
            raise forms.ValidationError("This is not your password: type it again.")
        return old


class EndTokenForm(SubmissionForm):
    """Why a token works no more."""

    reason = field_of(ApiTokenEnd, "reason", label="Why it works no more")


class TokenTable(RecordsTable):
    """The tokens of one person, the newest first."""

    caption = "Tokens of programs"
    anchor = "tokens"
    own_prefix = "tokens-"
    empty_words = "None: no program acts for them."

    name = Column("What uses it", orderable=False)
    begins = Column("Begins", orderable=False)
    role = Column("Acts as", orderable=False)
    scopes = Column("May", orderable=False)
    recorded_at = DayColumn("Made")
    expires_on = DayColumn("Holds until")
    use = MomentColumn("Last used", accessor="use__used_at", default="never", orderable=False)
    state = Column("Now", empty_values=(), orderable=False)

    @classmethod
    def records(cls, person: User) -> QuerySet[ApiToken]:
        """Return the tokens of somebody, with what tells how they stand."""
        return ApiToken.objects.with_state().filter(recorded_by=person)

    def render_scopes(self, value: list[str]) -> str:
        return ", ".join(ApiScope(each).label for each in value) or NONE

    def render_state(self, record: ApiToken) -> Any:
        if why := why_not(record):
            return f"works no more: {why}"
        url = reverse("end-token", args=[record.pk])
        return format_html('works · <a href="{}">Withdraw</a>', url)


@sensitive_post_parameters("old")
@sensitive_variables()
@never_cache
def new_token(request: HttpRequest) -> HttpResponse:
    """Make a token by which a program acts for whoever asks; it is shown once."""
    user, sent = signed_in(request), request.method == "POST"
    if refused := too_many_guesses(request, PASSWORD, SECTION):
        return refused
    form = TokenForm(request.POST if sent else None, user=user)
    if sent and form.is_valid():
        given = {name: each for name, each in form.cleaned_data.items() if name != "old"}
        try:
            made = make_token(by=user, **given)
        except ValidationError as refusal:
            show_refusal(form, refusal, "us")
        else:
            logger.info("“%s” made token %d, “%s”", user, made.token.pk, made.token)
            context = SECTION | {"token": made.token, "secret": made.secret, "person": user}
            return render(request, "people/token.html", context)
    elif sent:
        count_wrong_password(request, PASSWORD, form)
    context = SECTION | {"form": form, "person": user, "role": role_of(user)}
    return render(request, "people/new_token.html", context)


def withdraw_token(request: HttpRequest, token_id: int) -> HttpResponse:
    """Say that a token works no more: whose it is, or a manager."""
    tokens = ApiToken.objects.select_related("recorded_by")
    token, user = get_object_or_404(tokens, pk=token_id), signed_in(request)
    if not TOKENS.may_end(token, user):
        raise PermissionDenied
    form = EndTokenForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            end_token(token=token, by=user, **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal, "us")
        else:
            messages.success(request, "It works no more; what was recorded by it stays.")
            return redirect("person", token.recorded_by_id)
    person = token.recorded_by
    context = SECTION | {
        "form": form,
        "token": token,
        "person": person,
        "name": who_words(person),
        "why_not": why_not(token),
    }
    return render(request, "people/end_token.html", context)
