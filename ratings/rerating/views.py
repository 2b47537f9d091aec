"""The page of units being rated again, which survives being closed."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.cache import never_cache

from fleet.models import LongWork
from fleet.roles import RECORD
from ratings.rerating.long_work import WHAT
from ratings.rerating.telling import looked_at, of_work


@never_cache
def rerating(request: HttpRequest, work_id: int) -> HttpResponse:
    """Show how far it is, by whom it was asked for, and in the end what came of it."""
    found = LongWork.objects.filter(what=WHAT).select_related("asked_by")
    told = of_work(get_object_or_404(found, pk=work_id))
    if request.user.has_perm(RECORD):
        looked_at(told.work)
    return render(request, "rerating/rerating.html", {"section": "lots", "told": told})
