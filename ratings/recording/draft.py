"""Draft the rating that a lot's bench tests come to together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields

from django.contrib.auth.models import User

from fleet.models import PadLot
from ratings.mechanics.budget import curve_doubt
from ratings.mechanics.line_fit import fit_rate
from ratings.mechanics.load_curve import CurveDoubt, monotone_curve, rising_means
from ratings.mechanics.pooling import BenchRate, PooledRate, pool
from ratings.models import BenchTest, LotRating, RatedTest, RatingPolicy
from ratings.policy import policy_in_force
from ratings.reduction import Reduction, reduce_test


@dataclass(frozen=True)
class PooledTests:
    """A lot's tests that may rate, and what they come to."""

    tests: tuple[BenchTest, ...]
    reductions: tuple[Reduction, ...]
    rate: PooledRate


def usable_tests(lot: PadLot) -> list[BenchTest]:
    """Return the lot's tests that may rate: in calibration that day and corrected by none."""
    tests = lot.bench_tests.filter(corrected_by__isnull=True).prefetch_related("readings")
    return [test for test in tests.order_by("tested_at", "pk") if test.is_for_rating]


def pool_tests(tests: Sequence[BenchTest], assumed_spread_pct: float) -> PooledTests:
    """Reduce tests and pool their rates; there must be one at the least."""
    reductions = tuple(reduce_test(test, test.measured, 100.0) for test in tests)
    rates = [bench_rate(test, each) for test, each in zip(tests, reductions, strict=True)]
    return PooledTests(tuple(tests), reductions, pool(rates, assumed_spread_pct))


def bench_rate(test: BenchTest, reduction: Reduction) -> BenchRate:
    """Return a test's rate with what is its own kept apart from what its stand puts on all."""
    lines = reduction.budget.lines
    own = [line.contribution_lbf_in for line in lines if line.kind == "A"]
    common = [line.contribution_lbf_in for line in lines if line.kind == "B"]
    return BenchRate(
        rate_lbf_in=reduction.fit.rate_lbf_in,
        own_lbf_in=math.hypot(*own),
        common_lbf_in=math.hypot(*common),
        pads_in_test=test.pads_in_test,
        degrees_of_freedom=float(reduction.fit.degrees_of_freedom),
    )


def draft_rating(lot: PadLot, by: User) -> LotRating | None:
    """Draft the rating of a lot from all its usable tests; None where it has none."""
    tests = usable_tests(lot)
    if not tests:
        return None
    policy = policy_in_force(RatingPolicy.objects.first())
    pooled = pool_tests(tests, policy.pad_spread_pct)
    points = sorted(point for each in pooled.reductions for point in each.points)
    stretch_in, force_lbf = [x for x, _ in points], [f for _, f in points]
    fit = fit_rate(stretch_in, force_lbf)
    # Pads that differ from one another are no sign of a bent line: each test is judged by its own.
    linearity_error_pct = max(each.fit.linearity_error_pct for each in pooled.reductions)
    curve = monotone_curve(*rising_means(stretch_in, force_lbf))
    temperatures = [t.rubber_temperature_f for t in tests if t.rubber_temperature_f is not None]
    rate = pooled.rate
    rating = LotRating.objects.create(
        lot=lot,
        recorded_by=by,
        tested_at=max(test.tested_at for test in tests),
        rate_lbf_in=rate.rate_lbf_in,
        common_uncertainty_lbf_in=rate.shared_lbf_in,
        degrees_of_freedom=_finite(rate.degrees_of_freedom),
        spread_lbf_in=None if rate.is_assumed_spread else rate.spread_lbf_in,
        spread_degrees_of_freedom=_finite(rate.spread_degrees_of_freedom),
        linearity_error_pct=linearity_error_pct,
        tested_stretch_in=fit.tested_stretch_in,
        coldest_f=min(temperatures, default=None),
        warmest_f=max(temperatures, default=None),
        curve_doubt=asdict(_worst_doubt(pooled)),
        curve=[[knot.stretch_in, knot.force_lbf, knot.slope_lbf_in] for knot in curve.knots],
    )
    RatedTest.objects.bulk_create(RatedTest(rating=rating, test=test) for test in tests)
    return rating


def _worst_doubt(pooled: PooledTests) -> CurveDoubt:
    """The largest of each kind of doubt among the tests: no test makes another surer."""
    doubts = [
        curve_doubt(
            [stretch for stretch, _ in reduction.points],
            [force for _, force in reduction.points],
            test.set_up,
            test.instruments,
        )
        for test, reduction in zip(pooled.tests, pooled.reductions, strict=True)
    ]
    names = [field.name for field in fields(CurveDoubt)]
    return CurveDoubt(**{name: max(getattr(doubt, name) for doubt in doubts) for name in names})


def _finite(value: float) -> float | None:
    return None if math.isinf(value) else value
