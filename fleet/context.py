"""What every page needs to know of the person who reads it."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from fleet.models import ReaderPreference
from fleet.models.reader import Units
from fleet.roles import PLAN, RECORD

# On the request, so that a page asks the database once however often it writes a figure.
KEPT_AS = "_reader_units"


def system_of(request: HttpRequest) -> str:
    """Return the reader's system of units, "us" or "si"."""
    if not hasattr(request, KEPT_AS):
        setattr(request, KEPT_AS, _stored_system(request))
    system: str = getattr(request, KEPT_AS)
    return system


def _stored_system(request: HttpRequest) -> str:
    if not request.user.is_authenticated:
        return Units.US.value
    return system_of_person(request.user)


def system_of_person(person: Any) -> str:
    """Return the system of units that somebody reads the site in, "us" or "si"."""
    preference = ReaderPreference.objects.filter(user=person.pk).first()
    return preference.units if preference else Units.US.value


def reader(request: HttpRequest) -> dict[str, Any]:
    """Context: the reader's units, and whether they may keep records and plan jobs."""
    return {
        "units": system_of(request),
        "may_record": request.user.is_authenticated and request.user.has_perm(RECORD),
        "may_plan": request.user.is_authenticated and request.user.has_perm(PLAN),
    }
