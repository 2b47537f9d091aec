"""The pages of people, and everybody's own password."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import User
from django.contrib.auth.tokens import default_token_generator
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.encoding import force_str
from django.utils.http import urlsafe_base64_decode
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from fleet.fields import SubmissionForm, note_refusal
from fleet.models import Person
from fleet.people.forms import (
    LINK,
    AccessForm,
    ChoosePasswordForm,
    NewPersonForm,
    OwnPasswordForm,
    PersonForm,
    ResetForm,
    RoleForm,
    YardsForm,
    particulars_of,
)
from fleet.people.guesses import count_wrong_password, too_many_guesses
from fleet.people.locks import locks_of
from fleet.people.middleware import MUST_CHANGE, must_change_password
from fleet.people.passkey_views import PasskeyTable
from fleet.people.passkeys import has_passkey
from fleet.people.phones import has_phone
from fleet.people.recording import (
    EVERY,
    LinkIsOver,
    bind_to_yards,
    change_access,
    change_person,
    change_role,
    choose_password,
    enter_person,
    give_link,
    give_password,
    lift_lock,
    link_of,
    role_of,
)
from fleet.people.second_step import take_away
from fleet.people.tables import PeopleTable, PersonChangeTable
from fleet.people.token_views import TokenTable
from fleet.people.yards import yard_names, yards_bound_now, yards_bound_to
from fleet.roles import RECORD, manager_required, managers_but, signed_in, who_words
from fleet.tables import table_of
from fleet.throttle import at_most

logger = logging.getLogger(__name__)

SECTION = {"section": "set-up"}
LINKS_A_MINUTE = 20


def people(request: HttpRequest) -> HttpResponse:
    """Show who signs in here, and as what."""
    table = table_of(request, PeopleTable, PeopleTable.records())
    return render(request, "people/people.html", SECTION | {"table": table})


def person(request: HttpRequest, user_id: int) -> HttpResponse:
    """Show one person: what they may do, and what was changed of that."""
    found = get_object_or_404(User.objects.prefetch_related("groups"), pk=user_id)
    kept = Person.objects.select_related("yard").filter(user=found).first()
    changes = found.changes_of_person.select_related("recorded_by")
    return render(
        request,
        "people/person.html",
        SECTION
        | {
            "person": found,
            "name": who_words(found),
            "role": role_of(found),
            "yard": kept.yard if kept else None,
            "bindings": found.bindings_to_yards.in_force().select_related("yard", "recorded_by"),
            "may_bind": not yards_bound_to(signed_in(request)),
            "awaits_link": not found.has_usable_password(),
            "must_change": kept is not None and kept.must_change_password,
            "locks": locks_of(found),
            "has_phone": has_phone(found),
            "has_passkey": has_passkey(found),
            "is_self": found.pk == signed_in(request).pk,
            "qualifications": found.qualifications.select_related("recorded_by", "withdrawal"),
            "today": timezone.localdate(),
            "passkeys": _own_table(request, found, PasskeyTable),
            "tokens": _own_table(request, found, TokenTable),
            "table": table_of(request, PersonChangeTable, changes),
        },
    )


def _own_table(
    request: HttpRequest, person: User, kind: type[PasskeyTable | TokenTable]
) -> PasskeyTable | TokenTable | None:
    """What somebody signs in by, for themselves and for managers, who may take it away."""
    user = signed_in(request)
    if user.pk != person.pk and not user.has_perm(RECORD):
        return None
    table: PasskeyTable | TokenTable = table_of(request, kind, kind.records(person))
    return table


@sensitive_post_parameters("password")
@manager_required
def new_person(request: HttpRequest) -> HttpResponse:
    """Enter somebody who is to sign in."""
    data = request.POST if request.method == "POST" else None
    form = NewPersonForm(data, initial={"role": request.GET.get("role", "")})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            entered = enter_person(
                submission_id=given["submission_id"],
                username=given["username"],
                particulars=form.particulars,
                role=given["role"],
                password=given["password"] or None,
                by=signed_in(request),
            )
            if given["way"] == LINK:
                return _link_page(request, entered, link_of(entered))
        except ValidationError as refusal:
            _refuse(form, refusal)
        else:
            messages.success(
                request,
                f"{who_words(entered)} is on record as {role_of(entered)}, and chooses a password "
                "of their own at the first sign-in.",
            )
            return redirect("person", entered.pk)
    return render(request, "people/new_person.html", SECTION | {"form": form})


@manager_required
def edit_person(request: HttpRequest, user_id: int) -> HttpResponse:
    """Change somebody's name, e-mail address and yard."""
    found = get_object_or_404(User, pk=user_id)
    form = PersonForm(_sent(request), initial=particulars_of(found))

    def record() -> str:
        change_person(
            submission_id=form.cleaned_data["submission_id"],
            user=found,
            particulars=form.particulars,
            by=signed_in(request),
        )
        return "What is on record of {} is changed."

    return _act(request, found, form, record, "Change what is on record of {}", "Keep")


