"""What there is to doubt in a rating, for whoever is to approve it."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.models import PadLot
from ratings.bench.reduction import Plausibility, Reduction, plausibility_of, reduce_test
from ratings.bench.stand_warnings import stand_warnings
from ratings.models import BenchTest, LotRating, RatingPolicy
from ratings.models.policy import policy_in_force
from ratings.surveillance.words import softenings


@dataclass(frozen=True)
class TestBehind:
    """A test that a rating rests on, and what its readings come to today."""

    __test__ = False  # A test behind a rating, not a test for pytest to collect.

    test: BenchTest
    reduction: Reduction
    plausibility: Plausibility | None
    stand_warnings: tuple[str, ...]

    @property
    def doubts(self) -> tuple[str, ...]:
        """All that the test's own page warns of."""
        warnings = (*self.reduction.warnings, *self.stand_warnings)
        if self.plausibility is None or self.plausibility.is_plausible:
            return warnings
        return (
            "Not plausible: rubber of this hardness and size does not give such a rate.",
            *warnings,
        )


def tests_behind(rating: LotRating) -> list[TestBehind]:
    """Return the tests a rating rests on, the oldest first."""
    tests = list(
        rating.tests.select_related("stand", "recorded_by", "lot", "tape", "thermometer")
        .prefetch_related("readings")
        .order_by("tested_at", "pk")
    )
    limit_pct = policy_in_force(RatingPolicy.objects.first()).linearity_limit_pct
    found = []
    for test, warnings in zip(tests, stand_warnings(tests), strict=True):
        reduction = reduce_test(test, test.measured, limit_pct)
        plausibility = plausibility_of(test, reduction.fit.rate_lbf_in)
        found.append(TestBehind(test, reduction, plausibility, warnings))
    return found


def doubts_of(tests: list[TestBehind], lot: PadLot) -> list[str]:
    """Return every doubt in a rating: in its tests, each with the test it is of, and of its lot."""
    of_tests = [f"Bench test {each.test.pk}: {words}" for each in tests for words in each.doubts]
    return [*of_tests, *map(str, softenings([lot.pk]))]
