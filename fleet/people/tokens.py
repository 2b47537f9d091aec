"""Tokens by which programs act for people: made, told apart, withdrawn.

A token acts for whoever made it and for nobody else: if a manager could make one for somebody,
they could sign by that name. It does no more than its role and its scopes, nor than its person
may at that moment, and it stops for good once that person's role or access changes.
"""

from __future__ import annotations

import hashlib
import secrets
import uuid
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, timedelta

from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from fleet import clock
from fleet.characters import check_name
from fleet.dates import day_words
from fleet.models import ApiScope, ApiToken, ApiTokenEnd, ApiTokenUse, PersonChange
from fleet.people.owned import Owned
from fleet.people.recording import role_of
from fleet.people.yards import in_no_yard, in_yard_of
from fleet.roles import PLAN, READ, RECORD, RIGHTS, ROLES, who_words

BEGINS = "lpl_"
LONGEST_DAYS = 366
# What a person must have the right to, for a token of theirs to be let do it.
RIGHT_OF: dict[str, str] = {
    ApiScope.READ: READ,
    ApiScope.INSPECTIONS: RECORD,
    ApiScope.TESTS: RECORD,
    ApiScope.HOURS: RECORD,
    ApiScope.PULLS: PLAN,
}
TOKENS = Owned(
    "token",
    holder="recorded_by_id",
    end=ApiTokenEnd,
    not_theirs="This token is somebody else’s: they withdraw it, or a manager does.",
)
# After these an earlier token of the person works no more, whatever they may do later.
ENDING = (PersonChange.Kind.ROLE, PersonChange.Kind.DEACTIVATED)
# A use is kept to the minute: writing at each request would make programs wait for each other.
USE_KEPT_FOR = timedelta(minutes=1)


@dataclass(frozen=True)
class MadeToken:
    """A token on record, and the only time that it is told; "" of one made before."""

    token: ApiToken
    secret: str


class TokenRefused(Exception):
    """A token that does not work, and in words why not. token: None where none is on record."""

    def __init__(self, why: str, token: ApiToken | None = None) -> None:
        self.token = token
        super().__init__(why)


@in_no_yard("a token acts for whoever made it, bound as they are")
@transaction.atomic
def make_token(
    *,
    submission_id: uuid.UUID,
    name: str,
    role: str,
    scopes: Collection[str],
    expires_on: date,
    by: User,
) -> MadeToken:
    """Make a token by which a program acts for `by`. A second copy of a submission makes none.

    role: that person's, or a narrower one. Raises ValidationError naming the field.
    """
    # Whoever changes their role meanwhile waits, or is waited for.
    by = User.objects.select_for_update().get(pk=by.pk)
    known = ApiToken.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return MadeToken(known, "")
    _refuse_impossible(name, role, scopes, expires_on, by)
    secret = BEGINS + secrets.token_urlsafe(32)
    token = ApiToken.objects.create(
        submission_id=submission_id,
        name=name.strip(),
        role=role,
        scopes=[scope for scope in ApiScope.values if scope in scopes],
        expires_on=expires_on,
        begins=secret[:10],
        token_hash=hash_of(secret),
        recorded_by=by,
    )
    return MadeToken(token, secret)


def _refuse_impossible(
    name: str, role: str, scopes: Collection[str], expires_on: date, by: User
) -> None:
    errors: dict[str, str | list[str]] = {}
    if not name.strip():
        errors["name"] = "This is blank: say what uses the token."
    try:
        # It stands beside what was recorded by it, where two must never look the same.
        check_name(name.strip())
    except ValidationError as refusal:
        errors["name"] = refusal.messages
    if role not in roles_within(role_of(by)):
        errors["role"] = (
            f"“{role[:40]}” is more than {who_words(by)} may do, or no role: choose another."
        )
    elif not scopes or not set(scopes) <= set(ApiScope.values):
        errors["scopes"] = "Nothing is ticked: say what the token may do."
    elif beyond := [ApiScope(each).label for each in scopes if not role_may(role, each)]:
        errors["scopes"] = f"A token as {role} may not {', '.join(beyond)}: leave that out."
    today = timezone.localdate()
    if not today <= expires_on <= today + timedelta(days=LONGEST_DAYS):
        last = day_words(today + timedelta(days=LONGEST_DAYS))
        errors["expires_on"] = (
            f"{day_words(expires_on)} won’t do: give a day from today on, {last} at the latest."
        )
    if errors:
        raise ValidationError(errors)


@in_yard_of(TOKENS.touches)
@transaction.atomic
def end_token(*, submission_id: uuid.UUID, token: ApiToken, reason: str, by: User) -> ApiTokenEnd:
    """Say that a token works no more; the first to say so stands. Raises ValidationError."""
    return TOKENS.put_to_its_end(submission_id=submission_id, owned=token, reason=reason, by=by)


def hash_of(secret: str) -> str:
    """Return what is kept of a token. It is long and random: no salt is needed, nor a slow hash."""
    return hashlib.sha256(secret.encode()).hexdigest()


def roles_within(role: str) -> tuple[str, ...]:
    """Return the roles that are no wider than one, the widest first; none for no role."""
    return ROLES[ROLES.index(role) :] if role in ROLES else ()


def role_may(role: str, scope: str) -> bool:
    """Whether a role may do what a scope is of."""
    return RIGHT_OF[scope] in RIGHTS[role]


def working_token(secret: str) -> ApiToken:
    """Return the token that was sent, where it works now. Raises TokenRefused."""
    token = ApiToken.objects.with_state().filter(token_hash=hash_of(secret)).first()
    if token is None:
        raise TokenRefused("This token is not on record: look whether it was copied whole.")
    if why := why_not(token):
        raise TokenRefused(f"This token works no more: {why}.", token)
    return token


def why_not(token: ApiToken) -> str:
    """Say why a token works no more, "" where it does. Of many, read them `with_state`."""
    person = token.recorded_by
    if hasattr(token, "end"):
        return f"it was withdrawn on {day_words(token.end.recorded_at)}"
    if token.expires_on < timezone.localdate():
        return f"it held until {day_words(token.expires_on)}"
    if not person.is_active:
        return f"{who_words(person)} is deactivated"
    for change in person.changes_of_person.all():
        if change.kind in ENDING and change.recorded_at >= token.recorded_at:
            return f"the role or access of {who_words(person)} has changed since it was made"
    if token.role not in roles_within(role_of(person)):
        return f"{who_words(person)} is {token.role} no more"
    return ""


def note_use(token: ApiToken) -> None:
    """Keep that a token was used just now."""
    now, use = clock.now(), getattr(token, "use", None)
    if use is None or use.used_at < now - USE_KEPT_FOR:
        ApiTokenUse.objects.update_or_create(token=token, defaults={"used_at": now})
