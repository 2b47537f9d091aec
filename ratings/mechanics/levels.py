"""The mean of readings taken at one stretch, and whether one mean lies below another."""

from __future__ import annotations

import math
from collections.abc import Sequence

# Far below what any gauge shows, far above what rounding leaves between equal means.
HAIR = 1e-9


def mean(values: Sequence[float]) -> float:
    """Return the mean, in the unit of the values; their order changes no digit."""
    return math.fsum(values) / len(values)


def falls(before: float, after: float) -> bool:
    """Say whether `after` lies below `before` (both 0 or more) by more than rounding can."""
    return after < before * (1.0 - HAIR)
