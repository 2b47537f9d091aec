"""From several bench tests of a lot to the rate of the lot and of any pad in it."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from ratings.mechanics.arguments import count, not_negative, positive, set_checked
from ratings.mechanics.uncertainty import Component, combine, tolerance_factor, updated_spread

# Pads beyond which nobody tests on.
MOST_PADS = 1000


@dataclass(frozen=True)
class BenchRate:
    """The rate one bench test found, of the mean pad of those in it.

    own_lbf_in, degrees_of_freedom: standard uncertainty that is this test's alone, as from the
    scatter of its readings.
    common_lbf_in: that which the stand puts on every pad it rates.
    marks: of the pads in it that bear one. Pads without a mark are taken for the same from test
    to test: nothing tells that one pad was not tested five times.
    Raises ValueError for a number that can't be, and for a mark twice or more marks than pads.
    """

    rate_lbf_in: float
    own_lbf_in: float
    common_lbf_in: float
    pads_in_test: int
    degrees_of_freedom: float = math.inf
    marks: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        set_checked(
            self,
            rate_lbf_in=positive("rate_lbf_in", self.rate_lbf_in, "lbf/in"),
            own_lbf_in=not_negative("own_lbf_in", self.own_lbf_in, "lbf/in"),
            common_lbf_in=not_negative("common_lbf_in", self.common_lbf_in, "lbf/in"),
            pads_in_test=count("pads_in_test", self.pads_in_test, 1),
        )
        if self.degrees_of_freedom != math.inf:
            freedom = positive("degrees_of_freedom", self.degrees_of_freedom, "")
            set_checked(self, degrees_of_freedom=freedom)
        if len(self.marks) > self.pads_in_test or len(set(self.marks)) < len(self.marks):
            raise ValueError(
                f"marks is {self.marks}: give each of the {self.pads_in_test} pads one of its own"
            )

    @property
    def pads(self) -> tuple[tuple[str, int], ...]:
        """What tells each of its pads from others: its mark, or its place among the unmarked."""
        unmarked = self.pads_in_test - len(self.marks)
        return tuple((mark, 0) for mark in self.marks) + tuple(
            ("", place) for place in range(1, unmarked + 1)
        )


@dataclass(frozen=True)
class Spread:
    """How pads of a lot differ.

    standard_lbf_in, degrees_of_freedom: the standard deviation that counts, the policy's updated
    by single pads. measured_lbf_in, measured_degrees_of_freedom: of the single pads alone; None
    where fewer than two were tested.
    single_pads: marked pads that were tested alone.
    """

    standard_lbf_in: float
    degrees_of_freedom: float
    measured_lbf_in: float | None
    measured_degrees_of_freedom: float | None
    single_pads: int


@dataclass(frozen=True)
class PooledRate:
    """The rate of a lot.

    weights: of each test in the mean, together 1.
    pads_tested: effective number of distinct pads behind the mean, 1/Σa² with a the weight of
    each pad in it.
    standard_lbf_in: of the mean, from what is each test's own: its scatter, the pads it happened
    to have, and between_lbf_in. common_lbf_in: from the stand. shared_lbf_in: both; all pads of
    the lot in a housing share it. degrees_of_freedom: of shared_lbf_in.
    between_lbf_in: standard deviation between tests that neither readings nor pads explain;
    between_of_mean_lbf_in: what it leaves in doubt of the mean.
    """

    rate_lbf_in: float
    weights: tuple[float, ...]
    pads_tested: float
    standard_lbf_in: float
    common_lbf_in: float
    shared_lbf_in: float
    degrees_of_freedom: float
    between_lbf_in: float
    between_of_mean_lbf_in: float
    between_degrees_of_freedom: float
    spread: Spread

    @property
    def spread_lbf_in(self) -> float:
        """The standard deviation from pad to pad that counts, lbf/in."""
        return self.spread.standard_lbf_in

    @property
    def is_assumed_spread(self) -> bool:
        """Whether no two marked pads were tested alone, so that the policy's spread stands in."""
        return self.spread.measured_lbf_in is None


