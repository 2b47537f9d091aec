from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from fleet.roles import manager_required
from ratings.ledger.posting import Cause
from ratings.models import LedgerEntry, Listing


@manager_required
def correct_entry(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Send the person to the form that puts right the record behind a ledger entry."""
    entry = get_object_or_404(LedgerEntry, pk=entry_id)
    record = entry.cause_record
    if entry.cause in (Cause.PAD_COUNT, Cause.PAD_REPLACEMENT):
        return redirect(
            reverse("count-pads", args=[entry.housing_id]) + f"?corrects={entry.sequence}"
        )
    if entry.cause == Cause.LISTING:
        listing = get_object_or_404(Listing, pk=record)
        return redirect(reverse("new-listing", args=[listing.hammer_id]) + f"?corrects={record}")
    raise Http404("What caused this entry is put right on its own page.")
