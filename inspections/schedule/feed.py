"""The secret address of a person's calendar: made, found, revoked."""

from __future__ import annotations

import hashlib
import secrets

from django.contrib.auth.models import User
from django.db import transaction

from fleet import clock
from inspections.models import CalendarFeed


@transaction.atomic
def make_feed(user: User) -> str:
    """Revoke a person's old address and return the secret of a new one, told only now."""
    revoke_feed(user)
    secret = secrets.token_urlsafe(24)
    CalendarFeed.objects.create(user=user, secret_hash=_hash(secret))
    return secret


def revoke_feed(user: User) -> None:
    """Let a person's address answer no more."""
    CalendarFeed.objects.filter(user=user, revoked_at__isnull=True).update(revoked_at=clock.now())


def find_feed(secret: str) -> CalendarFeed | None:
    """Return the feed of a secret, None where there is none, or it or its person is gone."""
    return CalendarFeed.objects.filter(
        secret_hash=_hash(secret), revoked_at__isnull=True, user__is_active=True
    ).first()


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
