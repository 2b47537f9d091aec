"""Readings that lie further from the line than their number explains. Named, never removed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ratings.mechanics.arguments import count
from ratings.mechanics.readingpairs import reading_pairs
from ratings.mechanics.uncertainty import two_sided_factor

# Residuals below this share of the largest force are the rounding of floating point.
ROUNDING = 1e-12


@dataclass(frozen=True)
class Outlier:
    """A reading beyond the limit. index: its place in the list given, from 0."""

    index: int
    stretch_in: float
    force_lbf: float
    studentized: float
    limit: float


def studentized_residuals(
    stretch_in: Sequence[float], force_lbf: Sequence[float]
) -> tuple[float, ...]:
    """Return the externally studentized residuals of the through-origin fit.

    t = e / (s·√(1 − h)) with e = f − kx, leverage h = x²/Σx² and s from the fit without that
    reading, s² = (Σe² − e²/(1 − h)) / (m − 2): each is judged by the scatter of the others
    (Cook and Weisberg 1982, §2.2). 0 for a reading within rounding of the line and for the
    only one with stretch; infinite where all others lie on one line without it.
    Raises ValueError for unequal lengths, fewer than three readings and no stretch at all.
    """
    stretches, forces = reading_pairs(stretch_in, force_lbf)
    if len(stretches) < 3:
        raise ValueError(
            f"stretch_in has {len(stretches)} readings: give three or more to judge one by "
            "the others"
        )
    sum_xx = math.fsum(x * x for x in stretches)
    if sum_xx == 0.0:
        raise ValueError("stretch_in is 0 in every reading: give at least one with stretch")
    pairs = list(zip(stretches, forces, strict=True))
    rate = math.fsum(x * f for x, f in pairs) / sum_xx
    residuals = [f - rate * x for x, f in pairs]
    least = ROUNDING * max(forces)
    # Σx² of the others, not 1 − h, which loses its digits where one reading has all leverage.
    free = [math.fsum(x * x for x in _without(stretches, i)) / sum_xx for i in range(len(pairs))]
    return tuple(
        _studentized(i, residuals, free, least) if abs(residuals[i]) > least else 0.0
        for i in range(len(pairs))
    )


def outlier_limit(many: int, confidence: float = 0.95) -> float:
    """Return what |t| must pass among so many readings: Bonferroni's two-sided limit.

    Each of the m readings is tested at (1 − confidence)/m, so that a good set of readings
    names any at all no more often than 1 − confidence. Degrees of freedom m − 2.
    """
    tested = count("readings", many, 3)
    return two_sided_factor(1.0 - (1.0 - confidence) / tested, tested - 2)


def find_outliers(
    stretch_in: Sequence[float], force_lbf: Sequence[float], confidence: float = 0.95
) -> tuple[Outlier, ...]:
    """Return the readings whose studentized residual passes the limit, in the order given.

    None with fewer than three readings: there is nothing to judge by. Raises ValueError as
    studentized_residuals does.
    """
    if len(stretch_in) == len(force_lbf) < 3:
        return ()
    found = studentized_residuals(stretch_in, force_lbf)
    limit = outlier_limit(len(found), confidence)
    return tuple(
        Outlier(index, stretch_in[index], force_lbf[index], t, limit)
        for index, t in enumerate(found)
        if abs(t) > limit
    )


def _studentized(index: int, residuals: list[float], free: list[float], least: float) -> float:
    if free[index] == 0.0:
        return 0.0
    others = math.fsum(
        [each * each for each in residuals] + [-residuals[index] * residuals[index] / free[index]]
    )
    scatter = math.sqrt(max(others, 0.0) / (len(residuals) - 2))
    if scatter <= least:
        return math.copysign(math.inf, residuals[index])
    return residuals[index] / (scatter * math.sqrt(free[index]))


def _without(values: list[float], index: int) -> list[float]:
    return values[:index] + values[index + 1 :]
