"""What every page needs to know of the person who reads it."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from fleet.models import ReaderPreference
from fleet.models.reader import Units
from fleet.roles import PLAN, RECORD

# On the request, so that a page asks the database once however often it writes a figure.
KEPT_AS = "_reader_preference"


def system_of(request: HttpRequest) -> str:
    """Return the reader's system of units, "us" or "si"."""
    return _system(preference_of(request))


def preference_of(request: HttpRequest) -> ReaderPreference | None:
    """Return how the reader likes to see the site; None where nobody signed in, or said."""
    if not hasattr(request, KEPT_AS):
        is_known = request.user.is_authenticated
        setattr(request, KEPT_AS, _stored(request.user) if is_known else None)
    preference: ReaderPreference | None = getattr(request, KEPT_AS)
    return preference


def system_of_person(person: Any) -> str:
    """Return the system of units that somebody reads the site in, "us" or "si"."""
    return _system(_stored(person))


def _stored(person: Any) -> ReaderPreference | None:
    return ReaderPreference.objects.filter(user=person.pk).first()


def _system(preference: ReaderPreference | None) -> str:
    return preference.units if preference else Units.US.value


def reader(request: HttpRequest) -> dict[str, Any]:
    """Context: the reader's units, and whether they may keep records and plan jobs."""
    return {
        "units": system_of(request),
        "may_record": request.user.is_authenticated and request.user.has_perm(RECORD),
        "may_plan": request.user.is_authenticated and request.user.has_perm(PLAN),
    }
