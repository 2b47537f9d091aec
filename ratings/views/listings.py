from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.context import system_of
from fleet.keys import whole_number
from fleet.models import Hammer, Mounting
from fleet.roles import manager_required, signed_in
from ratings.forms.listing import ListingForm
from ratings.forms.submission import open_to_correction
from ratings.ledger.facts import current_listings
from ratings.models import Listing
from ratings.recording.listing import record_listing


def listings(request: HttpRequest) -> HttpResponse:
    """Show every hammer and what it is listed at."""
    hammers = list(Hammer.objects.select_related("yard"))
    current = current_listings(hammer.pk for hammer in hammers)
    housings = {
        mounting.hammer_id: mounting.housing
        for mounting in Mounting.objects.filter(removed_at__isnull=True).select_related("housing")
    }
    rows = [(each, current.get(each.pk), housings.get(each.pk)) for each in hammers]
    return render(request, "ratings/listings.html", {"section": "listings", "rows": rows})


@manager_required
def new_listing(request: HttpRequest, hammer_id: int) -> HttpResponse:
    """Record a listed rating of a hammer; its unit is judged against it at once."""
    hammer = get_object_or_404(Hammer, pk=hammer_id)
    corrects = _corrected_listing(request, hammer)
    data = request.POST if request.method == "POST" else None
    form = ListingForm(data, initial=_initial(corrects), system=system_of(request))
    if request.method == "POST" and form.is_valid():
        cleaned = form.cleaned_data
        record_listing(
            submission_id=cleaned["submission_id"],
            hammer=hammer,
            listed_lbf=cleaned["listed_lbf"],
            source=cleaned["source"],
            dated=cleaned["dated"],
            by=signed_in(request),
            note=cleaned["note"],
            corrects=corrects,
        )
        messages.success(request, f"The listing of hammer {hammer} is on record.")
        mounting = Mounting.objects.filter(hammer=hammer, removed_at__isnull=True).first()
        return redirect("unit", mounting.housing_id) if mounting else redirect("listings")
    return render(
        request,
        "ratings/listing_form.html",
        {
            "section": "listings",
            "hammer": hammer,
            "form": form,
            "corrects": corrects,
            "earlier": hammer.listings.select_related("recorded_by", "corrects"),
        },
    )


def _corrected_listing(request: HttpRequest, hammer: Hammer) -> Listing | None:
    key = whole_number(request.GET.get("corrects", ""))
    if key is None:
        return None
    is_open = open_to_correction(request.POST.get("submission_id", ""))
    return get_object_or_404(Listing, is_open, pk=key, hammer=hammer)


def _initial(corrects: Listing | None) -> dict[str, Any]:
    if corrects is None:
        return {}
    return {name: getattr(corrects, name) for name in ("listed_lbf", "source", "dated")}
