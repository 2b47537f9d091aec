"""Put a listed rating on record and judge the hammer's unit against it."""

from __future__ import annotations

import uuid
from datetime import date

from django.contrib.auth.models import User
from django.db import transaction

from fleet import clock
from fleet.locking import lock_all_housings
from fleet.models import Hammer, Mounting
from ratings.ledger.posting import Cause, entries_caused_by, post
from ratings.models import Listing


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
