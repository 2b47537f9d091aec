"""The page of units being rated again, which survives being closed."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from fleet.models import LongWork
from fleet.roles import manager_required, signed_in
from ratings.rerating.long_work import WHAT
from ratings.rerating.telling import of_work, see


def _found(work_id: int) -> LongWork:
    return get_object_or_404(
        LongWork.objects.filter(what=WHAT).select_related("asked_by"), pk=work_id
    )


@never_cache
def rerating(request: HttpRequest, work_id: int) -> HttpResponse:
    """Show how far it is, by whom it was asked for, and in the end what came of it."""
    told = of_work(_found(work_id))
    return render(request, "rerating/rerating.html", {"section": "lots", "told": told})


@manager_required
@require_POST
def see_rerating(request: HttpRequest, work_id: int) -> HttpResponse:
    """Let what was not recorded wait no more, for any manager and for the letter."""
    see(work=_found(work_id), by=signed_in(request))
    messages.success(request, "It waits no more.")
    return redirect("rerating", work_id)
