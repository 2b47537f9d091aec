from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Self

from django.db import models
from django.db.models import Q

from fleet.as_of import AsOf
from fleet.models.measured_fields import MeasuredField
from fleet.models.recorded import CorrectableQuerySet, Recorded
from fleet.quantities import Quantity
from fleet.questions import among


def _standing(listings: list[tuple[int, int | None]]) -> list[int]:
    """Return, of keys and the keys of what they correct, those that stand, each in its place."""
    corrected = {corrects for _, corrects in listings}
    places: dict[int, int] = {}
    for key, corrects in listings:
        places[key] = places.get(corrects or 0, key)
    return sorted((key for key, _ in listings if key not in corrected), key=places.__getitem__)


def standing_of(listings: Iterable[Listing]) -> list[Listing]:
    """Those that none corrects, of listings in the order recorded, as standing_in_order."""
    by_key = {listing.pk: listing for listing in listings}
    keys = _standing([(each.pk, each.corrects_id) for each in by_key.values()])
    return [by_key[key] for key in keys]


def in_force_of(listings: Iterable[Listing]) -> dict[int, Listing]:
    """The one in force of each hammer, of all listings of those in the order recorded."""
    return {listing.hammer_id: listing for listing in standing_of(listings)}


class ListingQuerySet(CorrectableQuerySet["Listing"]):
    """Listings of hammers."""

    def begun_by(self, as_of: AsOf) -> list[int]:
        """The keys of those recorded by a moment, and of what counts as correcting them."""
        known = self.filter(recorded_at__lte=as_of.known_by).order_by("pk")
        found: list[int] = []
        for key, corrects, recorded_at in known.values_list("pk", "corrects", "recorded_at"):
            if recorded_at <= as_of.at or corrects in found:
                found.append(key)
        return found

    def standing_keys(self) -> list[int]:
        """The keys of those of standing_in_order, in its order."""
        return _standing(list(self.order_by("pk").values_list("pk", "corrects_id")))

    def standing_in_order(self) -> list[Listing]:
        """Those that none corrects, in the order recorded: a correction in its original's place."""
        return standing_of(self.order_by("pk"))

    def in_force_by_hammer(
        self, hammer_ids: Iterable[int], as_of: AsOf | None = None
    ) -> dict[int, Listing]:
        """The listing in force of each hammer that has one: the last recorded that stands.

        Of a past moment the last recorded by then, as a correction that counts has it.
        """
        of_hammers = self.of_hammers(list(hammer_ids))
        if as_of is not None:
            of_hammers = of_hammers.filter(pk__in=of_hammers.begun_by(as_of))
        return in_force_of(of_hammers)

    def of_hammers(self, hammer_ids: Sequence[int]) -> Self:
        """Those of some hammers, in the order recorded."""
        return self.filter(among("hammer", hammer_ids)).order_by("pk")


class Listing(Recorded):
    """What the literature or the data plate claims a hammer may be pulled with."""

    hammer = models.ForeignKey("fleet.Hammer", models.PROTECT, related_name="listings")
    listed_lbf = MeasuredField(
        "listed rating",
        quantity=Quantity.FORCE,
        least=1_000,
        most=10_000_000,
        example="120000",
        help_text="One US ton is 2,000 lbf.",
    )
    source = models.CharField(
        max_length=160, help_text="Data plate, manual or sheet, with its number or edition."
    )
    dated = models.DateField(help_text="The day the source bears.")
    note = models.TextField(blank=True)
    corrects = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )

    objects = ListingQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="listing_in_range", condition=Q(listed_lbf__gt=0, listed_lbf__lte=10_000_000)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.hammer}: {self.listed_lbf:,.0f} lbf by {self.source}"
