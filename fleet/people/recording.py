"""People on record: entered, changed, let in and shut out, and given their passwords.

Whoever acts is an equipment manager when it is written, and changes neither their own role nor
their own access: so one manager at the least can always sign in.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from django.contrib.auth.models import Group, User
from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.tokens import default_token_generator
from django.core.exceptions import ValidationError
from django.db import transaction
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from fleet.models import Person, PersonChange, Yard, YardBinding, YardBindingEnd
from fleet.people.locks import forget_failures, locks_of
from fleet.people.places import EVERY_YARD
from fleet.people.yards import (
    forget_yards_bound_to,
    in_every_yard,
    must_act_in,
    yard_names,
    yards_bound_now,
)
from fleet.roles import MANAGER, ROLES, who_words

NO_ROLE = "no role"
NO_YARD = "no yard"
EVERY = "every yard"


@dataclass(frozen=True)
class Particulars:
    """What is on record of somebody beside role and password."""

    first_name: str
    last_name: str
    email: str = ""
    yard: Yard | None = None


def role_of(user: User) -> str:
    """Return somebody's role; "" where they have none. Who has several has the widest."""
    names = {group.name for group in user.groups.all()}
    return next((role for role in ROLES if role in names), "")


@transaction.atomic
def make_first_manager(*, username: str, particulars: Particulars, password: str | None) -> User:
    """Enter the equipment manager who sets the site up, while nobody else can.

    password: None where they are to get a one-time link. Raises ValidationError where there is
    such a manager already, and for what can't be.
    """
    there = User.objects.filter(groups__name=MANAGER, is_active=True).order_by("pk").first()
    if there is not None:
        raise ValidationError(
            f"{who_words(there)} (“{there.username}”) is equipment manager here already, and "
            "enters other people under Set-up, People. For a password that is lost: manage.py "
            f"changepassword {there.username}."
        )
    user = _new_user(username, particulars, password)
    user.groups.add(Group.objects.get(name=MANAGER))
    Person.objects.create(user=user, yard=particulars.yard)
    write_change(uuid.uuid4(), user, PersonChange.Kind.ENTERED, by=user, after=MANAGER)
    return user


@in_every_yard
@transaction.atomic
def enter_person(
    *,
    submission_id: uuid.UUID,
    username: str,
    particulars: Particulars,
    role: str,
    by: User,
    password: str | None = None,
) -> User:
    """Enter somebody who may sign in. A second copy of a submission changes nothing.

    password: one to be changed at the first sign-in; None where they get a one-time link.
    Raises ValidationError naming the field of what can't be.
    """
    _lock_managers(by)
    known = _known(submission_id, PersonChange.Kind.ENTERED)
    if known is not None:
        return known.user
    _check_role(role)
    user = _new_user(username, particulars, password)
    user.groups.add(Group.objects.get(name=role))
    Person.objects.create(
        user=user, yard=particulars.yard, must_change_password=password is not None
    )
    write_change(submission_id, user, PersonChange.Kind.ENTERED, by=by, after=role)
    return user


def _new_user(username: str, particulars: Particulars, password: str | None) -> User:
    user = User(
        username=username,
        first_name=particulars.first_name,
        last_name=particulars.last_name,
        email=particulars.email,
    )
    if password is None:
        user.set_unusable_password()
    else:
        _check_password(password, user)
        user.set_password(password)
    refuse_username_taken(username)
    user.full_clean(exclude=["password"])
    user.save()
    return user


def refuse_username_taken(username: str) -> None:
    """Raise ValidationError where somebody signs in by a name, in whatever letters."""
    there = User.objects.filter(username__iexact=username).first()
    if there is not None:
        raise ValidationError(
            {
                "username": f"{who_words(there)} signs in as “{there.username}” already: give "
                "another name."
            }
        )


def _check_password(password: str, user: User) -> None:
    try:
        validate_password(password, user)
    except ValidationError as refusal:
        raise ValidationError({"password": refusal.messages}) from None


def _check_role(role: str) -> None:
    if role not in ROLES:
        raise ValidationError(
            {"role": f"“{role[:40]}” is no role: choose one of {', '.join(ROLES)}."}
        )


