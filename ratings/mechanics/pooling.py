"""From several bench tests of a lot to the rate of the lot and of any pad in it."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from ratings.mechanics.arguments import count, not_negative, positive, set_checked
from ratings.mechanics.uncertainty import Component, combine, tolerance_factor

# Pads beyond which nobody tests on.
MOST_PADS = 1000


@dataclass(frozen=True)
class BenchRate:
    """The rate one bench test found, of the mean pad of those in it.

    own_lbf_in, degrees_of_freedom: standard uncertainty that is this test's alone, as from the
    scatter of its readings.
    common_lbf_in: that which the stand puts on every pad it rates.
    """

    rate_lbf_in: float
    own_lbf_in: float
    common_lbf_in: float
    pads_in_test: int
    degrees_of_freedom: float = math.inf

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


@dataclass(frozen=True)
class PooledRate:
    """The rate of a lot.

    weights: of each test in the mean, together 1.
    standard_lbf_in: of the mean, from what is each test's own: its scatter and the pads it
    happened to have. common_lbf_in: from the stand. shared_lbf_in: both; all pads of the lot in
    a housing share it. degrees_of_freedom: of shared_lbf_in.
    between_lbf_in: scatter between tests that neither explains.
    spread_lbf_in, spread_degrees_of_freedom: standard deviation from pad to pad; measured where
    two single pads or more were tested, else assumed.
    """

    rate_lbf_in: float
    weights: tuple[float, ...]
    standard_lbf_in: float
    common_lbf_in: float
    shared_lbf_in: float
    degrees_of_freedom: float
    between_lbf_in: float
    spread_lbf_in: float
    spread_degrees_of_freedom: float
    is_assumed_spread: bool
    single_pad_tests: int


def pool(tests: Sequence[BenchRate], assumed_spread_pct: float) -> PooledRate:
    """Return the rate of a lot from its tests.

    Weighted mean with weights 1/(u_i² + τ²), where u_i² is the test's own variance and that of
    the n pads in it, σ²/n; τ, the scatter between tests beyond both, by Paule and Mandel (1982,
    J. Res. NBS 87, 377; from memory): Σ w·(k − mean)² = tests − 1, 0 where less is found. The
    stand's common part adds straight: it is one error, however many tests.

    σ: the sample standard deviation of the tests of single pads, n − 1 degrees of freedom,
    where there are two or more; else assumed_spread_pct of the mean rate.
    Raises ValueError with no test, and for a spread below 0.
    """
    if not tests:
        raise ValueError("tests has none in it: give one test or more")
    assumed_pct = not_negative("assumed_spread_pct", assumed_spread_pct, "%")
    singles = [test.rate_lbf_in for test in tests if test.pads_in_test == 1]
    is_assumed = len(singles) < 2
    plain_mean = fmean(test.rate_lbf_in for test in tests)
    spread = plain_mean * assumed_pct / 100.0 if is_assumed else stdev(singles)
    own = [_own_variance(test, spread, plain_mean) for test in tests]
    between = _between_variance([test.rate_lbf_in for test in tests], own)
    weights = _weights([each + between for each in own])
    common = math.fsum(w * test.common_lbf_in for w, test in zip(weights, tests, strict=True))
    standard = 1.0 / math.sqrt(math.fsum(1.0 / (each + between) for each in own))
    return PooledRate(
        rate_lbf_in=math.fsum(w * t.rate_lbf_in for w, t in zip(weights, tests, strict=True)),
        weights=tuple(weights),
        standard_lbf_in=standard,
        common_lbf_in=common,
        shared_lbf_in=math.hypot(standard, common),
        degrees_of_freedom=_freedom(tests, weights, spread, between, len(singles), common),
        between_lbf_in=math.sqrt(between),
        spread_lbf_in=spread,
        spread_degrees_of_freedom=math.inf if is_assumed else len(singles) - 1,
        is_assumed_spread=is_assumed,
        single_pad_tests=len(singles),
    )


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


def _own_variance(test: BenchRate, spread: float, mean: float) -> float:
    # Never quite nothing: a test without scatter would else have all the weight there is.
    least = 1e-9 * mean
    return math.fsum(
        (
            test.own_lbf_in * test.own_lbf_in,
            spread * spread / test.pads_in_test,
            least * least,
        )
    )


def _weights(variances: Sequence[float]) -> list[float]:
    inverse = [1.0 / each for each in variances]
    whole = math.fsum(inverse)
    return [each / whole for each in inverse]


def _between_variance(rates: Sequence[float], own: Sequence[float]) -> float:
    """Solve Σ (k − mean)²/(u² + τ²) = tests − 1 for τ² by halving; it falls as τ² rises."""
    aim = len(rates) - 1

    def excess(tau_squared: float) -> float:
        variances = [each + tau_squared for each in own]
        weights = _weights(variances)
        mean = math.fsum(w * rate for w, rate in zip(weights, rates, strict=True))
        return (
            math.fsum((k - mean) * (k - mean) / v for k, v in zip(rates, variances, strict=True))
            - aim
        )

    if aim == 0 or excess(0.0) <= 0.0:
        return 0.0
    low, high = 0.0, (max(rates) - min(rates)) * (max(rates) - min(rates))
    while excess(high) > 0.0:
        high *= 2.0
    for _ in range(200):
        middle = (low + high) / 2.0
        low, high = (middle, high) if excess(middle) > 0.0 else (low, middle)
    return high


def _freedom(
    tests: Sequence[BenchRate],
    weights: Sequence[float],
    spread: float,
    between: float,
    singles: int,
    common: float,
) -> float:
    """Welch–Satterthwaite over each test's scatter, the pads it had, τ and the stand.

    A measured spread and τ have as many as the tests they come from less one.
    """
    of_spread = spread * math.sqrt(
        math.fsum(w * w / test.pads_in_test for w, test in zip(weights, tests, strict=True))
    )
    of_between = math.sqrt(between * math.fsum(w * w for w in weights))
    parts = [
        Component(f"test {place}", w * test.own_lbf_in, test.degrees_of_freedom)
        for place, (w, test) in enumerate(zip(weights, tests, strict=True), start=1)
    ]
    parts += [
        Component("pads tested", of_spread, singles - 1 if singles > 1 else math.inf),
        Component("between tests", of_between, max(len(tests) - 1, 1)),
        Component("stand", common),
    ]
    return combine(parts).degrees_of_freedom
