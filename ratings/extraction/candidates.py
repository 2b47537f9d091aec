"""Every unit that could be sent to a job, and what the extraction check needs to know of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Max, Q, QuerySet
from django.utils import timezone

from fleet.models import Hammer, Mounting, OutOfService, PadLot, SuppressorHousing
from ratings.extraction.pads import RatedPads, pads_of
from ratings.freshness import staleness
from ratings.ledger.facts import current_lot_ratings
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.standing import Standing
from ratings.models import Commitment, LedgerEntry, RatingPolicy
from ratings.policy import policy_in_force


@dataclass(frozen=True)
class Candidate:
    """A housing on a hammer, the head of its ledger, and its facts for the check."""

    housing: SuppressorHousing
    hammer: Hammer
    entry: LedgerEntry | None
    unit: Unit


def candidates(
    first_day: date,
    last_day: date,
    distances: Mapping[int, float] | None = None,
    leave_out_job: int | None = None,
    only_housing: int | None = None,
) -> list[Candidate]:
    """Return every housing that is on a hammer, in a fixed number of queries.

    distances: miles from the site, by the yard's key. leave_out_job: whose commitments don't
    count, being this job's own.
    """
    housings = list(_housings(only_housing))
    hammers = _hammers()
    rated = pads_of(
        housing.current_rating.head.hash for housing in housings if _head(housing) is not None
    )
    out = dict(
        OutOfService.objects.filter(released_at__isnull=True).values_list("housing_id", "reason")
    )
    committed = _committed(first_day, last_day, leave_out_job)
    stale = stale_lots_today()
    return [
        Candidate(
            housing,
            hammers[housing.pk],
            _head(housing),
            _unit(
                housing,
                hammers[housing.pk],
                rated,
                stale,
                first_day=first_day,
                out_of_service=out.get(housing.pk, ""),
                committed=_held(committed, housing.pk, hammers[housing.pk].pk),
                distance_mi=(distances or {}).get(housing.yard_id),
            ),
        )
        for housing in housings
        if housing.pk in hammers
    ]


def stale_lots_today() -> set[str]:
    """Return the marks of lots whose rate is stale now, whatever the ledger says yet."""
    policy = policy_in_force(RatingPolicy.objects.first())
    ratings = current_lot_ratings(PadLot.objects.values_list("pk", flat=True))
    now = timezone.now()
    return {rating.lot.mark for rating in ratings.values() if staleness(rating, policy, now)}


def _housings(only: int | None) -> QuerySet[SuppressorHousing]:
    housings = SuppressorHousing.objects.select_related("yard", "current_rating__head").defer(
        "current_rating__head__document"
    )
    if only is not None:
        housings = housings.filter(pk=only)
    return housings.annotate(last_inspection=Max("inspections__seen_at")).order_by("mark")


def _hammers() -> dict[int, Hammer]:
    mountings = Mounting.objects.filter(removed_at__isnull=True).select_related("hammer__yard")
    return {mounting.housing_id: mounting.hammer for mounting in mountings}


def _committed(first_day: date, last_day: date, leave_out: int | None) -> list[Commitment]:
    held = Commitment.objects.filter(
        released_at__isnull=True, first_day__lte=last_day, last_day__gte=first_day
    ).select_related("job")
    return list(held if leave_out is None else held.filter(~Q(job=leave_out)))


def _held(committed: list[Commitment], housing_id: int, hammer_id: int) -> str:
    return "; ".join(
        f"{each.job.site}, {each.first_day:%-d %b} to {each.last_day:%-d %b %Y}"
        for each in committed
        if each.housing_id == housing_id or each.hammer_id == hammer_id
    )


def _head(housing: SuppressorHousing) -> LedgerEntry | None:
    rating = getattr(housing, "current_rating", None)
    return rating.head if rating else None


def _unit(
    housing: Any,
    hammer: Hammer,
    rated: Mapping[str, RatedPads],
    stale: set[str],
    *,
    first_day: date,
    **state: Any,
) -> Unit:
    head = _head(housing)
    pads = rated.get(head.hash) if head else None
    seen = housing.last_inspection
    return Unit(
        mark=housing.mark,
        groups=pads.groups if pads else (),
        usable_travel_in=head.usable_travel_in if head else None,
        travel_uncertainty_in=pads.travel_uncertainty_in if pads else 0.0,
        confidence=pads.confidence if pads else 0.95,
        standing=head.judged if head else Standing.UNRATED,
        eccentric_moment_lb_in=hammer.eccentric_moment_lb_in,
        frequency_vpm=hammer.frequency_vpm,
        exciter_weight_lb=hammer.exciter_weight_lb,
        clamp_weight_lb=hammer.clamp_weight_lb,
        clamp_force_lbf=hammer.clamp_force_lbf,
        housing_weight_lb=housing.weight_lb,
        stale_lots=tuple(sorted(pads.lots & stale)) if pads else (),
        days_since_inspection=(
            None if seen is None else max(0, (first_day - timezone.localdate(seen)).days)
        ),
        **state,
    )
