"""Sign-ins on record: who came in, who went out, and who was not let in, by whatever page.

A session that runs out, or is ended by a change of password, is on record by that change alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.models import User
from django.http import HttpRequest

from fleet.models import SignIn
from fleet.refusals import keep

BY_PASSKEY = "comes_by_passkey"


def keep_sign_in(request: HttpRequest | None, user: User, **_: Any) -> None:
    """Record that somebody signed in on a page, and whether by a passkey alone."""
    by_passkey = getattr(request, BY_PASSKEY, False)
    keep_from_page(request, SignIn.What.IN_BY_PASSKEY if by_passkey else SignIn.What.IN, user)


def keep_sign_out(request: HttpRequest | None, user: User | None, **_: Any) -> None:
    """Record that somebody signed out; of whoever was not signed in, nothing."""
    if user is not None:
        keep_from_page(request, SignIn.What.OUT, user)


def keep_failure(
    credentials: Mapping[str, Any], request: HttpRequest | None = None, **_: Any
) -> None:
    """Record that somebody was not let in.

    By name only where that name is a person’s: what was typed may be a password in the wrong field.
    """
    name = str(credentials.get("username") or "").replace("\0", "")
    keep_from_page(request, SignIn.What.FAILED, User.objects.filter(username=name).first())


def keep_from_page(request: HttpRequest | None, what: SignIn.What, user: User | None) -> None:
    """Record what became of a sign-in on a page; elsewhere nobody is there."""
    # A command, or a session made by the program itself, is nobody at a page.
    if request is not None and request.resolver_match is not None:
        keep(SignIn, user, what=what)