@manager_required
def role(request: HttpRequest, user_id: int) -> HttpResponse:
    """Give somebody another role."""
    found = get_object_or_404(User, pk=user_id)
    form = RoleForm(_sent(request), initial=RoleForm.initial_of(found))

    def record() -> str:
        change_role(user=found, by=signed_in(request), **form.cleaned_data)
        return "{} has another role."

    return _act(request, found, form, record, "Role of {}", "Change the role")


@manager_required
def yards(request: HttpRequest, user_id: int) -> HttpResponse:
    """Say in which yards somebody acts."""
    found = get_object_or_404(User, pk=user_id)
    form = YardsForm(_sent(request), user=found)

    def record() -> str:
        bind_to_yards(user=found, by=signed_in(request), **form.cleaned_data)
        bound = yards_bound_now(found)
        return f"{{}} acts in {yard_names(bound) if bound else EVERY}."

    lead = (
        "Whoever is bound to yards signs, records, changes and commits only what stands in those, "
        "and sends it away from there. They read every yard. What is of all yards, such as people, "
        "policies and registers taken in, is left to those who are bound to none."
    )
    return _act(request, found, form, record, "Yards of {}", "Keep", lead)


@manager_required
def access(request: HttpRequest, user_id: int) -> HttpResponse:
    """Let somebody sign in no more, or again."""
    found = get_object_or_404(User, pk=user_id)
    form = AccessForm(_sent(request))
    is_ended = found.is_active
    others = managers_but(found).count() if is_ended else 0

    def record() -> str:
        change_access(
            user=found, may_sign_in=not is_ended, by=signed_in(request), **form.cleaned_data
        )
        return "{} may sign in no more." if is_ended else "{} may sign in again."

    heading = "Let {} sign in no more" if is_ended else "Let {} sign in again"
    lead = (
        "They are signed out at once. What they signed stays on record, signed by them, and they "
        "can be let in again."
        if is_ended
        else "With the role of before. If the password is forgotten, reset it after this."
    )
    if is_ended and others == 1:
        lead += (
            " Only one equipment manager is left then, and nobody can approve that one’s ratings."
        )
    return _act(request, found, form, record, heading, "Deactivate" if is_ended else "Let in", lead)


@manager_required
def lock(request: HttpRequest, user_id: int) -> HttpResponse:
    """Lift the lock of somebody who typed wrong passwords too often."""
    found = get_object_or_404(User, pk=user_id)
    form = SubmissionForm(_sent(request))

    def record() -> str:
        lift_lock(user=found, by=signed_in(request), **form.cleaned_data)
        return "{} may try to sign in again at once."

    lead = (
        "Ask them first whether it was they who typed wrong passwords: if it was not, somebody "
        "else tries to get in as them, and the lock is best left to run out. That you lifted it is "
        "on record."
    )
    return _act(request, found, form, record, "Lift the lock of {}", "Lift the lock", lead)


@manager_required
def take_second_step_away(request: HttpRequest, user_id: int) -> HttpResponse:
    """Take the second step of somebody away whose phone, codes and passkeys are lost."""
    found = get_object_or_404(User, pk=user_id)
    form = AccessForm(_sent(request))

    def record() -> str:
        take_away(user=found, by=signed_in(request), **form.cleaned_data)
        return "{} signs in by password alone, until another phone or passkey is set up."

    lead = (
        "For a phone that is lost, with its recovery codes. Every passkey goes with it; one alone "
        "is taken away in the list of them. Be sure that it is they who ask: until they set up "
        "another, whoever knows the password gets in."
    )
    heading = "Take the second step of {} away"
    return _act(request, found, form, record, heading, "Take it away", lead)


