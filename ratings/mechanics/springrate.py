"""The spring rate of a pad: a straight line through rest, by least squares."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ratings.mechanics.arguments import positive
from ratings.mechanics.linefit import Line, ZeroCheck, fit_line, zero_check
from ratings.mechanics.readingpairs import reading_pairs

__all__ = ["Line", "SpringRate", "ZeroCheck", "fit_line", "fit_rate", "zero_check"]


@dataclass(frozen=True)
class SpringRate:
    """A fitted rate and how well it is known.

    rate_lbf_in: k = Σxf / Σx².
    standard_error_lbf_in: s / √Σx².
    degrees_of_freedom: readings less one.
    residual_sd_lbf: s, with s² = Σ(f − kx)² / (m − 1).
    r_squared: 1 − Σ(f − kx)² / Σf². The squares of f are not centred: the line is held to the
    origin, and against a centred total the figure would mean nothing.
    linearity_error_pct: the largest departure from the line, % of the largest force.
    is_linear: whether that is within the limit it was fitted with.
    tested_stretch_in: the largest stretch a reading reached; the rate holds no further.
    """

    rate_lbf_in: float
    standard_error_lbf_in: float
    degrees_of_freedom: int
    residual_sd_lbf: float
    r_squared: float
    linearity_error_pct: float
    is_linear: bool
    tested_stretch_in: float


def fit_rate(
    stretch_in: Sequence[float], force_lbf: Sequence[float], linearity_limit_pct: float = 5.0
) -> SpringRate:
    """Fit force = rate × stretch through the origin, to readings of one pad, in and lbf.

    Raises ValueError for unequal lengths, fewer than two readings, a reading that is negative
    or not finite, no stretch at all, no force at all, or none but at rest.
    """
    stretches, forces = reading_pairs(stretch_in, force_lbf)
    if len(stretches) < 2:
        raise ValueError(f"stretch_in has {len(stretches)} readings: give two or more")
    limit_pct = positive("linearity_limit_pct", linearity_limit_pct, "%")
    sum_xx = math.fsum(x * x for x in stretches)
    if sum_xx == 0.0:
        raise ValueError("stretch_in is 0 in every reading: give at least one with stretch")
    # The squares, not the forces: those of the tiniest vanish.
    sum_ff = math.fsum(f * f for f in forces)
    if sum_ff == 0.0:
        raise ValueError("force_lbf is 0 in every reading: give at least one with force")
    rate = math.fsum(x * f for x, f in zip(stretches, forces, strict=True)) / sum_xx
    if rate == 0.0:
        raise ValueError(
            "force_lbf is 0 in every reading with stretch: give at least one with force"
        )
    residuals = [f - rate * x for x, f in zip(stretches, forces, strict=True)]
    sum_rr = math.fsum(residual * residual for residual in residuals)
    residual_sd = math.sqrt(sum_rr / (len(residuals) - 1))
    linearity_error_pct = 100.0 * max(map(abs, residuals)) / max(forces)
    return SpringRate(
        rate_lbf_in=rate,
        standard_error_lbf_in=residual_sd / math.sqrt(sum_xx),
        degrees_of_freedom=len(residuals) - 1,
        residual_sd_lbf=residual_sd,
        r_squared=1.0 - sum_rr / sum_ff,
        linearity_error_pct=linearity_error_pct,
        is_linear=linearity_error_pct <= limit_pct,
        tested_stretch_in=max(stretches),
    )
