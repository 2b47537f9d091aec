"""Passkeys: a key pair of somebody’s device, as second step of a sign-in or as all of it.

py_webauthn makes what a browser is asked, and verifies what it answers (Web Authentication, W3C).
A browser gives a passkey to nobody but the site it was made for, so that none can be told to a
false site, as a password or a code can; and to a site without HTTPS not at all.
"""

from __future__ import annotations

import hashlib
import json
import secrets
import uuid
from dataclasses import dataclass
from ipaddress import ip_address
from typing import Any

from django.conf import settings
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpRequest

from fleet import clock
from fleet.characters import check_name
from fleet.models import Passkey, PasskeyEnd, PasskeyUse
from fleet.people.owned import Owned
from fleet.people.phones import has_phone
from fleet.people.recovery_codes import codes_left, forget_codes, make_codes
from fleet.people.yards import in_yard_of
from fleet.roles import who_words

SITE_NAME = "Line-Pull Ledger"
# How long a browser may take to answer.
ANSWER_WITHIN_SECONDS = 300
# In the session: what its browser is to sign.
CHALLENGE = "passkey_challenge"
LONGEST_ANSWER = 20_000
# Longer than that no device may call one (Web Authentication, “credential ID”).
LONGEST_ID_BYTES = 1_023
MOST_PASSKEYS = 20
NOT_VERIFIED = (
    "This passkey’s answer is not right for this page: open the page anew and try again, or go "
    "another way."
)
UNKNOWN = (
    "This passkey is not on record here, or was taken away: sign in with your password instead."
)
PASSKEYS = Owned(
    "passkey",
    holder="person_id",
    end=PasskeyEnd,
    not_theirs="This passkey is somebody else’s: they take it away, or a manager.",
)


@dataclass(frozen=True)
class Site:
    """For whom a browser makes a passkey. host: of it; origin: of the page that asks."""

    host: str
    origin: str


class PasskeyRefused(Exception):
    """A passkey lets nobody in, and in words why. person: whose it is, None where unknown."""

    def __init__(self, words: str, person: User | None = None) -> None:
        self.person = person
        super().__init__(words)


def site_of(request: HttpRequest) -> Site | None:
    """Return for whom passkeys are made where a page is asked for; None where none can be.

    No browser makes one without HTTPS, but on the machine itself, nor for a bare address.
    """
    asked = request.get_host()
    name = asked.rsplit(":", 1)[0] if not asked.endswith("]") else asked
    host = settings.PASSKEY_HOST or name
    if not (name == host or name.endswith(f".{host}")):
        return None
    try:
        ip_address(host.strip("[]"))
    except ValueError:
        is_local = name == "localhost" or name.endswith(".localhost")
        if request.is_secure() or is_local:
            return Site(host, f"{request.scheme}://{asked}")
    return None


def new_challenge(request: HttpRequest) -> bytes:
    """Return what the browser at a page is to sign next, and remember it for a while."""
    challenge = secrets.token_bytes(32)
    request.session[CHALLENGE] = {"hex": challenge.hex(), "at": clock.now().timestamp()}
    return challenge


def challenge_of(request: HttpRequest) -> bytes | None:
    """Return what the browser at a page was to sign; None where nothing was, or too long ago."""
    kept = request.session.get(CHALLENGE)
    if not kept or clock.now().timestamp() - kept["at"] > ANSWER_WITHIN_SECONDS:
        return None
    return bytes.fromhex(kept["hex"])


def enter_from(request: HttpRequest, user: User | None = None) -> User:
    """Return whom the passkey lets in that a page sent; each challenge is answered once.

    Raises PasskeyRefused as `enter` does, and where the page was open for too long.
    """
    site, challenge = site_of(request), challenge_of(request)
    request.session.pop(CHALLENGE, None)
    answer = request.POST.get("passkey", "")
    if site is None or challenge is None:
        raise PasskeyRefused(NOT_VERIFIED, user)
    return enter(answer=answer, challenge=challenge, site=site, user=user)


def has_passkey(user: User) -> bool:
    """Whether somebody has a passkey that works, here or at another name of the site."""
    return Passkey.objects.working(user).exists()


def hosts_of_passkeys(user: User) -> list[str]:
    """Return for which names of the site somebody has passkeys: each works at its own alone."""
    hosts = Passkey.objects.working(user).order_by("host").values_list("host", flat=True)
    return list(hosts.distinct())


