from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Self

from django.db import models
from django.db.models import Q

from fleet.as_of import AsOf
from fleet.dates import day_words
from fleet.models.recorded import CorrectableQuerySet, Recorded
from fleet.questions import among


class HousingGuideQuerySet(CorrectableQuerySet["HousingGuide"]):
    """What was said of the guides of housings."""

    def in_force_by_housing(
        self, housing_ids: Iterable[int], as_of: AsOf | None = None
    ) -> dict[int, HousingGuide]:
        """What holds of each housing that anything was said of, by its key.

        Of what nothing corrects, the latest by when it became so; of one moment, the last recorded.
        """
        standing = self.standing() if as_of is None else self.as_of(as_of, "occurred_at")
        told = standing.told_of(list(housing_ids))
        return {guide.housing_id: guide for guide in told}

    def told_of(self, housing_ids: Sequence[int]) -> Self:
        """What was said of some housings, that which holds of each coming last."""
        return self.filter(among("housing", housing_ids)).order_by("occurred_at", "pk")


class HousingGuide(Recorded):
    """Whether rods or slides keep a housing level, so that both its sides stretch alike.

    A housing of which nothing is on record counts as not guided, the cautious choice.
    """

    housing = models.ForeignKey("fleet.SuppressorHousing", models.PROTECT, related_name="guides")
    is_guided = models.BooleanField("guided")
    reason = models.CharField(
        "what shows it",
        max_length=200,
        help_text="Such as: two guide rods through both plates, straight and free in their "
        "bushings. Or: one rod bent, taken out.",
    )
    occurred_at = models.DateTimeField("since when, or when it was seen so")
    corrects = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )

    objects = HousingGuideQuerySet.as_manager()

    class Meta:
        ordering = ["-occurred_at", "-pk"]
        verbose_name = "guide of a housing"
        verbose_name_plural = "guides of housings"
        constraints = [
            models.CheckConstraint(name="housing_guide_for_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.housing} {self.words} since {day_words(self.occurred_at)}: {self.reason}"

    @property
    def words(self) -> str:
        return guide_words(self.is_guided)


def sides_words(guide: HousingGuide | None) -> str:
    """Return what holds of the two sides of a housing, with since when and what shows it."""
    if guide is None:
        return "not guided, as far as anybody has said: the weaker side decides"
    decides = "both sides stretch alike" if guide.is_guided else "the weaker side decides"
    since = f"since {day_words(guide.occurred_at)}, {guide.reason.rstrip('.')}"
    return f"{guide.words} ({since}): {decides}"


def guide_words(is_guided: bool) -> str:
    """Return "guided" or "not guided"."""
    return "guided" if is_guided else "not guided"
