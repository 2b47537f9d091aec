"""By how much what came differs from what was said, on the mean, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from ratings.mechanics.arguments import number
from ratings.mechanics.uncertainty import coverage_factor

# Common practice, no published source: two say next to nothing of how they scatter.
LEAST_DEVIATIONS = 3


@dataclass(frozen=True)
class MeanDeviation:
    """The mean of some deviations, in their unit, and the band in which the true mean lies."""

    many: int
    mean: float
    low: float
    high: float

    @property
    def is_sure(self) -> bool:
        """Whether nothing at all lies outside the band: what is said then leans one way."""
        return self.low > 0.0 or self.high < 0.0


def mean_deviation(deviations: Sequence[float], confidence: float = 0.95) -> MeanDeviation | None:
    """Return the mean with its two-sided band, x̄ ± t·s/√n with n − 1 degrees of freedom.

    None of fewer than LEAST_DEVIATIONS. It supposes that they scatter alike, independently and
    about normally (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.2). Raises ValueError
    for what is no finite number, or a confidence not between 0 and 1.
    """
    values = [number("deviation", each) for each in deviations]
    many = len(values)
    if many < LEAST_DEVIATIONS:
        return None
    mean = fmean(values)
    factor = coverage_factor((1.0 + confidence) / 2.0, many - 1)
    half = factor * stdev(values) / math.sqrt(many)
    return MeanDeviation(many, mean, mean - half, mean + half)
