"""Listed ratings of hammers: what literature or a data plate claims, recorded with its source."""

from __future__ import annotations

import uuid
from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet import clock
from fleet.context import system_of
from fleet.fields import (
    MeasuredField,
    PastDayField,
    SubmissionForm,
    open_to_correction,
    whole_number,
)
from fleet.housings import lock_all_housings
from fleet.models import Hammer, Mounting
from fleet.roles import manager_required, signed_in
from fleet.units import Quantity
from ratings.ledger.facts import current_listings
from ratings.ledger.posting import Cause, entries_caused_by, post
from ratings.models import Listing


class ListingForm(SubmissionForm):
    """What a source claims a hammer may be pulled with."""

    listed_lbf = MeasuredField(
        Quantity.FORCE,
        label="Listed rating",
        least=1_000,
        most=10_000_000,
        example="120000",
        help_text="One US ton is 2,000 lbf.",
    )
    source = forms.CharField(
        label="Source",
        max_length=160,
        help_text="Data plate, manual or sheet, with its number or edition.",
    )
    dated = PastDayField(label="Dated", help_text="The day the source bears.")
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=2000
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.system != "us":
            self.fields["listed_lbf"].help_text = ""


@transaction.atomic
def record_listing(
    *,
    submission_id: uuid.UUID,
    hammer: Hammer,
    listed_lbf: float,
    source: str,
    dated: date,
    by: User,
    note: str = "",
    corrects: Listing | None = None,
) -> Listing:
    """Record what a source claims for a hammer. A second copy of a submission changes nothing."""
    # All of them, so that none is put on this hammer before the listing can be seen.
    locked = lock_all_housings()
    known = Listing.objects.filter(submission_id=submission_id).first()
    if known is not None:
        return known
    mounted = Mounting.objects.filter(hammer=hammer, removed_at__isnull=True)
    ids = set(mounted.values_list("housing_id", flat=True))
    listing = Listing.objects.create(
        submission_id=submission_id,
        hammer=hammer,
        listed_lbf=listed_lbf,
        source=source,
        dated=dated,
        recorded_by=by,
        note=note,
        corrects=corrects,
    )
    post(
        [housing for housing in locked if housing.pk in ids],
        cause=_cause(listing),
        occurred_at=clock.now(),
        by=by,
        corrects=(entries_caused_by(Cause.LISTING, corrects.pk, ids) if corrects else None),
    )
    return listing


def _cause(listing: Listing) -> Cause:
    words = f"Hammer {listing.hammer} listed at {listing.listed_lbf:,.0f} lbf by {listing.source}"
    if listing.corrects is not None:
        words += ", correcting an earlier listing"
    return Cause(Cause.LISTING, words, listing.pk)


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
