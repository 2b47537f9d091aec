from __future__ import annotations

from collections.abc import Iterable
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from fleet import clock
from fleet.models.recorded import Recorded, RecordedBy


class LotRatingQuerySet(models.QuerySet["LotRating"]):
    """Ratings of lots, by what a second person said of them."""

    def in_force(self) -> Self:
        """Those approved and not withdrawn, the one that counts last of its lot.

        Each says in `rests_on_corrected` whether a test of its was corrected since.
        """
        corrected = RatedTest.objects.filter(
            rating=OuterRef("pk"), test__corrected_by__recorded_at__lte=clock.now()
        )
        return (
            self.filter(approval__isnull=False, withdrawal__isnull=True)
            .select_related("lot", "approval")
            .annotate(rests_on_corrected=Exists(corrected))
            .order_by("approval__pk")
        )

    def in_force_by_lot(self, lot_ids: Iterable[int]) -> dict[int, LotRating]:
        """The rating in force of each lot that has one, by the lot's key."""
        return {rating.lot_id: rating for rating in self.in_force().filter(lot__in=list(lot_ids))}

    def waiting(self) -> Self:
        """Drafts that wait for a second person: the last of its lot after those before it."""
        later = LotRating.objects.filter(lot=OuterRef("lot"), pk__gt=OuterRef("pk"))
        return self.filter(~Exists(later), approval__isnull=True, withdrawal__isnull=True).order_by(
            "pk"
        )


class LotRating(RecordedBy):
    """The spring rate that a lot's bench tests come to together. Never edited.

    A draft until a second person approves it; only an approved one rates units, until it is
    withdrawn or a later one is approved.
    """

    lot = models.ForeignKey("fleet.PadLot", models.PROTECT, related_name="ratings")
    tests = models.ManyToManyField(
        "ratings.BenchTest", through="ratings.RatedTest", related_name="ratings"
    )
    tested_at = models.DateTimeField(help_text="Of the newest of its tests.")

    rate_lbf_in = models.FloatField()
    common_uncertainty_lbf_in = models.FloatField(
        help_text="Standard uncertainty that every pad the stand has rated shares."
    )
    degrees_of_freedom = models.FloatField(null=True, help_text="Of it; none where infinite.")
    spread_lbf_in = models.FloatField(
        null=True,
        help_text="Standard deviation from pad to pad; none where the policy's stands in.",
    )
    spread_degrees_of_freedom = models.FloatField(null=True)
    linearity_error_pct = models.FloatField()
    tested_stretch_in = models.FloatField()
    coldest_f = models.FloatField(null=True)
    warmest_f = models.FloatField(null=True)
    curve = models.JSONField(
        help_text="Knots [stretch_in, force_lbf, slope_lbf_in] of the monotone load curve; "
        "used where the lot is not linear."
    )
    curve_doubt = models.JSONField(
        help_text="What the curve isn't sure of: force_lbf, stretch_in, share and scatter_lbf."
    )

    objects = LotRatingQuerySet.as_manager()

    class Meta:
        ordering = ["-recorded_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="lot_rating_possible",
                condition=Q(
                    rate_lbf_in__gt=0,
                    common_uncertainty_lbf_in__gte=0,
                    linearity_error_pct__gte=0,
                    tested_stretch_in__gt=0,
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot}: {self.rate_lbf_in:.0f} lbf/in"

    @property
    def state(self) -> str:
        """Whether it is a draft, approved, or withdrawn."""
        if hasattr(self, "withdrawal"):
            return "withdrawn"
        return "approved" if hasattr(self, "approval") else "draft"


class RatedTest(models.Model):
    """A bench test that a rating rests on. Never edited."""

    rating = models.ForeignKey(LotRating, models.PROTECT, related_name="rated_tests")
    test = models.ForeignKey("ratings.BenchTest", models.PROTECT, related_name="rated_tests")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(name="test_in_a_rating_once", fields=["rating", "test"]),
        ]

    def __str__(self) -> str:
        return f"{self.test} in rating {self.rating_id}"


class RatingApproval(Recorded):
    """A second person's word that a rating may rate units. Never edited."""

    rating = models.OneToOneField(LotRating, models.PROTECT, related_name="approval")
    drafted_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="approved_by_a_second_person", condition=~Q(recorded_by=F("drafted_by"))
            ),
        ]

    def __str__(self) -> str:
        return f"approval of rating {self.rating_id}"


class RatingWithdrawal(Recorded):
    """Word that an approved rating may rate units no longer, and why. Never edited."""

    rating = models.OneToOneField(LotRating, models.PROTECT, related_name="withdrawal")
    reason = models.CharField(max_length=200)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"withdrawal of rating {self.rating_id}"