def pool(
    tests: Sequence[BenchRate],
    assumed_spread_pct: float,
    assumed_degrees_of_freedom: float = math.inf,
) -> PooledRate:
    """Return the rate of a lot from its tests.

    Weighted mean with weights 1/(u² + σ²·m/n + τ²): u² the test's own variance, σ²/n that of the
    n pads in it, m the tests that hold each of them on the mean, since a pad tested again is no
    new pad. τ, the scatter between tests beyond both, by Paule and Mandel (1982, J. Res. NBS 87,
    377; from memory): (k − k̄)ᵀV⁻¹(k − k̄) = tests − 1, 0 where less is found, V = diag(u² + τ²)
    + σ²·AAᵀ with 1/n in A for each pad of a test, so that a pad tested twice is held to itself.
    The stand's common part adds straight: it is one error, however many tests.

    σ: assumed_spread_pct of the plain mean, with its degrees of freedom, updated by the marked
    pads tested alone. Raises ValueError with no test, and for a spread below 0.
    """
    if not tests:
        raise ValueError("tests has none in it: give one test or more")
    spread = spread_of(tests, assumed_spread_pct, assumed_degrees_of_freedom)
    rates = [test.rate_lbf_in for test in tests]
    between = _between_variance(tests, spread.standard_lbf_in)
    weights = weights_of(tests, spread.standard_lbf_in, between)
    of_pads = math.fsum(share * share for share in pad_weights(tests, weights))
    common = math.fsum(w * test.common_lbf_in for w, test in zip(weights, tests, strict=True))
    of_mean = math.sqrt(between * math.fsum(w * w for w in weights))
    parts = [
        *(
            Component(f"test {place}", w * test.own_lbf_in, test.degrees_of_freedom)
            for place, (w, test) in enumerate(zip(weights, tests, strict=True), start=1)
        ),
        Component(
            "pads tested", spread.standard_lbf_in * math.sqrt(of_pads), spread.degrees_of_freedom
        ),
        Component("between tests", of_mean, max(len(tests) - 1, 1)),
    ]
    shared = combine([*parts, Component("stand", common)])
    return PooledRate(
        rate_lbf_in=math.fsum(w * rate for w, rate in zip(weights, rates, strict=True)),
        weights=tuple(weights),
        pads_tested=1.0 / of_pads,
        standard_lbf_in=combine(parts).standard,
        common_lbf_in=common,
        shared_lbf_in=shared.standard,
        degrees_of_freedom=shared.degrees_of_freedom,
        between_lbf_in=math.sqrt(between),
        between_of_mean_lbf_in=of_mean,
        between_degrees_of_freedom=max(len(tests) - 1, 1),
        spread=spread,
    )


def spread_of(
    tests: Sequence[BenchRate], assumed_pct: float, assumed_degrees_of_freedom: float = math.inf
) -> Spread:
    """Return how a lot's pads differ: what is assumed, updated by marked pads tested alone.

    Tests of one pad are averaged first. Pads without a mark tell nothing: they may be one. Where
    single pads differ by more than assumed, what is assumed does not dilute that.
    """
    mean = fmean(test.rate_lbf_in for test in tests)
    assumed = mean * not_negative("assumed_spread_pct", assumed_pct, "%") / 100.0
    found = single_pads([tests])
    freedom = found.pads - 1
    if freedom < 1:
        return Spread(assumed, assumed_degrees_of_freedom, None, None, found.pads)
    measured = math.sqrt(found.squares / freedom)
    both, both_freedom = updated_spread(assumed, assumed_degrees_of_freedom, measured, freedom)
    return Spread(max(both, measured), both_freedom, measured, freedom, found.pads)


@dataclass(frozen=True)
class SinglePads:
    """Marked pads tested alone, and their squared deviations from the mean of their group."""

    pads: int
    squares: float


def single_pads(groups: Sequence[Sequence[BenchRate]]) -> SinglePads:
    """Return the marked pads tested alone in groups of tests, each held to its group's mean."""
    pads, squares = 0, []
    for tests in groups:
        by_mark: dict[str, list[float]] = {}
        for test in tests:
            if test.pads_in_test == 1 and test.marks:
                by_mark.setdefault(test.marks[0], []).append(test.rate_lbf_in)
        means = [fmean(rates) for rates in by_mark.values()]
        pads += len(means)
        if means:
            middle = fmean(means)
            squares += [(each - middle) * (each - middle) for each in means]
    return SinglePads(pads, math.fsum(squares))


def pad_weights(
    tests: Sequence[BenchRate], weights: Sequence[float], *, are_unmarked_alike: bool = True
) -> tuple[float, ...]:
    """Return the weight of each distinct pad in a sum of tests, a = Σ w/n over its tests.

    are_unmarked_alike: whether pads without a mark are taken for the same from test to test, the
    cautious way in a mean, or for others each time, the cautious way in a difference.
    """
    found: dict[tuple[str, int, int], list[float]] = {}
    for place, (test, weight) in enumerate(zip(tests, weights, strict=True)):
        for mark, number_of in test.pads:
            times = 0 if mark or are_unmarked_alike else place
            found.setdefault((mark, number_of, times), []).append(weight / test.pads_in_test)
    return tuple(math.fsum(shares) for shares in found.values())


