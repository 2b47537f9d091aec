from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from fleet.roles import signed_in
from inspections.models import CalendarFeed
from inspections.schedule.calendar import calendar_of
from inspections.schedule.feed import find_feed, make_feed, revoke_feed
from inspections.schedule.fleetdue import due_of_fleet
from inspections.schedule.openfindings import open_findings

# The secret is told once, on the page that comes after it was made.
TOLD_ONCE = "calendar_secret"


@never_cache
def due(request: HttpRequest) -> HttpResponse:
    """Show what is due at every unit, the worst first, and the findings still open."""
    secret = request.session.pop(TOLD_ONCE, "")
    address = request.build_absolute_uri(f"/calendar/{secret}.ics") if secret else ""
    units = due_of_fleet()
    return render(
        request,
        "inspections/due.html",
        {
            "section": "due",
            "pressing": [
                *((unit, kind) for unit in units for kind in unit.overdue),
                *((unit, kind) for unit in units for kind in unit.soon),
            ],
            "in_order": sum(1 for unit in units if not unit.overdue and not unit.soon),
            "findings": open_findings(),
            "today": timezone.localdate(),
            "feed": CalendarFeed.objects.filter(
                user=signed_in(request), revoked_at__isnull=True
            ).first(),
            "address": address,
        },
    )


@require_POST
def feed(request: HttpRequest) -> HttpResponse:
    """Make a new secret address of the calendar, or revoke it."""
    if "revoke" in request.POST:
        revoke_feed(signed_in(request))
    else:
        request.session[TOLD_ONCE] = make_feed(signed_in(request))
    return redirect("due")


@login_not_required
@never_cache
def calendar(request: HttpRequest, secret: str) -> HttpResponse:
    """Send the calendar to whoever has its secret address."""
    if find_feed(secret) is None:
        raise Http404("There is no calendar here.")
    site = request.build_absolute_uri("/").rstrip("/")
    return HttpResponse(
        calendar_of(due_of_fleet(), timezone.now(), site),
        content_type="text/calendar; charset=utf-8",
    )
