"""What there is to doubt in a rating, for whoever is to approve it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from fleet.quantities import Quantity
from ratings.bench.comparison import LotTests
from ratings.bench.graph import load_graph_figures
from ratings.bench.reduction import Plausibility, Reduction, plausibility_of, reduce_test
from ratings.bench.stand_warnings import calibrations_that_tell_of, stand_warnings
from ratings.bench.tested_pads import pads_of
from ratings.drawing.load_graph import LoadGraphFigures
from ratings.mechanics.unit_rating import Policy
from ratings.models import BenchTest, GaugeCalibration, LotRating, RatingPolicy
from ratings.models.policy import policy_in_force
from ratings.remarks import remark_words
from ratings.surveillance.words import softenings


@dataclass(frozen=True)
class TestBehind:
    """A test that a rating rests on, and what its readings come to today.

    told_by: the first calibration of its gauge after it, where there is one. system: the units
    of whoever is told.
    """

    __test__ = False  # A test behind a rating, not a test for pytest to collect.

    test: BenchTest
    reduction: Reduction
    plausibility: Plausibility | None
    stand_warnings: tuple[str, ...]
    told_by: GaugeCalibration | None
    system: str

    @property
    def doubts(self) -> tuple[str, ...]:
        """All that the test's own page warns of."""
        own = (remark_words(each, self.system) for each in self.reduction.warnings)
        warnings = (*own, *self.stand_warnings)
        if not self.is_implausible:
            return warnings
        return (f"Not plausible: {self.implausible_words()}.", *warnings)

    @property
    def is_implausible(self) -> bool:
        """Whether its rate is none that rubber of its lot's hardness and size can have."""
        return self.plausibility is not None and not self.plausibility.is_plausible

    def implausible_words(self) -> str:
        """Say what it measured beside what its rubber allows."""
        assert self.plausibility is not None
        rates = self.plausibility.rates
        measured, least, most = (
            Quantity.RATE.words(each, self.system)
            for each in (
                self.reduction.fit.rate_lbf_in,
                rates.least_lbf_in,
                rates.most_lbf_in,
            )
        )
        return (
            f"it measured {measured}, and rubber of this hardness and size gives {least} to {most}"
        )

    @property
    def graph_title(self) -> str:
        """What its graph is of."""
        return f"Bench test {self.test.pk}: load against stretch"

    def graph_figures(self, policy: Policy) -> LoadGraphFigures:
        """Return what its graph is drawn from."""
        return load_graph_figures(self.reduction, policy.linearity_limit_pct, self.system)


def tests_behind(rating: LotRating, system: str) -> list[TestBehind]:
    """Return the tests a rating rests on, the oldest first, to be told in these units."""
    tests = list(
        rating.tests.select_related("stand", "recorded_by", "lot", "tape", "thermometer")
        .prefetch_related("readings", "pads__housing")
        .order_by("tested_at", "pk")
    )
    policy = policy_in_force(RatingPolicy.objects.first())
    of_lot = LotTests(rating.lot, policy)
    told_by = calibrations_that_tell_of(tests)
    found = []
    for test, warnings in zip(tests, stand_warnings(tests, system), strict=True):
        own = reduce_test(test, test.measured, policy.linearity_limit_pct)
        reduction = of_lot.compared(test, own, pads_of(test), system)
        plausibility = plausibility_of(test, reduction.fit.rate_lbf_in)
        found.append(
            TestBehind(test, reduction, plausibility, warnings, told_by.get(test.pk), system)
        )
    return found


def doubts_of(rating: LotRating, tests: list[TestBehind]) -> list[str]:
    """Return every doubt in a rating: that its tests disagree, each test's own, and of its lot."""
    of_tests = [f"Bench test {each.test.pk}: {words}" for each in tests for words in each.doubts]
    return [*pool_doubts(rating), *of_tests, *map(str, softenings([rating.lot_id]))]


def implausible_of(tests: list[TestBehind]) -> list[str]:
    """Say of each test whose rate can't be that of its rubber what it measured, in a sentence."""
    return [
        f"Bench test {each.test.pk} is not plausible: {each.implausible_words()}."
        for each in tests
        if each.is_implausible
    ]


def pool_doubts(rating: LotRating) -> list[str]:
    """Return what the pool of a rating's tests leaves for a person to decide."""
    figures = rating.figures or {}
    return [f"Its tests disagree: {figures['why']}"] if figures.get("is_open") else []


def doubts_mark(doubts: list[str]) -> str:
    """Return a mark of these very doubts, for a page to say which of them it showed."""
    return hashlib.sha256("\n".join(doubts).encode()).hexdigest()