def options_to_add(site: Site, user: User, challenge: bytes) -> str:
    """Return, as JSON, what a browser is asked that is to make somebody a passkey."""
    # Imported on need, here and below: the site must not wait for the library at start.
    from webauthn import generate_registration_options, options_to_json
    from webauthn.helpers.structs import (
        AuthenticatorSelectionCriteria,
        ResidentKeyRequirement,
        UserVerificationRequirement,
    )

    return options_to_json(
        generate_registration_options(
            rp_id=site.host,
            rp_name=SITE_NAME,
            # One for all passkeys of a person, that tells nothing of them.
            user_id=hashlib.sha256(f"{SITE_NAME}, person {user.pk}".encode()).digest(),
            user_name=user.username,
            user_display_name=who_words(user),
            challenge=challenge,
            timeout=ANSWER_WITHIN_SECONDS * 1000,
            authenticator_selection=AuthenticatorSelectionCriteria(
                resident_key=ResidentKeyRequirement.PREFERRED,
                user_verification=UserVerificationRequirement.PREFERRED,
            ),
            exclude_credentials=_told_apart(site, user),
        )
    )


def options_to_enter(site: Site, challenge: bytes, user: User | None = None) -> str:
    """Return, as JSON, what a browser is asked that is to use a passkey.

    user: whose second step it is; None where the passkey says who signs in, and so must have
    made sure of them.
    """
    from webauthn import generate_authentication_options, options_to_json
    from webauthn.helpers.structs import UserVerificationRequirement

    return options_to_json(
        generate_authentication_options(
            rp_id=site.host,
            challenge=challenge,
            timeout=ANSWER_WITHIN_SECONDS * 1000,
            allow_credentials=_told_apart(site, user) if user is not None else [],
            user_verification=UserVerificationRequirement.PREFERRED
            if user is not None
            else UserVerificationRequirement.REQUIRED,
        )
    )


def _told_apart(site: Site, user: User) -> list[Any]:
    from webauthn import base64url_to_bytes
    from webauthn.helpers.structs import PublicKeyCredentialDescriptor

    working = Passkey.objects.working(user).filter(host=site.host)
    return [
        PublicKeyCredentialDescriptor(id=base64url_to_bytes(each))
        for each in working.values_list("credential_id", flat=True)
    ]


@transaction.atomic
def add_passkey(
    *, submission_id: uuid.UUID, user: User, name: str, answer: str, challenge: bytes, site: Site
) -> list[str]:
    """Put a passkey on record that somebody’s browser made, and return new recovery codes.

    None where they have some already. A second copy of a submission changes nothing. Raises
    ValidationError naming the field of what can't be.
    """
    User.objects.select_for_update().get(pk=user.pk)
    if Passkey.objects.filter(submission_id=submission_id).exists():
        return []
    if not name.strip():
        raise ValidationError({"name": "This is blank: say where the passkey is kept."})
    try:
        check_name(name.strip())
    except ValidationError as refusal:
        raise ValidationError({"name": refusal.messages}) from None
    if Passkey.objects.working(user).count() >= MOST_PASSKEYS:
        raise ValidationError(f"You have {MOST_PASSKEYS} passkeys: take one away first.")
    made = _made(answer, challenge, site)
    if Passkey.objects.filter(credential_id=made.credential_id).exists():
        raise ValidationError("This passkey is on record already: another is to be made.")
    passkey = Passkey.objects.create(
        submission_id=submission_id,
        person=user,
        name=name.strip(),
        host=site.host,
        credential_id=made.credential_id,
        public_key=made.public_key,
        recorded_by=user,
    )
    PasskeyUse.objects.create(passkey=passkey, sign_count=made.sign_count)
    return [] if codes_left(user) else make_codes(user)


@dataclass(frozen=True)
class _Made:
    credential_id: str
    public_key: str
    sign_count: int


def _made(answer: str, challenge: bytes, site: Site) -> _Made:
    from webauthn import verify_registration_response
    from webauthn.helpers import bytes_to_base64url

    try:
        verified = verify_registration_response(
            credential=_read(answer),
            expected_challenge=challenge,
            expected_rp_id=site.host,
            expected_origin=site.origin,
        )
    except _troubles():
        raise ValidationError(NOT_VERIFIED) from None
    if len(verified.credential_id) > LONGEST_ID_BYTES:
        raise ValidationError(NOT_VERIFIED)
    return _Made(
        bytes_to_base64url(verified.credential_id),
        bytes_to_base64url(verified.credential_public_key),
        verified.sign_count,
    )


