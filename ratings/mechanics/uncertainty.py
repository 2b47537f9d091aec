"""Standard uncertainties and how they add up: the rules of the GUM (JCGM 100:2008)."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from ratings.mechanics.arguments import LARGEST, count, not_negative, number, positive, set_checked


@dataclass(frozen=True)
class Component:
    """One cause of uncertainty: its standard uncertainty in the unit of the result.

    Raises ValueError for a standard uncertainty below 0 or degrees of freedom not above 0.
    """

    name: str
    standard: float
    degrees_of_freedom: float = math.inf

    def __post_init__(self) -> None:
        standard = number(f"standard of {self.name}", self.standard)
        if standard < 0.0:
            raise ValueError(f"standard of {self.name} is {standard:g}: give 0 or more")
        freedom = _freedom(f"degrees_of_freedom of {self.name}", self.degrees_of_freedom)
        set_checked(self, standard=standard, degrees_of_freedom=freedom)


@dataclass(frozen=True)
class Combined:
    """A combined standard uncertainty and its effective degrees of freedom, not truncated."""

    standard: float
    degrees_of_freedom: float


def combine(components: Iterable[Component]) -> Combined:
    """Return the root sum of squares, u² = Σu_i², of causes that don't depend on each other.

    Degrees of freedom by Welch–Satterthwaite, ν = u⁴ / Σ(u_i⁴/ν_i) (GUM G.4.1), not
    truncated; infinite where no component that counts has finitely many.
    """
    parts = tuple(components)
    standard = math.sqrt(math.fsum(part.standard * part.standard for part in parts))
    if standard == 0.0:
        return Combined(standard, math.inf)
    per_freedom = math.fsum(
        _fourth_power(part.standard / standard) / part.degrees_of_freedom for part in parts
    )
    # A thousand million are as good as infinitely many.
    return Combined(standard, 1.0 / per_freedom if per_freedom > 1.0 / LARGEST else math.inf)


def rectangular(half_width: float) -> float:
    """Return the standard uncertainty of anything within ± half_width alike: a/√3 (GUM 4.3.7).

    In the unit of measure of half_width. Raises ValueError below 0.
    """
    return not_negative("half_width", half_width, "of the unit") / math.sqrt(3.0)


def resolution(step: float) -> float:
    """Return that of a reading rounded to the nearest step: step/√12 (GUM F.2.2.1).

    In the unit of measure of step. Raises ValueError below 0.
    """
    return not_negative("step", step, "of the unit read") / math.sqrt(12.0)


def updated_spread(
    prior: float,
    prior_degrees_of_freedom: float,
    measured: float,
    measured_degrees_of_freedom: float,
) -> tuple[float, float]:
    """Return a standard deviation assumed beforehand, updated by a sample's, and its freedom.

    s² = (ν₀·s₀² + ν·s²)/(ν₀ + ν) with ν₀ + ν degrees of freedom: the pooled variance, which is
    also Bayes' update of a scaled inverse χ² prior of a variance (NIST/SEMATECH handbook 7.3.1
    for the pooled variance; the update from memory). Two equal readings so never make a spread
    of nothing. Raises ValueError for a standard deviation below 0 and a freedom not above 0; of
    the measured one 0 may be given, and the prior then stands.
    """
    assumed, found = not_negative("prior", prior, ""), not_negative("measured", measured, "")
    before = _freedom("prior_degrees_of_freedom", prior_degrees_of_freedom)
    more = not_negative("measured_degrees_of_freedom", measured_degrees_of_freedom, "")
    if before == math.inf or more == 0.0:
        return assumed, before
    both = before + more
    return math.sqrt((before * assumed * assumed + more * found * found) / both), both


def coverage_factor(confidence: float, degrees_of_freedom: float) -> float:
    """Return the one-sided Student t factor, to 4 decimals as a printed table gives it.

    Rounded so that the last bit of whatever library computes it can't change a rating.
    degrees_of_freedom: above 0, may be infinite (the normal quantile then).
    Raises ValueError unless confidence lies between 0.5 and 1.
    """
    level = number("confidence", confidence)
    if not 0.5 < level < 1.0:
        raise ValueError(f"confidence is {level:g}: give more than 0.5 and less than 1")
    return _student_t(level, _freedom("degrees_of_freedom", degrees_of_freedom))


@lru_cache(maxsize=4096)
def _student_t(level: float, degrees_of_freedom: float) -> float:
    from scipy.special import ndtri, stdtrit

    exact = ndtri(level) if degrees_of_freedom == math.inf else stdtrit(degrees_of_freedom, level)
    return round(float(exact), 4)


def degrees_of_freedom_at(confidence: float, factor: float) -> float:
    """Return the degrees of freedom at which a coverage factor is Student's, to 2 decimals.

    Raises ValueError unless confidence lies between 0.5 and 1 and the factor is larger than that
    of infinitely many.
    """
    if factor <= coverage_factor(confidence, math.inf):
        raise ValueError(f"factor is {factor:g}: give more than that of the normal")
    from scipy.special import stdtridf

    return round(float(stdtridf(confidence, factor)), 2)


def cumulative_t(value: float, degrees_of_freedom: float) -> float:
    """Return the chance that Student's t is no more than a value; the normal's where infinite.

    degrees_of_freedom: above 0. Raises ValueError for another and for a value that is no number.
    """
    at, freedom = number("value", value), _freedom("degrees_of_freedom", degrees_of_freedom)
    from scipy.special import ndtr, stdtr

    return float(ndtr(at) if freedom == math.inf else stdtr(freedom, at))


def two_sided_factor(confidence: float, degrees_of_freedom: float) -> float:
    """Return the Student t factor that leaves half of what confidence lacks on either side.

    To 4 decimals. Raises ValueError unless confidence lies between 0 and 1.
    """
    return coverage_factor((1.0 + _share("confidence", confidence)) / 2.0, degrees_of_freedom)


def whole_degrees_of_freedom(degrees_of_freedom: float) -> float:
    """Return degrees of freedom cut down to a whole number, 1 at the least (GUM G.4.1).

    Infinite ones stay so. Raises ValueError for 0 or less.
    """
    freedom = _freedom("degrees_of_freedom", degrees_of_freedom)
    return freedom if math.isinf(freedom) else max(1.0, float(math.floor(freedom)))


def tolerance_factor(n: int, proportion: float, confidence: float) -> float:
    """Return the one-sided normal tolerance factor of a sample of n, exact.

    mean − factor × sd lies, with this confidence, below at least this proportion of all that
    the sample was drawn from: t'(confidence; n − 1, z_p·√n) / √n, with t' the quantile of the
    noncentral t distribution (NIST/SEMATECH handbook 7.2.6.3; ISO 16269-6).
    n: 2 or more; proportion and confidence: between 0 and 1. Raises ValueError beyond these.
    """
    sample = count("n", n, 2)
    share, level = _share("proportion", proportion), _share("confidence", confidence)
    from scipy.special import ndtri
    from scipy.stats import nct

    root = math.sqrt(sample)
    return float(nct.ppf(level, sample - 1, float(ndtri(share)) * root)) / root


def _freedom(name: str, value: float) -> float:
    return math.inf if value == math.inf else positive(name, value, "")


def _share(name: str, value: float) -> float:
    share = number(name, value)
    if not 0.0 < share < 1.0:
        raise ValueError(f"{name} is {share:g}: give more than 0 and less than 1")
    return share


def _fourth_power(value: float) -> float:
    return (value * value) * (value * value)
