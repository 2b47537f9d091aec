"""What a certificate is printed from."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from ratings.bench.recording import PooledTests, pool_tests, pooled_tests
from ratings.certificate.figures import Units
from ratings.ledger.facts import lot_rate
from ratings.ledger.posting import Cause
from ratings.lot_pools import decision_of, pool_of, stored_rate_if_marked
from ratings.mechanics.uncertainty import two_sided_factor, whole_degrees_of_freedom
from ratings.mechanics.unit_rating import LotRate, Policy
from ratings.models import (
    BenchTest,
    LedgerEntry,
    LotDecision,
    LotRating,
    RatingPolicy,
    RatingState,
)
from ratings.models.policy import policy_in_force
from ratings.record.papers import Stated, paper_kind

KIND = "certificate"
# Two-sided, of every expanded uncertainty on the certificate.
LEVEL = 0.95


@dataclass(frozen=True)
class Certificate:
    """A rating, the tests it rests on reduced again, and the policy of the day it was drafted."""

    rating: LotRating
    pooled: PooledTests
    policy: Policy
    superseded_by: LotRating | None
    entries: tuple[LedgerEntry, ...]
    units: Units

    @property
    def state(self) -> RatingState:
        return self.rating.state

    @property
    def differences(self) -> tuple[str, ...]:
        """What its readings come to otherwise than the rating on record has it, in words."""
        rating, units, told = self.rating, self.units, []
        found = self.pooled.rate.rate_lbf_in
        if not _is_same(found, rating.rate_lbf_in):
            told.append(
                f"the readings come to a rate of {units.rate_words(found)}, and the rating on "
                f"record has {units.rate_words(rating.rate_lbf_in)}"
            )
        if rating.figures is None:
            # Drafted before its figures were kept, by the method of then: only the rate compares.
            return tuple(told)
        shared = self.pooled.rate.shared_lbf_in
        if not _is_same(shared, rating.common_uncertainty_lbf_in):
            told.append(
                f"the readings give a shared standard uncertainty of {units.rate_words(shared)}, "
                f"and the rating on record has "
                f"{units.rate_words(rating.common_uncertainty_lbf_in)}"
            )
        return tuple(told)

    @property
    def is_void(self) -> bool:
        """Whether its readings no longer give what it states."""
        return bool(self.differences)

    @property
    def is_linear(self) -> bool:
        return self.rating.linearity_error_pct <= self.policy.linearity_limit_pct

    @property
    def shared_lbf_in(self) -> float:
        """Standard uncertainty of the rate that all pads of the lot share."""
        return self.rating.common_uncertainty_lbf_in

    @property
    def degrees_of_freedom(self) -> float:
        stored = self.rating.degrees_of_freedom
        return math.inf if stored is None else stored

    @property
    def coverage_factor(self) -> float:
        return two_sided_factor(LEVEL, whole_degrees_of_freedom(self.degrees_of_freedom))

    @property
    def expanded_lbf_in(self) -> float:
        return self.coverage_factor * self.shared_lbf_in

    @property
    def spread_lbf_in(self) -> float:
        return self.pooled.rate.spread_lbf_in

    @property
    def lot_rate(self) -> LotRate:
        """The rating as the mechanics take it; whether it is stale is no matter of a paper."""
        return replace(lot_rate(self.rating, self.policy), stale="")

    @property
    def lot_rate_if_marked(self) -> LotRate | None:
        """The same, had every pad in its tests borne a mark; None where all did."""
        return stored_rate_if_marked(self.rating, self.lot_rate)


def _is_same(found: float, stored: float) -> bool:
    return math.isclose(found, stored, rel_tol=1e-9)


def read_certificate(rating: LotRating, system: str) -> Certificate:
    """Read all that a rating rests on. Nothing in it depends on the day it is printed."""
    policy = policy_in_force(
        RatingPolicy.objects.filter(recorded_at__lte=rating.recorded_at).first()
    )
    tests = list(
        rating.tests.select_related(
            "stand__yard", "gauge", "tape", "thermometer", "recorded_by", "lot"
        )
        .prefetch_related("readings", "pads__housing")
        .order_by("tested_at", "pk")
    )
    return Certificate(
        rating=rating,
        pooled=_pooled(rating, tests, policy),
        policy=policy,
        superseded_by=_superseded_by(rating),
        entries=tuple(
            LedgerEntry.objects.filter(
                cause__in=(Cause.LOT_RATED, Cause.RATE_WITHDRAWN), cause_record=rating.pk
            )
            .select_related("housing")
            .order_by("pk")
        ),
        units=Units(system),
    )


def _pooled(rating: LotRating, tests: list[BenchTest], policy: Policy) -> PooledTests:
    """Pool the tests as they were when the rating was drafted, those beside them seen too.

    What the others showed (how pads differ) is in its figures. A rating of before, or one whose
    tests would be chosen otherwise now, is pooled from those that count alone.
    """
    considered = (rating.figures or {}).get("considered", [])
    seen = list(
        rating.lot.bench_tests.filter(pk__in=[int(name) for name in considered])
        .select_related("stand", "gauge", "tape", "lot")
        .prefetch_related("readings", "pads")
    )
    if seen:
        word = (
            LotDecision.objects.filter(lot=rating.lot, recorded_at__lte=rating.recorded_at)
            .order_by("-pk")
            .first()
        )
        found = pool_of(seen, policy, rating.recorded_at, decision_of(word))
        if {each.name for each in found.tests} == {str(test.pk) for test in tests}:
            return pooled_tests(found, tests)
    return pool_tests(tests, policy)


def _superseded_by(rating: LotRating) -> LotRating | None:
    """The rating of the lot approved last, where it was approved after this one."""
    if rating.state != "approved":
        return None
    return (
        LotRating.objects.filter(
            lot=rating.lot_id, approval__pk__gt=rating.approval.pk, withdrawal__isnull=True
        )
        .order_by("-approval__pk")
        .first()
    )


@paper_kind(KIND)
def certificate_stated(subject: str, system: str) -> Stated:
    """Return what the certificate of a lot rating states. subject: the key of the rating."""
    rating = LotRating.objects.with_state().select_related("lot").filter(pk=int(subject)).first()
    if rating is None:
        raise LookupError("the rating is not on record")
    title = f"Spring rate certificate {rating.pk} of lot {rating.lot.mark}"
    try:
        is_void = read_certificate(rating, system).is_void
    except (ArithmeticError, LookupError, TypeError, ValueError):
        # Its paper says so too, and states no figure.
        return Stated(title, (), no_more=("The readings it rests on give no figure any more.",))
    units, no_more = Units(system), []
    if is_void:
        no_more.append("The readings it rests on no longer give what it states.")
    if rating.state is RatingState.WITHDRAWN:
        no_more.append("The rating was withdrawn.")
    figures = (
        ("State", str(rating.state)),
        ("Spring rate", units.rate_words(rating.rate_lbf_in)),
        ("Tested stretch", units.length_words(rating.tested_stretch_in)),
    )
    said = (getattr(rating, each, None) for each in ("approval", "rejection", "withdrawal"))
    records = (rating, rating.lot, *(each for each in said if each is not None))
    return Stated(title, figures, records=records, no_more=tuple(no_more))