@in_every_yard
@transaction.atomic
def change_person(
    *, submission_id: uuid.UUID, user: User, particulars: Particulars, by: User
) -> User:
    """Change somebody's name, e-mail address and yard; each that differs is put on record.

    A second copy of a submission changes nothing. Raises ValidationError naming the field of what
    can't be.
    """
    _lock_managers(by)
    user = User.objects.select_for_update().get(pk=user.pk)
    person, _made = Person.objects.get_or_create(user=user)
    before = (who_words(user), user.email, _yard_words(person.yard))
    user.first_name, user.last_name = particulars.first_name, particulars.last_name
    user.email = particulars.email
    user.full_clean(exclude=["password"])
    after = (who_words(user), user.email, _yard_words(particulars.yard))
    kinds = (PersonChange.Kind.NAME, PersonChange.Kind.EMAIL, PersonChange.Kind.YARD)
    for kind, was, now in zip(kinds, before, after, strict=True):
        if was != now:
            if _known(submission_id, kind) is not None:
                return user
            write_change(submission_id, user, kind, by=by, before=was, after=now)
    user.save(update_fields=["first_name", "last_name", "email"])
    person.yard = particulars.yard
    person.save(update_fields=["yard"])
    return user


def _yard_words(yard: Yard | None) -> str:
    return NO_YARD if yard is None else yard.name


@in_every_yard
@transaction.atomic
def change_role(*, submission_id: uuid.UUID, user: User, role: str, reason: str, by: User) -> User:
    """Give somebody another role. A second copy of a submission changes nothing.

    Raises ValidationError naming the field where it is their own, or the one they have.
    """
    _lock_managers(by)
    if _known(submission_id, PersonChange.Kind.ROLE) is not None:
        return user
    _check_role(role)
    if user.pk == by.pk:
        raise ValidationError(
            {"role": "This is your own role: another equipment manager changes it."}
        )
    before = role_of(user)
    if role == before:
        raise ValidationError(
            {"role": f"{who_words(user)} is {role} already: choose another, or leave it."}
        )
    _check_reason(reason)
    user.groups.remove(*Group.objects.filter(name__in=ROLES))
    user.groups.add(Group.objects.get(name=role))
    # Rights beside the roles, such as a command line gives, go with the role they were for.
    User.objects.filter(pk=user.pk).update(is_superuser=False, is_staff=False)
    user.user_permissions.clear()
    write_change(
        submission_id,
        user,
        PersonChange.Kind.ROLE,
        by=by,
        before=before or NO_ROLE,
        after=role,
        reason=reason,
    )
    return user


@in_every_yard
@transaction.atomic
def bind_to_yards(
    *, submission_id: uuid.UUID, user: User, yards: Collection[Yard], reason: str, by: User
) -> User:
    """Let somebody act only in some yards, or with none named in every yard again.

    What is bound already stays as it was recorded; the rest is lifted. A second copy of a
    submission changes nothing. Raises ValidationError naming the field where it is their own, no
    reason is given, or it stands so already.
    """
    _lock_managers(by)
    if _known(submission_id, PersonChange.Kind.BOUND) is not None:
        return user
    if user.pk == by.pk:
        raise ValidationError(
            {"yards": "This is yourself: another equipment manager says in which yards you act."}
        )
    before, wanted = yards_bound_now(user), {yard.pk for yard in yards}
    if wanted == {yard.pk for yard in before}:
        raise ValidationError(
            {"yards": f"{who_words(user)} acts in {_bound_words(before)} already: choose others."}
        )
    _check_reason(reason)
    bindings = user.bindings_to_yards.in_force().exclude(yard__in=wanted)
    for binding in bindings:
        YardBindingEnd.objects.create(
            submission_id=_id(submission_id, f"lifted {binding.pk}"),
            binding=binding,
            reason=reason.strip(),
            recorded_by=by,
        )
    for yard in sorted(yards, key=lambda yard: yard.name):
        if yard not in before:
            _bind(submission_id, user, yard, reason.strip(), by)
    forget_yards_bound_to(user)
    write_change(
        submission_id,
        user,
        PersonChange.Kind.BOUND,
        by=by,
        before=_bound_words(before)[:320],
        after=_bound_words(yards_bound_now(user))[:320],
        reason=reason,
    )
    return user


