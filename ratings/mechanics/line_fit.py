"""Straight lines through a test's readings: the spring rate, the zero, readings that stand out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from ratings.mechanics.arguments import count, number, positive, reading_pairs
from ratings.mechanics.uncertainty import two_sided_factor

# Intercepts below this share of the mean reading, and residuals below this share of the largest
# force, are the rounding of floating point.
ROUNDING = 1e-12


@dataclass(frozen=True)
class SpringRate:
    """A fitted rate and how well it is known.

    rate_lbf_in: k = Σxf / Σx².
    standard_error_lbf_in: s / √Σx².
    degrees_of_freedom: readings with stretch, m, less one.
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

    Readings at rest count for nothing: through the origin the line goes as it is, whatever a
    gauge showed there, and they say nothing of how well it fits.
    Raises ValueError for unequal lengths, fewer than two readings with stretch, a reading that is
    negative or not finite, and no force in any with stretch.
    """
    every_stretch, every_force = reading_pairs(stretch_in, force_lbf)
    many = len(every_stretch)
    if many < 2:
        raise ValueError(f"stretch_in has {many} readings: give two or more")
    if max(every_stretch) == 0.0:
        raise ValueError("stretch_in is 0 in every reading: give at least one with stretch")
    limit_pct = positive("linearity_limit_pct", linearity_limit_pct, "%")
    pairs = zip(every_stretch, every_force, strict=True)
    stretched = [(x, f) for x, f in pairs if x > 0.0]
    stretches, forces = [x for x, _ in stretched], [f for _, f in stretched]
    with_stretch = " with stretch" if len(stretched) < many else ""
    # The squares, not the forces: those of the tiniest vanish.
    sum_ff = math.fsum(f * f for f in forces)
    if sum_ff == 0.0:
        raise ValueError(
            f"force_lbf is 0 in every reading{with_stretch}: give at least one with force"
        )
    if len(stretched) < 2:
        raise ValueError("stretch_in has 1 reading with stretch: give two or more")
    rate, sum_xx, residuals = _through_rest(stretches, forces)
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
    datum_off_in: by how much a tape misread at rest would make the line miss, −intercept/slope.
    None where the line doesn't rise.
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
    mean_x, mean_y = fmean(xs), fmean(ys)
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


@dataclass(frozen=True)
class CurvatureCheck:
    """Whether readings bend, held to the origin, by more than their scatter explains.

    t: the quadratic term over its standard error; critical_t: what |t| must pass.
    rate_lbf_in, quadratic_lbf_in2: k and c of f = k·x + c·x².
    squares_lbf2: Σ(f − k·x − c·x²)², to hold against another line through the readings.
    """

    is_significant: bool
    t: float
    critical_t: float
    rate_lbf_in: float
    quadratic_lbf_in2: float
    squares_lbf2: float


def curvature_check(
    stretch_in: Sequence[float], force_lbf: Sequence[float], confidence: float = 0.95
) -> CurvatureCheck:
    """Test, two-sided, whether the quadratic term of f = k·x + c·x² is 0.

    Ordinary least squares of a line through the origin with a quadratic term, and Student's t
    with m − 2 degrees of freedom; its square is the F of that term. A term within the rounding
    of floating point is none. Raises ValueError as reading_pairs does, for fewer than three
    readings with stretch, and for fewer than two stretches among them.
    """
    stretches, forces = reading_pairs(stretch_in, force_lbf)
    read = [(x, f) for x, f in zip(stretches, forces, strict=True) if x > 0.0]
    if len(read) < 3 or len({x for x, _ in read}) < 2:
        raise ValueError(
            f"stretch_in has {len(read)} readings with stretch: give three or more, at two "
            "stretches or more, to tell a bend by"
        )
    # In shares of the largest, and c of what x leaves of x², to keep the digits.
    most = max(x for x, _ in read)
    xs, fs = [x / most for x, _ in read], [f for _, f in read]
    sum_xx = math.fsum(x * x for x in xs)
    of_square = math.fsum(x * x * x for x in xs) / sum_xx
    bends = [x * x - of_square * x for x in xs]
    sum_bb = math.fsum(b * b for b in bends)
    line = math.fsum(x * f for x, f in zip(xs, fs, strict=True)) / sum_xx
    bend = math.fsum(b * f for b, f in zip(bends, fs, strict=True)) / sum_bb
    squares = math.fsum(
        (f - line * x - bend * b) ** 2 for x, b, f in zip(xs, bends, fs, strict=True)
    )
    critical_t = two_sided_factor(confidence, len(read) - 2)
    standard_error = math.sqrt(squares / (len(read) - 2) / sum_bb)
    if abs(bend) <= ROUNDING * max(fs):
        t = 0.0
    elif standard_error == 0.0:
        t = math.copysign(math.inf, bend)
    else:
        t = bend / standard_error
    return CurvatureCheck(
        is_significant=abs(t) > critical_t,
        t=t,
        critical_t=critical_t,
        rate_lbf_in=(line - bend * of_square) / most,
        quadratic_lbf_in2=bend / (most * most),
        squares_lbf2=squares,
    )


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
    _rate, sum_xx, residuals = _through_rest(stretches, forces)
    least = ROUNDING * max(forces)
    # Σx² of the others, not 1 − h, which loses its digits where one reading has all leverage.
    free = [
        math.fsum(x * x for x in _without(stretches, i)) / sum_xx for i in range(len(residuals))
    ]
    return tuple(
        _studentized(i, residuals, free, least) if abs(residuals[i]) > least else 0.0
        for i in range(len(residuals))
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


def _through_rest(stretches: list[float], forces: list[float]) -> tuple[float, float, list[float]]:
    """Return k = Σxf/Σx² (lbf/in), Σx² (in²) and each reading's departure f − kx, lbf."""
    sum_xx = math.fsum(x * x for x in stretches)
    if sum_xx == 0.0:
        raise ValueError("stretch_in is 0 in every reading: give at least one with stretch")
    pairs = list(zip(stretches, forces, strict=True))
    rate = math.fsum(x * f for x, f in pairs) / sum_xx
    return rate, sum_xx, [f - rate * x for x, f in pairs]


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