def owner_of(answer: str) -> User | None:
    """Return whose passkey answers, by what it says alone; None where none on record does."""
    try:
        passkey = _on_record(_read(answer))
    except PasskeyRefused:
        return None
    except _troubles():
        return None
    return passkey.person


@transaction.atomic
def enter(*, answer: str, challenge: bytes, site: Site, user: User | None = None) -> User:
    """Return whom a passkey lets in. user: whose second step it is, None where it is all.

    Raises PasskeyRefused where it does not: it is another’s, was taken away, may have been copied,
    or its device did not make sure of its owner where it is all that is asked.
    """
    try:
        told = _read(answer)
        passkey = _on_record(told)
    except _troubles():
        raise PasskeyRefused(NOT_VERIFIED) from None
    person = passkey.person
    if user is not None and person.pk != user.pk:
        raise PasskeyRefused("This passkey is somebody else’s: use one of your own.", user)
    if not person.is_active:
        raise PasskeyRefused(UNKNOWN, person)
    is_sure, counted = _verified(told, passkey, challenge, site)
    use = PasskeyUse.objects.select_for_update().get(passkey=passkey)
    if (counted or use.sign_count) and counted <= use.sign_count:
        raise PasskeyRefused(
            f"Passkey “{passkey}” counts its uses, and was used later than now: it may have been "
            "copied. Go another way, take it away under your name, and tell an equipment manager.",
            person,
        )
    if user is None and not is_sure:
        raise PasskeyRefused(
            "The device did not make sure that it is you, by finger, face or PIN: sign in with "
            "your password, and use this passkey as the second step.",
            person,
        )
    use.sign_count, use.used_at = counted, clock.now()
    use.save(update_fields=["sign_count", "used_at"])
    return person


def _on_record(told: dict[str, Any]) -> Passkey:
    found = Passkey.objects.select_related("person").filter(credential_id=told["id"], end=None)
    passkey = found.first()
    if passkey is None:
        raise PasskeyRefused(UNKNOWN)
    return passkey


def _verified(
    told: dict[str, Any], passkey: Passkey, challenge: bytes, site: Site
) -> tuple[bool, int]:
    """Return whether its device made sure of its owner, and how many uses it counted."""
    from webauthn import base64url_to_bytes, verify_authentication_response

    try:
        verified = verify_authentication_response(
            credential=told,
            expected_challenge=challenge,
            expected_rp_id=passkey.host,
            expected_origin=site.origin,
            credential_public_key=base64url_to_bytes(passkey.public_key),
            # Held to what it counted before once it is known that it is this passkey.
            credential_current_sign_count=0,
        )
    except _troubles():
        raise PasskeyRefused(NOT_VERIFIED, passkey.person) from None
    return verified.user_verified, verified.new_sign_count


def _read(answer: str) -> dict[str, Any]:
    told = json.loads(answer) if len(answer) <= LONGEST_ANSWER else None
    if not isinstance(told, dict) or not isinstance(told.get("id"), str) or "\0" in told["id"]:
        raise ValueError("no answer of a passkey")
    return told


def _troubles() -> tuple[type[Exception], ...]:
    """What is raised of an answer that a browser did not make; of its parts, any of these."""
    from webauthn.helpers.exceptions import WebAuthnException

    return (WebAuthnException, ValueError, TypeError, KeyError, AttributeError, RecursionError)


@in_yard_of(PASSKEYS.touches)
@transaction.atomic
def end_passkey(*, submission_id: uuid.UUID, passkey: Passkey, reason: str, by: User) -> PasskeyEnd:
    """Take a passkey away, for good; the first to do so stands. Raises ValidationError.

    With the last second step of somebody go their recovery codes, which stood in for it.
    """
    person = User.objects.select_for_update().get(pk=passkey.person_id)
    end = PASSKEYS.put_to_its_end(submission_id=submission_id, owned=passkey, reason=reason, by=by)
    if not has_passkey(person) and not has_phone(person):
        forget_codes(person)
    return end


def end_all(*, user: User, reason: str, by: User) -> None:
    """Take every passkey of somebody away, and their recovery codes."""
    for passkey in Passkey.objects.working(user):
        end_passkey(submission_id=uuid.uuid4(), passkey=passkey, reason=reason, by=by)
    forget_codes(user)