def _bind(submission_id: uuid.UUID, user: User, yard: Yard, reason: str, by: User) -> None:
    last = user.bindings_to_yards.filter(yard=yard).order_by("-turn").first()
    YardBinding.objects.create(
        submission_id=_id(submission_id, f"bound {yard.pk}"),
        user=user,
        yard=yard,
        reason=reason,
        turn=1 if last is None else last.turn + 1,
        follows=None if last is None else last.end,
        recorded_by=by,
    )


def _bound_words(yards: Sequence[Yard]) -> str:
    return yard_names(yards) if yards else EVERY


@in_every_yard
@transaction.atomic
def change_access(
    *, submission_id: uuid.UUID, user: User, may_sign_in: bool, reason: str, by: User
) -> User:
    """Let somebody sign in no more, or again: what they signed stays signed by them.

    A second copy of a submission changes nothing. Raises ValidationError where it is their own
    access, or stands so already.
    """
    _lock_managers(by)
    kind = PersonChange.Kind.REACTIVATED if may_sign_in else PersonChange.Kind.DEACTIVATED
    if _known(submission_id, kind) is not None:
        return user
    if user.pk == by.pk:
        raise ValidationError(
            "This is your own access: another equipment manager ends it, so that one is left."
        )
    locked = User.objects.select_for_update().get(pk=user.pk)
    if locked.is_active == may_sign_in:
        now = "may sign in" if may_sign_in else "is deactivated"
        raise ValidationError(f"{who_words(locked)} {now} already.")
    _check_reason(reason)
    locked.is_active = may_sign_in
    locked.save(update_fields=["is_active"])
    write_change(submission_id, locked, kind, by=by, reason=reason)
    return locked


@in_every_yard
@transaction.atomic
def give_password(*, submission_id: uuid.UUID, user: User, password: str, by: User) -> User:
    """Give somebody a password, which they must change when they sign in with it.

    Whoever is signed in as them is signed out. A second copy of a submission changes nothing.
    Raises ValidationError naming the field where the password won't do or it is their own.
    """
    _lock_managers(by)
    if _known(submission_id, PersonChange.Kind.PASSWORD_GIVEN) is not None:
        return user
    _refuse_own_or_shut_out(user, by)
    _check_password(password, user)
    user.set_password(password)
    user.save(update_fields=["password"])
    _set_must_change(user, must_change=True)
    forget_failures(user)
    write_change(submission_id, user, PersonChange.Kind.PASSWORD_GIVEN, by=by)
    return user


@in_every_yard
@transaction.atomic
def give_link(*, submission_id: uuid.UUID, user: User, by: User) -> str:
    """Return the path of a page on which somebody chooses a password, once.

    The password of before, and any link of before, stop working at once; a second copy of a
    submission gives the same link as long as it holds. Raises ValidationError where it is their
    own or they may not sign in.
    """
    _lock_managers(by)
    if _known(submission_id, PersonChange.Kind.LINK_GIVEN) is None:
        _refuse_own_or_shut_out(user, by)
        user.set_unusable_password()
        user.save(update_fields=["password"])
        _set_must_change(user, must_change=False)
        write_change(submission_id, user, PersonChange.Kind.LINK_GIVEN, by=by)
    else:
        user.refresh_from_db()
    return link_of(user)


def link_of(user: User) -> str:
    """Return the path of the one-time link of somebody who has no password yet.

    Raises ValidationError where they have: the link was used, and another is a reset.
    """
    if user.has_usable_password():
        raise ValidationError(
            f"{who_words(user)} has chosen a password since: the link holds no more."
        )
    key = urlsafe_base64_encode(force_bytes(user.pk))
    return reverse("password-by-link", args=[key, default_token_generator.make_token(user)])


def _refuse_own_or_shut_out(user: User, by: User) -> None:
    if user.pk == by.pk:
        raise ValidationError("This is your own password: change it under your name at the top.")
    if not user.is_active:
        raise ValidationError(
            f"{who_words(user)} is deactivated: let them sign in again before that."
        )