def lower_bound_of_one_pad(
    mean_lbf_in: float, sd_lbf_in: float, n: int, proportion: float = 0.90, confidence: float = 0.95
) -> float:
    """Return the rate that, with this confidence, this proportion of the lot's pads reach.

    mean − k·sd with the one-sided tolerance factor k of n single pads tested, never below 0.
    Raises ValueError for a mean not above 0, a standard deviation below 0 and as
    tolerance_factor does.
    """
    mean = positive("mean_lbf_in", mean_lbf_in, "lbf/in")
    sd = not_negative("sd_lbf_in", sd_lbf_in, "lbf/in")
    return max(0.0, mean - tolerance_factor(n, proportion, confidence) * sd)


def pads_to_test_for(
    gain_lbf_in: float,
    mean_lbf_in: float,
    sd_lbf_in: float,
    n: int,
    proportion: float = 0.90,
    confidence: float = 0.95,
) -> int | None:
    """Return how many more single pads, tested, would raise the lower bound of one pad by a gain.

    The same mean and standard deviation are assumed of them. None where no number up to a
    thousand in all does: the bound never rises above mean − z·sd. Raises ValueError for a gain
    below 0 and as lower_bound_of_one_pad does.
    """
    gain = not_negative("gain_lbf_in", gain_lbf_in, "lbf/in")
    tested = count("n", n, 2)

    def bound(pads: int) -> float:
        return lower_bound_of_one_pad(mean_lbf_in, sd_lbf_in, pads, proportion, confidence)

    aim = bound(tested) + gain
    if gain == 0.0:
        return 0
    if tested >= MOST_PADS or bound(MOST_PADS) < aim:
        return None
    more = range(tested + 1, MOST_PADS)
    return 1 + bisect_left(more, True, key=lambda pads: bound(pads) >= aim)


# Never quite nothing, as a share of the rate: a test without scatter would else have all the
# weight there is, and one pad tested twice leave nothing to divide by.
LEAST_OF_A_WEIGHT = 1e-9
LEAST_OF_A_VARIANCE = 1e-6


def _least_variance(tests: Sequence[BenchRate], share: float) -> float:
    least = share * fmean(test.rate_lbf_in for test in tests)
    return least * least


def weights_of(tests: Sequence[BenchRate], spread: float, between: float = 0.0) -> list[float]:
    """Return the weight of each test in their mean, together 1.

    spread: standard deviation from pad to pad, lbf/in. between: variance between tests.
    """
    times = Counter(pad for test in tests for pad in test.pads)
    least = _least_variance(tests, LEAST_OF_A_WEIGHT)
    inverse = [
        1.0
        / math.fsum(
            (
                test.own_lbf_in * test.own_lbf_in,
                spread * spread * fmean(times[pad] for pad in test.pads) / test.pads_in_test,
                between,
                least,
            )
        )
        for test in tests
    ]
    whole = math.fsum(inverse)
    return [each / whole for each in inverse]


def _between_variance(tests: Sequence[BenchRate], spread: float) -> float:
    """Solve (k − k̄)ᵀV⁻¹(k − k̄) = tests − 1 for τ² by halving; it falls as τ² rises."""
    aim = len(tests) - 1
    if aim == 0:
        return 0.0
    import numpy as np

    # In an order of their own, so that no digit hangs on the order they were given in.
    tests = sorted(tests, key=lambda test: (test.rate_lbf_in, test.own_lbf_in, test.pads))
    rates = np.array([test.rate_lbf_in for test in tests])
    pads = sorted({pad for test in tests for pad in test.pads})
    share = np.array(
        [[(pad in test.pads) / test.pads_in_test for pad in pads] for test in tests], dtype=float
    )
    least = _least_variance(tests, LEAST_OF_A_VARIANCE)
    known = spread * spread * (share @ share.T) + np.diag(
        [test.own_lbf_in * test.own_lbf_in + least for test in tests]
    )
    one = np.ones(len(tests))

    def excess(tau_squared: float) -> float:
        variance = known + tau_squared * np.eye(len(tests))
        of_rates, of_one = np.linalg.solve(variance, np.stack([rates, one], axis=1)).T
        mean = float(one @ of_rates) / float(one @ of_one)
        return float((rates - mean) @ (of_rates - mean * of_one)) - aim

    if excess(0.0) <= 0.0:
        return 0.0
    low, high = 0.0, float(np.ptp(rates)) ** 2
    while excess(high) > 0.0:
        high *= 2.0
    for _ in range(100):
        middle = (low + high) / 2.0
        low, high = (middle, high) if excess(middle) > 0.0 else (low, middle)
    return high