@sensitive_post_parameters("password")
@never_cache
@manager_required
def reset_password(request: HttpRequest, user_id: int) -> HttpResponse:
    """Give somebody a one-time link or a password to be changed."""
    found = get_object_or_404(User, pk=user_id)
    form = ResetForm(_sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        common: dict[str, Any] = {
            "submission_id": given["submission_id"],
            "user": found,
            "by": signed_in(request),
        }
        try:
            if given["way"] == LINK:
                return _link_page(request, found, give_link(**common))
            give_password(password=given["password"], **common)
        except ValidationError as refusal:
            _refuse(form, refusal)
        else:
            messages.success(
                request,
                f"{who_words(found)} signs in with the password you gave, and changes it then.",
            )
            return redirect("person", found.pk)
    lead = (
        "The password of before stops working at once, and they are signed out everywhere. Their "
        "passkeys go on working: take away what may be in other hands. That you gave a link or a "
        "password is on record, the password is not."
    )
    return _form_page(request, found, form, "Reset the password of {}", "Reset it", lead)


def _link_page(request: HttpRequest, user: User, link: str) -> HttpResponse:
    return render(
        request,
        "people/link.html",
        SECTION
        | {"person": user, "name": who_words(user), "link": request.build_absolute_uri(link)},
    )


def _sent(request: HttpRequest) -> Any:
    return request.POST if request.method == "POST" else None


def _act(
    request: HttpRequest,
    user: User,
    form: Any,
    record: Callable[[], str],
    heading: str,
    button: str,
    lead: str = "",
) -> HttpResponse:
    """Record what a form of a person says, and go back to them; or show it with what it lacks."""
    if request.method == "POST" and form.is_valid():
        try:
            words = record()
        except ValidationError as refusal:
            _refuse(form, refusal)
        else:
            user.refresh_from_db()
            messages.success(request, words.format(who_words(user)))
            return redirect("person", user.pk)
    return _form_page(request, user, form, heading, button, lead)


def _form_page(
    request: HttpRequest, user: User, form: Any, heading: str, button: str, lead: str
) -> HttpResponse:
    return render(
        request,
        "people/person_form.html",
        SECTION
        | {
            "person": user,
            "form": form,
            "heading": heading.format(who_words(user)),
            "button": button,
            "lead": lead,
        },
    )


def _refuse(form: forms.Form, refusal: ValidationError) -> None:
    if not hasattr(refusal, "error_dict"):
        form.add_error(None, refusal)
        return
    for name, trouble in refusal.message_dict.items():
        for each in trouble:
            form.add_error(name if name in form.fields else None, each)


@sensitive_post_parameters()
@never_cache
def own_password(request: HttpRequest) -> HttpResponse:
    """Change one's own password."""
    user = signed_in(request)
    name = "own password"
    if refused := too_many_guesses(request, name, SECTION):
        return refused
    form = OwnPasswordForm(_sent(request), user=user)
    if request.method == "POST":
        if form.is_valid():
            try:
                changed = choose_password(user=user, password=form.cleaned_data["password"])
            except ValidationError as refusal:
                _refuse(form, refusal)
            else:
                update_session_auth_hash(request, changed)
                request.session.pop(MUST_CHANGE, None)
                messages.success(
                    request, "Your password is changed. You are signed out everywhere else."
                )
                return redirect("board")
        else:
            count_wrong_password(request, name, form)
    return render(
        request,
        "people/own_password.html",
        {"form": form, "must_change": must_change_password(request), "role": role_of(user)},
    )


def _too_often(request: HttpRequest) -> HttpResponse:
    return render(request, "people/too_often.html")


@login_not_required
@sensitive_post_parameters()
@never_cache
@at_most(LINKS_A_MINUTE, _too_often)
def password_by_link(request: HttpRequest, key: str, token: str) -> HttpResponse:
    """Let whoever holds a one-time link choose a password, once."""
    user = _user_of(key)
    if user is None or not default_token_generator.check_token(user, token):
        return _link_is_over(request)
    form = ChoosePasswordForm(_sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            choose_password(user=user, password=form.cleaned_data["password"], link=token)
        except LinkIsOver:
            return _link_is_over(request)
        except ValidationError as refusal:
            _refuse(form, refusal)
        else:
            messages.success(request, "Your password is kept: sign in with it.")
            return redirect("sign-in")
    return render(request, "people/by_link.html", {"form": form, "username": user.username})


def _link_is_over(request: HttpRequest) -> HttpResponse:
    logger.warning("refused: a one-time link that does not hold")
    note_refusal()
    return render(request, "people/link_over.html", status=410)


def _user_of(key: str) -> User | None:
    """Return who a link names, None for nobody who may sign in."""
    try:
        user_id = int(force_str(urlsafe_base64_decode(key)))
    except (TypeError, ValueError, OverflowError):
        return None
    if user_id >= 2**63:
        return None
    return User.objects.filter(pk=user_id, is_active=True).first()
