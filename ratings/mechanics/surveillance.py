"""Whether a lot softens: a line through its pads' rates against years or hours, with its band."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ratings.mechanics.arguments import count, not_negative, number, positive, set_checked
from ratings.mechanics.uncertainty import (
    Combined,
    Component,
    combine,
    coverage_factor,
    two_sided_factor,
)

# How sure, one-sided, that the rate falls at all before a lot is said to soften.
SOFTENING_CONFIDENCE = 0.95
# A slope that moves the rate by less than this share over all the points is rounding.
ROUNDING = 1e-12
# Halvings that leave a crossing as exact as a float can be.
_HALVINGS = 200


@dataclass(frozen=True)
class TrendPoint:
    """The mean rate of pads stretched together, at an age in years or after hours of service.

    pads: how many pads the rate is the mean of; the same pad stretched twice is one.
    own_lbf_in: standard uncertainty that is this test's alone, as from the scatter of its
    readings. stand, stand_lbf_in: the stand that read it, by name, and the standard uncertainty
    that the stand puts on every pad it reads.
    """

    at: float
    rate_lbf_in: float
    pads: int = 1
    own_lbf_in: float = 0.0
    stand: str = ""
    stand_lbf_in: float = 0.0

    def __post_init__(self) -> None:
        set_checked(
            self,
            at=not_negative("at", self.at, "years or hours"),
            rate_lbf_in=positive("rate_lbf_in", self.rate_lbf_in, "lbf/in"),
            pads=count("pads", self.pads, 1),
            own_lbf_in=not_negative("own_lbf_in", self.own_lbf_in, "lbf/in"),
            stand_lbf_in=not_negative("stand_lbf_in", self.stand_lbf_in, "lbf/in"),
        )


@dataclass(frozen=True)
class StandPart:
    """What one lbf/in that a stand reads too much does to a trend.

    level: to the rate at mean_at. slope: to the slope, per year or hour.
    standard_lbf_in: the standard uncertainty of what that stand reads.
    """

    stand: str
    level: float
    slope: float
    standard_lbf_in: float


@dataclass(frozen=True)
class Slope:
    """A change of rate, lbf/in per year or per hour, and how well it is known."""

    per_unit: float
    standard: float
    degrees_of_freedom: float

    def band(self, confidence: float = 0.95) -> tuple[float, float]:
        """Return the two-sided band of the slope, lower end first."""
        half = two_sided_factor(confidence, self.degrees_of_freedom) * self.standard
        return self.per_unit - half, self.per_unit + half

    @property
    def least_seen(self) -> float:
        """How fast the rate must fall, per year or hour, before it is told from scatter."""
        return coverage_factor(SOFTENING_CONFIDENCE, self.degrees_of_freedom) * self.standard

    @property
    def is_softening(self) -> bool:
        """Whether the rate falls by more than scatter and stands explain: one-sided, 5 %."""
        return -self.per_unit > self.least_seen


@dataclass(frozen=True)
class Trend:
    """The line rate = rate_lbf_in + slope · (at − mean_at), and how well it is known.

    first_at, last_at: of the points. pad_sd_lbf_in: standard deviation of single pads about the
    line. scatter_degrees_of_freedom: points less two. level_lbf_in, slope_scatter: what that
    scatter leaves in doubt of the rate at mean_at and of the slope. stands: what the stands do.

    All is said as the stand of the earliest point reads. What it reads too much, it reads too
    much of every pad, and bends no trend; a second stand does.
    """

    rate_lbf_in: float
    slope_per_unit: float
    mean_at: float
    first_at: float
    last_at: float
    points: int
    pad_sd_lbf_in: float
    scatter_degrees_of_freedom: int
    level_lbf_in: float
    slope_scatter: float
    stands: tuple[StandPart, ...]

    @property
    def slope(self) -> Slope:
        """The slope with its doubt, from scatter and from the stands."""
        of_stands = [part.slope * part.standard_lbf_in for part in self.stands]
        doubt = self._combined(self.slope_scatter, of_stands)
        return Slope(self.slope_per_unit, doubt.standard, doubt.degrees_of_freedom)

    def rate_at(self, at: float) -> float:
        """Return the rate on the line, lbf/in."""
        return self.rate_lbf_in + self.slope_per_unit * (number("at", at) - self.mean_at)

    def doubt_at(self, at: float) -> Combined:
        """Return the standard uncertainty of the line, lbf/in, and its degrees of freedom.

        u² = s²·(1/Σw + (x − x̄)²/Sxx) + Σ over stands of (what one lbf/in of it does · u)².
        """
        off = number("at", at) - self.mean_at
        of_stands = [(part.level + off * part.slope) * part.standard_lbf_in for part in self.stands]
        return self._combined(math.hypot(self.level_lbf_in, off * self.slope_scatter), of_stands)

    def band_at(self, at: float, confidence: float = 0.95) -> tuple[float, float]:
        """Return the two-sided band of the line there, lbf/in, lower end first."""
        doubt = self.doubt_at(at)
        half = two_sided_factor(confidence, doubt.degrees_of_freedom) * doubt.standard
        rate = self.rate_at(at)
        return rate - half, rate + half

    def line_reaches(self, limit_lbf_in: float, until: float) -> float | None:
        """Return where the line comes down to a limit, from the last point on.

        The last point where it lies there already; None where it doesn't by `until`.
        """
        return self._reaches(self.rate_at, limit_lbf_in, until)

    def band_reaches(
        self, limit_lbf_in: float, until: float, confidence: float = 0.95
    ) -> float | None:
        """Return where the lower end of the band comes down to a limit, as line_reaches does."""
        return self._reaches(lambda at: self.band_at(at, confidence)[0], limit_lbf_in, until)

    def _combined(self, scatter: float, of_stands: Sequence[float]) -> Combined:
        return combine(
            [
                Component("scatter", scatter, self.scatter_degrees_of_freedom),
                Component("stands", math.hypot(*of_stands)),
            ]
        )

    def _reaches(
        self, height: Callable[[float], float], limit_lbf_in: float, until: float
    ) -> float | None:
        limit = positive("limit_lbf_in", limit_lbf_in, "lbf/in")
        low, high = self.last_at, number("until", until)
        if height(low) <= limit:
            return low
        if high <= low or height(high) > limit:
            return None
        # Line and lower band, once below, stay so: neither bends upwards.
        for _ in range(_HALVINGS):
            middle = (low + high) / 2.0
            low, high = (low, middle) if height(middle) <= limit else (middle, high)
        return high


def fit_trend(points: Sequence[TrendPoint], spread_pct: float) -> Trend:
    """Fit a straight line to rates by weighted least squares.

    Weights 1/v with v = σ²/pads + own²: σ, the spread from pad to pad, is spread_pct of the mean
    rate. It only shares out the weights: the scatter that counts is the points' own about the
    line, s² = Σ r²/v / (points − 2), never below what their own readings leave in doubt. With
    one pad in every test and readings of no doubt this is ordinary least squares.
    Raises ValueError for fewer than three points (a line goes through any two), and for points
    all at one age or after the same hours.
    """
    if len(points) < 3:
        raise ValueError(
            f"points has {len(points)}: give three or more, since a line goes through any two and "
            "leaves no scatter to judge by"
        )
    ats = [point.at for point in points]
    if max(ats) == min(ats):
        raise ValueError(f"at is {ats[0]:g} in every point: give points at two or more")
    variances = _variances(points, spread_pct)
    weights = [1.0 / each for each in variances]
    whole = math.fsum(weights)
    mean_at = math.fsum(w * at for w, at in zip(weights, ats, strict=True)) / whole
    mean_rate = math.fsum(w * p.rate_lbf_in for w, p in zip(weights, points, strict=True)) / whole
    off = [at - mean_at for at in ats]
    sum_xx = math.fsum(w * dx * dx for w, dx in zip(weights, off, strict=True))
    slopes = [w * dx / sum_xx for w, dx in zip(weights, off, strict=True)]
    slope = math.fsum(
        c * (point.rate_lbf_in - mean_rate) for c, point in zip(slopes, points, strict=True)
    )
    if abs(slope) * (max(ats) - min(ats)) <= ROUNDING * mean_rate:
        slope = 0.0
    residuals = [
        point.rate_lbf_in - mean_rate - slope * dx for point, dx in zip(points, off, strict=True)
    ]
    scale = _scale(residuals, points, variances, len(points) - 2)
    return Trend(
        rate_lbf_in=mean_rate,
        slope_per_unit=slope,
        mean_at=mean_at,
        first_at=min(ats),
        last_at=max(ats),
        points=len(points),
        pad_sd_lbf_in=scale * _spread(points, spread_pct),
        scatter_degrees_of_freedom=len(points) - 2,
        level_lbf_in=scale / math.sqrt(whole),
        slope_scatter=scale / math.sqrt(sum_xx),
        stands=_stand_parts(points, [w / whole for w in weights], slopes),
    )


def slope_within_stands(points: Sequence[TrendPoint], spread_pct: float) -> Slope | None:
    """Return the slope that the stands show each by itself, whatever one reads beside another.

    One slope for all, a level for each stand (analysis of covariance). None where no stand read
    pads at two ages or more, or no degree of freedom is left: then a stand that reads lower
    looks the same as rubber that softens.
    """
    by_stand: dict[str, list[TrendPoint]] = {}
    for point in points:
        by_stand.setdefault(point.stand, []).append(point)
    freedom = len(points) - len(by_stand) - 1
    if freedom < 1:
        return None
    off: list[tuple[float, float]] = []
    variances: list[float] = []
    ordered: list[TrendPoint] = []
    spread = _spread(points, spread_pct)
    for group in by_stand.values():
        v = [_variance(point, spread) for point in group]
        whole = math.fsum(1.0 / each for each in v)
        mean_at = math.fsum(p.at / each for p, each in zip(group, v, strict=True)) / whole
        mean = math.fsum(p.rate_lbf_in / each for p, each in zip(group, v, strict=True)) / whole
        off += [(point.at - mean_at, point.rate_lbf_in - mean) for point in group]
        variances += v
        ordered += group
    span = max(point.at for point in points) - min(point.at for point in points)
    if max(abs(dx) for dx, _ in off) <= ROUNDING * span or span == 0.0:
        return None
    sum_xx = math.fsum(dx * dx / v for (dx, _), v in zip(off, variances, strict=True))
    slope = math.fsum(dx * dy / v for (dx, dy), v in zip(off, variances, strict=True)) / sum_xx
    residuals = [dy - slope * dx for dx, dy in off]
    scale = _scale(residuals, ordered, variances, freedom)
    return Slope(slope, scale / math.sqrt(sum_xx), freedom)


def _spread(points: Sequence[TrendPoint], spread_pct: float) -> float:
    mean = math.fsum(point.rate_lbf_in for point in points) / len(points)
    return positive("spread_pct", spread_pct, "%") / 100.0 * mean


def _variances(points: Sequence[TrendPoint], spread_pct: float) -> list[float]:
    spread = _spread(points, spread_pct)
    return [_variance(point, spread) for point in points]


def _variance(point: TrendPoint, spread: float) -> float:
    return spread * spread / point.pads + point.own_lbf_in * point.own_lbf_in


def _scale(
    residuals: Sequence[float],
    points: Sequence[TrendPoint],
    variances: Sequence[float],
    freedom: int,
) -> float:
    """Return s of the weighted residuals: 1 where pads scatter as the spread given says."""
    squares = math.fsum(r * r / v for r, v in zip(residuals, variances, strict=True)) / freedom
    # Three pads that happen to lie on a line are no better known than they were read.
    read = math.fsum(p.own_lbf_in**2 / v for p, v in zip(points, variances, strict=True))
    return math.sqrt(max(squares, read / len(points)))


def _stand_parts(
    points: Sequence[TrendPoint], levels: Sequence[float], slopes: Sequence[float]
) -> tuple[StandPart, ...]:
    first = min(points, key=lambda point: point.at).stand
    parts = []
    for stand in dict.fromkeys(point.stand for point in points):
        here = [place for place, point in enumerate(points) if point.stand == stand]
        parts.append(
            StandPart(
                stand=stand,
                level=math.fsum(levels[i] for i in here) - (1.0 if stand == first else 0.0),
                slope=math.fsum(slopes[i] for i in here),
                standard_lbf_in=math.fsum(points[i].stand_lbf_in for i in here) / len(here),
            )
        )
    if len(parts) == 1:
        # What is left of sums that come to nothing.
        return (StandPart(first, 0.0, 0.0, parts[0].standard_lbf_in),)
    return tuple(parts)
