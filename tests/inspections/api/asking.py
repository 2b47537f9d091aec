"""What a program sends, as tests need it."""

from __future__ import annotations

import json
import uuid
from collections.abc import Collection
from datetime import timedelta
from typing import TYPE_CHECKING, Any, TypeAlias

from django.contrib.auth.models import User
from django.test import Client
from django.utils import timezone

from fleet.models import ApiScope
from fleet.people.recording import role_of
from fleet.people.tokens import MadeToken, make_token
from fleet.roles import MANAGER, ROLES

if TYPE_CHECKING:
    from django.test.client import _MonkeyPatchedWSGIResponse

    Answer: TypeAlias = _MonkeyPatchedWSGIResponse

API = "/api/v1/"
SCOPES_OF = {role: tuple(ApiScope) if role == MANAGER else (ApiScope.READ,) for role in ROLES}


def token_of(user: User, scopes: Collection[str] | None = None, **changes: Any) -> MadeToken:
    """A token of somebody that holds for a month, with all that their role may, or some of it."""
    role = role_of(user)
    given: dict[str, Any] = {
        "submission_id": uuid.uuid4(),
        "name": "Telematics of the cranes",
        "role": role,
        "scopes": SCOPES_OF[role] if scopes is None else scopes,
        "expires_on": timezone.localdate() + timedelta(days=30),
        "by": user,
    }
    return make_token(**given | changes)


class Program:
    """A program that acts by a token; "" for one without."""

    def __init__(self, secret: str) -> None:
        self.client = Client()
        self.headers = {"Authorization": f"Bearer {secret}"} if secret else {}

    def get(self, path: str, asked: Any = None, **headers: str) -> Answer:
        return self.client.get(API + path, asked, headers=self.headers | headers)

    def post(self, path: str, body: Any, key: uuid.UUID | str | None = None) -> Answer:
        """Send a body, by an Idempotency-Key of its own unless one is given."""
        text = body if isinstance(body, str) else json.dumps(body)
        headers = self.headers | {"Idempotency-Key": str(key or uuid.uuid4())}
        return self.client.post(API + path, text, "application/json", headers=headers)


def program_of(user: User, scopes: Collection[str] | None = None) -> Program:
    return Program(token_of(user, scopes).secret)
