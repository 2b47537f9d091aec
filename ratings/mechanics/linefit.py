"""A straight line with intercept by least squares, and what its intercept says of the zero."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ratings.mechanics.arguments import number
from ratings.mechanics.uncertainty import two_sided_factor

# Intercepts below this share of the mean reading are the rounding of floating point.
ROUNDING = 1e-12


@dataclass(frozen=True)
class Line:
    """y = intercept + slope · x, fitted.

    intercept_standard_error, slope_standard_error: s·√(Σx²/(n·Sxx)) and s/√Sxx, with
    Sxx = Σ(x − x̄)².
    correlation: of intercept and slope, −Σx/√(n·Σx²); without it a prediction's uncertainty
    is wrong (GUM H.3).
    residual_sd: s, with s² = Σ(y − fitted)²/(n − 2).
    degrees_of_freedom: readings less two.
    mean_x: x̄, where the line is known best.
    """

    intercept: float
    slope: float
    intercept_standard_error: float
    slope_standard_error: float
    correlation: float
    residual_sd: float
    degrees_of_freedom: int
    mean_x: float

    def predict(self, x: float) -> tuple[float, float]:
        """Return the line at x and the standard uncertainty of the line there.

        u² = s²/n + (x − x̄)²·u²(slope), which is u²(a) + x²·u²(b) + 2x·u(a)·u(b)·r (GUM H.3)
        without the loss of digits.
        """
        at = number("x", x)
        of_mean = self.residual_sd / math.sqrt(self.degrees_of_freedom + 2)
        of_slope = (at - self.mean_x) * self.slope_standard_error
        return self.intercept + self.slope * at, math.hypot(of_mean, of_slope)


@dataclass(frozen=True)
class ZeroCheck:
    """Whether a line misses the origin by more than its scatter explains.

    t: intercept over its standard error; critical_t: what |t| must pass to be significant.
    datum_off_in: how far the tape's datum is likely off, −intercept/slope: so much should be
    added to it. None where the line doesn't rise.
    """

    is_significant: bool
    t: float
    datum_off_in: float | None
    critical_t: float


def fit_line(x: Sequence[float], y: Sequence[float]) -> Line:
    """Fit y = a + b·x by ordinary least squares, about the mean of x to keep the digits.

    Raises ValueError for unequal lengths, fewer than three readings (two leave no scatter to
    judge by), a reading that isn't a finite number, and readings that are all at one x.
    """
    xs, ys = _readings(x, y)
    many = len(xs)
    mean_x, mean_y = math.fsum(xs) / many, math.fsum(ys) / many
    from_mean = [each - mean_x for each in xs]
    spread = math.fsum(each * each for each in from_mean)
    if spread == 0.0 or max(xs) == min(xs):
        raise ValueError(f"x is {xs[0]:g} in every reading: give readings at two x or more")
    slope = math.fsum(dx * (v - mean_y) for dx, v in zip(from_mean, ys, strict=True)) / spread
    residuals = [v - mean_y - slope * dx for dx, v in zip(from_mean, ys, strict=True)]
    residual_sd = math.sqrt(math.fsum(each * each for each in residuals) / (many - 2))
    root_mean_square = math.sqrt(math.fsum(each * each for each in xs) / many)
    slope_standard_error = residual_sd / math.sqrt(spread)
    return Line(
        intercept=mean_y - slope * mean_x,
        slope=slope,
        intercept_standard_error=slope_standard_error * root_mean_square,
        slope_standard_error=slope_standard_error,
        correlation=-mean_x / root_mean_square,
        residual_sd=residual_sd,
        degrees_of_freedom=many - 2,
        mean_x=mean_x,
    )


def zero_check(line: Line, confidence: float = 0.95) -> ZeroCheck:
    """Test, two-sided, whether the intercept is 0: of x in inches of stretch and y in lbf.

    Student's t with the line's degrees of freedom. An intercept within the rounding of
    floating point is none.
    """
    critical_t = two_sided_factor(confidence, line.degrees_of_freedom)
    mean_y = line.intercept + line.slope * line.mean_x
    if abs(line.intercept) <= ROUNDING * abs(mean_y):
        t = 0.0
    elif line.intercept_standard_error == 0.0:
        t = math.copysign(math.inf, line.intercept)
    else:
        t = line.intercept / line.intercept_standard_error
    return ZeroCheck(
        is_significant=abs(t) > critical_t,
        t=t,
        datum_off_in=-line.intercept / line.slope if line.slope > 0.0 else None,
        critical_t=critical_t,
    )


def _readings(x: Sequence[float], y: Sequence[float]) -> tuple[list[float], list[float]]:
    if len(x) != len(y):
        raise ValueError(
            f"x has {len(x)} readings and y {len(y)}: give as many of one as of the other"
        )
    if len(x) < 3:
        raise ValueError(
            f"x has {len(x)} readings: give three or more, since a line with intercept goes "
            "through any two and leaves no scatter to judge by"
        )
    return _numbers("x", x), _numbers("y", y)


def _numbers(name: str, values: Sequence[float]) -> list[float]:
    return [number(f"{name} reading {place}", value) for place, value in enumerate(values, start=1)]
