from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from enum import StrEnum
from functools import lru_cache
from typing import Any, Self

from django.conf import settings
from django.db import models
from django.db.models import Exists, ExpressionWrapper, F, OuterRef, Q, Subquery

from fleet import clock
from fleet.models.recorded import Recorded, RecordedBy
from ratings.mechanics.load_curve import (
    CurveDoubt,
    Knot,
    MonotoneCurve,
    bend_pct,
    forces_at_quarters,
)
from ratings.models.choices import COUNTS
from ratings.models.stand_checks import GaugeCalibration

LONGEST_IMPLAUSIBLE_REASON = 500


class RatingState(StrEnum):
    """How a rating stands. Of the drafts only `DRAFT` can still be approved."""

    DRAFT = "draft"
    APPROVED = "approved"
    WITHDRAWN = "withdrawn"
    REJECTED = "rejected"
    SUPERSEDED = "superseded draft"
    CORRECTED = "draft on a corrected test"

    @property
    def is_dead_draft(self) -> bool:
        """Whether it was never approved and can be no more."""
        return self in (RatingState.REJECTED, RatingState.SUPERSEDED, RatingState.CORRECTED)


class LotRatingQuerySet(models.QuerySet["LotRating"]):
    """Ratings of lots, by what a second person said of them."""

    def in_force(self, at: datetime | None = None) -> Self:
        """Those approved and not withdrawn, the one that counts last of its lot.

        at: by a past moment.

        Each says in `rests_on_corrected` whether a test of its was corrected since, and in
        `gauge_found_off` whether the gauge of one was found off since.
        """
        return self.in_force_as_known(clock.known_by(), at)

    def in_force_as_known(self, known_by: datetime, at: datetime | None = None) -> Self:
        """Those in force, by what is known of their tests and gauges at a moment."""
        return self._approved(at)._told_of(known_by).order_by("approval__pk")

    def _told_of(self, known_by: datetime) -> Self:
        return self.select_related("lot", "approval").annotate(
            rests_on_corrected=_rests_on_corrected(known_by),
            gauge_found_off=_is_among(_of_gauges_found_off(known_by)),
        )

    def _approved(self, at: datetime | None) -> Self:
        if at is None:
            return self.filter(approval__isnull=False, withdrawal__isnull=True)
        withdrawn = Q(withdrawal__recorded_at__lte=at)
        return self.filter(approval__recorded_at__lte=at).exclude(withdrawn)

    def in_force_by_lot(
        self, lot_ids: Iterable[int], at: datetime | None = None
    ) -> dict[int, LotRating]:
        """The rating in force of each lot that has one, by the lot's key.

        With the tests of those that must be worked out again from them.
        """
        return by_lot(self.in_force(at).filter(lot__in=list(lot_ids)))

    def as_if_in_force(self, key: int) -> dict[int, LotRating]:
        """Return one rating as `in_force_by_lot` does, whether it is in force or not."""
        return by_lot(self._told_of(clock.known_by()).filter(pk=key))

    def with_state(self) -> Self:
        """Those asked for, each with all that its `state` is read from, in one query."""
        later = LotRating.objects.filter(lot=OuterRef("lot"), pk__gt=OuterRef("pk"))
        return self.select_related("approval", "withdrawal", "rejection").annotate(
            rests_on_corrected=_rests_on_corrected(clock.known_by()),
            latest_after=Subquery(later.order_by("-pk").values("pk")[:1]),
        )

    def waiting(self) -> Self:
        """Drafts that wait for a second person, of each lot none but the last one drafted.

        Not those that nobody can approve any more: rejected, or resting on a corrected test.
        """
        return (
            self.with_state()
            .filter(
                approval__isnull=True,
                withdrawal__isnull=True,
                rejection__isnull=True,
                rests_on_corrected=False,
                latest_after__isnull=True,
            )
            .select_related("lot", "recorded_by")
            .order_by("pk")
        )


def by_lot(ratings: Iterable[LotRating]) -> dict[int, LotRating]:
    """Ratings in force by lot, each that must be worked out again with the tests it rests on."""
    found = {rating.lot_id: rating for rating in ratings}
    without_figures = [rating for rating in found.values() if rating.figures is None]
    models.prefetch_related_objects(without_figures, "tests__readings", "tests__pads")
    return found


def _is_among(ratings: models.QuerySet[RatedTest, int]) -> ExpressionWrapper[Q]:
    """Say of a rating whether it is among some, found once for all and not for each."""
    return ExpressionWrapper(Q(pk__in=ratings), output_field=models.BooleanField())


def _rests_on_corrected(known_by: datetime) -> ExpressionWrapper[Q]:
    """Say of a rating whether a test of its was corrected by a moment."""
    corrected = RatedTest.objects.filter(test__corrected_by__recorded_at__lte=known_by)
    return _is_among(corrected.values_list("rating", flat=True))