@in_every_yard
@transaction.atomic
def lift_lock(*, submission_id: uuid.UUID, user: User, by: User) -> User:
    """Let somebody who is locked out for wrong passwords sign in again at once, from everywhere.

    A second copy of a submission changes nothing. Raises ValidationError where nothing is locked.
    """
    _lock_managers(by)
    if _known(submission_id, PersonChange.Kind.LOCK_LIFTED) is not None:
        return user
    return _lift(submission_id, user, by)


@transaction.atomic
def lift_lock_by_command(user: User) -> User:
    """Lift somebody's lock from the machine, where no manager can sign in to do it."""
    return _lift(uuid.uuid4(), user, by=user)


def _lift(submission_id: uuid.UUID, user: User, by: User) -> User:
    if not locks_of(user):
        raise ValidationError(
            f"{who_words(user)} is not locked out: no lock holds now, and they may try at once."
        )
    forget_failures(user)
    write_change(submission_id, user, PersonChange.Kind.LOCK_LIFTED, by=by)
    return user


class LinkIsOver(Exception):
    """A one-time link that was used, replaced or left too long."""


@transaction.atomic
def choose_password(*, user: User, password: str, link: str | None = None) -> User:
    """Keep the password somebody chose for themselves. Raises ValidationError by field.

    link: the token of the one-time link they came by, None for who is signed in. Of two who send
    it at one moment it serves the first: raises LinkIsOver for one that holds no more.
    """
    user = User.objects.select_for_update().get(pk=user.pk)
    if link is not None and not (
        user.is_active and default_token_generator.check_token(user, link)
    ):
        raise LinkIsOver
    _check_password(password, user)
    if user.check_password(password):
        raise ValidationError({"password": "This is the password of before: choose another."})
    user.set_password(password)
    user.save(update_fields=["password"])
    _set_must_change(user, must_change=False)
    # What was guessed was another password.
    forget_failures(user)
    write_change(uuid.uuid4(), user, PersonChange.Kind.PASSWORD_CHANGED, by=user)
    return user


def _set_must_change(user: User, *, must_change: bool) -> None:
    Person.objects.update_or_create(user=user, defaults={"must_change_password": must_change})


def _lock_managers(by: User) -> None:
    """Let nobody else change people meanwhile.

    Two managers who shut each other out at one moment would else leave none. Raises
    ValidationError for who is no manager of every yard now.
    """
    managers = User.objects.select_for_update().filter(groups__name=MANAGER, is_active=True)
    if by.pk not in {each.pk for each in managers.order_by("pk")}:
        raise ValidationError(
            f"{who_words(by)} is no equipment manager any more: nothing was changed."
        )
    # Somebody may have bound them this moment: of two who do so to each other, one stays free.
    forget_yards_bound_to(by)
    must_act_in(by, EVERY_YARD)


def on_record_by_manager(submission_id: uuid.UUID, kind: str, by: User) -> bool:
    """Whether a submission has put a change on record; nobody else changes people meanwhile.

    Raises ValidationError for who is no manager now.
    """
    _lock_managers(by)
    return _known(submission_id, kind) is not None


def _check_reason(reason: str) -> None:
    if not reason.strip():
        raise ValidationError({"reason": "This is blank: say why, since it stays on record."})


def _known(submission_id: uuid.UUID, kind: str) -> PersonChange | None:
    """Return what this very submission has put on record of a kind."""
    changes = PersonChange.objects.select_related("user")
    return changes.filter(submission_id=_id(submission_id, kind)).first()


def _id(submission_id: uuid.UUID, kind: str) -> uuid.UUID:
    """Return the id of one of the changes that one form makes."""
    return uuid.uuid5(submission_id, kind)


def write_change(
    submission_id: uuid.UUID,
    user: User,
    kind: str,
    *,
    by: User,
    before: str = "",
    after: str = "",
    reason: str = "",
) -> None:
    """Put a change of somebody on record."""
    PersonChange.objects.create(
        submission_id=_id(submission_id, kind),
        user=user,
        kind=kind,
        before=before,
        after=after,
        reason=reason.strip(),
        recorded_by=by,
    )
