"""Guessed passwords: somebody is locked out for a while, from an address that failed too often.

django-axes counts and refuses, in the database, since several processes serve one site. What it
keeps of a failure, an address among it, it lets go once the lock is over; that there was a lock is
on record for good. A phone that sends what it kept is signed in, or is asked to sign in: it tries
no password, and locks nobody out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from axes.models import AccessAttempt
from django.conf import settings
from django.contrib.auth.models import User
from django.db.models import Max, QuerySet, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.crypto import salted_hmac

from fleet.models import SignIn
from fleet.sign_ins import keep_from_page
from fleet.throttle import plain_address_of

TOO_MANY = 429


@dataclass(frozen=True)
class Lock:
    """Somebody is not let in from an address, until when."""

    address: str
    until: datetime


def name_counted(request: HttpRequest | None, credentials: Mapping[str, Any] | None) -> str:
    """Return the name under which a failure is counted.

    A name that is nobody’s may be a password in the wrong field, and is kept as a keyed hash: it
    is locked like any other, so that a lock tells nobody which names there are.
    """
    sent = request.POST.get("username") if request is not None else ""
    name = str((credentials or {}).get("username") or sent or "").replace("\0", "")[:150]
    if User.objects.filter(username=name).exists():
        return name
    return f"nobody {salted_hmac('fleet.people.locks', name).hexdigest()}"


def locks_of(user: User) -> list[Lock]:
    """Return from where somebody is locked out now, the longest lock first."""
    return _locks(user.username)


def is_locked_out(request: HttpRequest, user: User) -> bool:
    """Whether somebody is locked out from where a request comes."""
    return bool(_locks(user.username, ip_address=plain_address_of(request)))


def tries_left_words(request: HttpRequest, name: str) -> str:
    """Say after how many more wrong tries a name is locked out from where a request comes.

    In the same words whether or not anybody has that name.
    """
    counted = name_counted(request, {"username": name})
    tried = _failures(counted, ip_address=plain_address_of(request))
    failures = tried.aggregate(failures=Sum("failures_since_start"))["failures"] or 0
    left = max(1, settings.AXES_FAILURE_LIMIT - failures)
    minutes = settings.AXES_COOLOFF_TIME.total_seconds() / 60
    more = "one more wrong try" if left == 1 else f"{left} more wrong tries"
    return f"After {more}, this name is locked out from here for {minutes:g} minutes."


def _failures(name: str, **where: Any) -> QuerySet[AccessAttempt]:
    """Return what is kept of failures under a name that still count."""
    since = timezone.now() - settings.AXES_COOLOFF_TIME
    found: QuerySet[AccessAttempt] = AccessAttempt.objects.filter(
        username=name, attempt_time__gte=since, **where
    )
    return found


def _locks(name: str, **where: Any) -> list[Lock]:
    addresses = (
        _failures(name, **where)
        .order_by()
        .values("ip_address")
        .annotate(failures=Sum("failures_since_start"), last=Max("attempt_time"))
        .filter(failures__gte=settings.AXES_FAILURE_LIMIT)
        .order_by("-last")
    )
    return [
        Lock(each["ip_address"] or "unknown", each["last"] + settings.AXES_COOLOFF_TIME)
        for each in addresses
    ]


def forget_failures(user: User) -> None:
    """Let somebody try anew from everywhere."""
    AccessAttempt.objects.filter(username=user.username).delete()


def locked_page(
    request: HttpRequest, response: HttpResponse | None, credentials: Mapping[str, Any] | None
) -> HttpResponse:
    """Say that whoever signs in has to wait, how long, and who can lift it."""
    locks = _locks(name_counted(request, credentials), ip_address=plain_address_of(request))
    until = locks[0].until if locks else timezone.now() + settings.AXES_COOLOFF_TIME
    wait_seconds = max(1, round((until - timezone.now()).total_seconds()))
    context = {"until": until, "minutes": -(-wait_seconds // 60)}
    page = render(request, "people/locked.html", context, status=TOO_MANY)
    page["Retry-After"] = str(wait_seconds)
    return page


def keep_lock(request: HttpRequest, username: str, **_: Any) -> None:
    """Record that a lock began; a try while it holds is on record as any that failed."""
    if request.axes_failures_since_start is not None:  # type: ignore[attr-defined]
        user = User.objects.filter(username=username).first()
        keep_from_page(request, SignIn.What.LOCKED, user)