# Every signing asks this of every lot: making the query anew takes longer than running it.
@lru_cache(maxsize=4)
def _of_gauges_found_off(known_by: datetime) -> models.QuerySet[RatedTest, int]:
    """Return the ratings with a test whose gauge the next calibration found off. Never run.

    known_by: as known by a moment.
    """
    found_off = GaugeCalibration.objects.that_tell_of("test__", known_by).filter(is_found_off=True)
    return RatedTest.objects.filter(Exists(found_off)).values_list("rating", flat=True)


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
        help_text="Knots [stretch_in, force_lbf, slope_lbf_in] of the monotone load curve."
    )
    curve_doubt = models.JSONField(
        help_text="What the curve isn't sure of: force_lbf, stretch_in, share and scatter_lbf."
    )

    figures = models.JSONField(
        null=True,
        help_text="What else units are rated by, and which tests count and why; none of ratings "
        "drafted before it was kept, which are worked out again from their tests.",
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
    def load_curve(self) -> MonotoneCurve:
        """The lot's load curve, as measured, with what it isn't sure of."""
        knots = tuple(Knot(*map(float, knot)) for knot in self.curve)
        return MonotoneCurve(knots, CurveDoubt(**self.curve_doubt))

    @property
    def bend_pct(self) -> float:
        """How far the load curve departs from rate × stretch at the stretches used, % of force."""
        curve = self.load_curve
        return bend_pct(curve, self.rate_lbf_in, curve.tested_stretch_in)

    @property
    def quarters(self) -> tuple[tuple[float, float], ...]:
        """(stretch in, force lbf of one pad) at each quarter of the tested stretch."""
        return forces_at_quarters(self.load_curve)

    @property
    def state(self) -> RatingState:
        """How it stands: of many ratings read them by `with_state`."""
        for name, state in (
            ("withdrawal", RatingState.WITHDRAWN),
            ("rejection", RatingState.REJECTED),
            ("approval", RatingState.APPROVED),
        ):
            if hasattr(self, name):
                return state
        if self._read_with_state.rests_on_corrected:
            return RatingState.CORRECTED
        return RatingState.DRAFT if self.superseded_by_key is None else RatingState.SUPERSEDED

    @property
    def superseded_by_key(self) -> int | None:
        """The key of the rating of its lot that was drafted last, where that is not this one."""
        latest: int | None = self._read_with_state.latest_after
        return latest

    @property
    def _read_with_state(self) -> Any:
        if hasattr(self, "latest_after"):
            return self
        return LotRating.objects.with_state().get(pk=self.pk)


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


class LotDecision(Recorded):
    """A person's word on which of a lot's tests count, where they disagree. Never edited.

    It holds while these very tests are the ones to be pooled: a later test asks again.
    """

    lot = models.ForeignKey("fleet.PadLot", models.PROTECT, related_name="decisions")
    counts = models.CharField("what counts", max_length=6, choices=COUNTS)
    reason = models.CharField("why", max_length=200)
    tests = models.ManyToManyField(
        "ratings.BenchTest", through="ratings.DecidedTest", related_name="decisions"
    )

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="lot_decision_known", condition=Q(counts__in=list(COUNTS)) & ~Q(reason="")
            ),
        ]

    def __str__(self) -> str:
        return f"decision on lot {self.lot_id}: {self.counts}"


class DecidedTest(models.Model):
    """A bench test that a decision was about. Never edited."""

    decision = models.ForeignKey(LotDecision, models.PROTECT, related_name="decided_tests")
    test = models.ForeignKey("ratings.BenchTest", models.PROTECT, related_name="decided_tests")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(name="test_in_a_decision_once", fields=["decision", "test"]),
        ]

    def __str__(self) -> str:
        return f"{self.test} in decision {self.decision_id}"


class RatingApproval(Recorded):
    """A second person's word that a rating may rate units. Never edited."""

    rating = models.OneToOneField(LotRating, models.PROTECT, related_name="approval")
    drafted_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    doubts = models.JSONField(
        default=list, help_text="What there was to doubt in it, as the approver said they had read."
    )
    is_implausible = models.BooleanField(
        default=False,
        help_text="Whether a test behind it gave a rate that rubber of its lot can't have.",
    )
    implausible_reason = models.CharField(
        "why it is approved though the rubber does not allow it",
        max_length=LONGEST_IMPLAUSIBLE_REASON,
        blank=True,
    )

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                name="implausible_rating_approved_for_a_reason",
                condition=Q(is_implausible=False, implausible_reason="")
                | (Q(is_implausible=True) & ~Q(implausible_reason="")),
            ),
            models.CheckConstraint(
                name="approved_by_a_second_person", condition=~Q(recorded_by=F("drafted_by"))
            ),
        ]

    def __str__(self) -> str:
        return f"approval of rating {self.rating_id}"


class RatingRejection(Recorded):
    """Word that a draft must not rate units, and why. Never edited."""

    rating = models.OneToOneField(LotRating, models.PROTECT, related_name="rejection")
    reason = models.CharField(max_length=200)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(name="rating_rejected_for_a_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"rejection of rating {self.rating_id}"


class RatingWithdrawal(Recorded):
    """Word that an approved rating may rate units no longer, and why. Never edited."""

    rating = models.OneToOneField(LotRating, models.PROTECT, related_name="withdrawal")
    reason = models.CharField(max_length=200)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"withdrawal of rating {self.rating_id}"
