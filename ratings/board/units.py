"""What the board shows: every unit, worst first."""

from __future__ import annotations

from typing import Any

from django.db.models import (
    Case,
    Exists,
    F,
    FilteredRelation,
    Max,
    OuterRef,
    Q,
    QuerySet,
    Value,
    When,
)
from django.db.models.functions import NullIf

from fleet.models import Hammer, Mounting, SuppressorHousing
from ratings.mechanics.standing import Standing

WORST_FIRST = (
    Standing.BELOW_LISTING,
    Standing.UNRATED,
    Standing.NOT_PROVEN,
    Standing.MEETS_LISTING,
)
OUT_OF_SERVICE = "out of service"
# What must not go out at all comes before every standing. Of one standing the one with no
# figure comes first: nothing is known to its credit.
WORST_FIRST_ORDER = ("in_service", "rank", F("share").asc(nulls_first=True), "mark")


def board_units() -> QuerySet[SuppressorHousing]:
    """Return every housing with its head entry and all that the board sorts by.

    A housing that was never counted has no ledger yet and ranks as unrated.
    """
    head = "current_rating__head"
    return (
        SuppressorHousing.objects.select_related("yard", head)
        .annotate(
            mounting=FilteredRelation("mountings", condition=Q(mountings__removed_at__isnull=True)),
            hammer_mark=F("mounting__hammer__mark"),
            spell=FilteredRelation(
                "times_out_of_service", condition=Q(times_out_of_service__released_at__isnull=True)
            ),
            out_since=F("spell__since"),
            out_reason=F("spell__reason"),
            in_service=Case(When(spell__isnull=True, then=Value(1)), default=Value(0)),
            rank=Case(
                *(
                    When(**{f"{head}__standing": standing.value}, then=Value(rank))
                    for rank, standing in enumerate(WORST_FIRST)
                ),
                default=Value(WORST_FIRST.index(Standing.UNRATED)),
            ),
            pull_lbf=F(f"{head}__pull_lbf"),
            working_capacity_lbf=F(f"{head}__working_capacity_lbf"),
            listed_lbf=F(f"{head}__listed_lbf"),
            share=F(f"{head}__pull_lbf") / NullIf(F(f"{head}__listed_lbf"), Value(0.0)),
            sound_pads=F(f"{head}__sound_pads"),
            usable_travel_in=F(f"{head}__usable_travel_in"),
            last_inspection=Max("inspections__seen_at"),
        )
        .order_by(*WORST_FIRST_ORDER)
    )


def standing_counts(units: QuerySet[Any]) -> list[tuple[Standing, int]]:
    """Return how many units in service stand how, worst first."""
    ranks = list(units.filter(in_service=1).order_by().values_list("rank", flat=True))
    return [(standing, ranks.count(rank)) for rank, standing in enumerate(WORST_FIRST)]


def out_of_service_count(units: QuerySet[Any]) -> int:
    """Return how many units are out of service, however they stand."""
    return units.filter(in_service=0).order_by().count()


def hammers_without_housing() -> QuerySet[Hammer]:
    """Return hammers that hang from no housing of ours, and so have no line pull."""
    mounted = Mounting.objects.filter(hammer=OuterRef("pk"), removed_at__isnull=True)
    return Hammer.objects.filter(~Exists(mounted))
