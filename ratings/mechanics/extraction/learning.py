"""What a yard's own pulls teach of a soil: how much of its hold is left while it is vibrated.

Each pull measures a factor: what the soil held with, over what it holds with at rest. Factors of
one soil scatter about a middle by a share, and so their logarithms y by a sum: y ~ N(μ, σ²), both
unknown. The prior is the conjugate one, normal–inverse-χ² (Gelman, Carlin, Stern, Dunson, Vehtari
and Rubin, Bayesian Data Analysis, 3rd ed. 2013, section 3.3; Murphy, Conjugate Bayesian analysis
of the Gaussian distribution, 2007, section 5):

    μ | σ² ~ N(μ₀, σ²/κ₀),  σ² ~ ν₀·σ₀²/χ²(ν₀)
    κ = κ₀ + n,  ν = ν₀ + n,  μ = (κ₀·μ₀ + n·ȳ)/κ
    ν·σ² = ν₀·σ₀² + Σ(y − ȳ)² + κ₀·n/κ·(ȳ − μ₀)²
    (μ − its middle)/√(σ²/κ) ~ Student's t with ν degrees of freedom

with μ₀ the table's factor and κ₀ = ν₀ the number of pulls it is worth. A pull that did not come
says only that the soil held with more: its likelihood is one-sided, Φ((μ − c)/σ), and the
posterior is then summed over a grid of μ and σ.

The model itself knows no factor above 1, and the logarithm does: a pull that gives one says that
the hold at rest was calculated wrong, and is not to be given to `lesson`. To leave such pulls out
lowers the middle, which is why a page that does so says how many there were.

Piles of one job stand in the same ground, so that twelve of them are not twelve soundings of the
soil: each of m pulls of a job weighs 1/(1 + (m − 1)·ρ), by the design effect of clusters (Kish,
Survey Sampling, 1965, section 5.4), with ρ = 0.5 (common practice, no published source).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Any

from ratings.mechanics.arguments import number, positive, set_checked
from ratings.mechanics.extraction.ground import PILE_SHARES, Ground
from ratings.mechanics.extraction.job import Job

# How alike two pulls of one job are, beyond what the soil's name tells.
WITHIN_A_JOB = 0.5
# A soil that holds less of a pile than this is not measured by pulling it.
LEAST_SHARE = 0.7
# Of the interval a posterior is told with, and of the range of the rules.
CONFIDENCE = 0.90
# Vibration leaves a soil no more than all it holds with at rest.
MOST_FACTOR = 1.0
# A pull that the others would make so unlikely is called unusual.
UNUSUAL = 0.01
_MIDDLES, _SCATTERS = 401, 81
_TAIL = 1e-7


@dataclass(frozen=True)
class SoilPart:
    """What the soil that holds most of a pile has of the whole hold, lbf.

    share: of the resistance calculated. static_lbf: its own at rest, divided by the pile's own
    share of what vibration does. rest_lbf: what holds the pile beside it.
    """

    soil: str
    share: float
    static_lbf: float
    rest_lbf: float

    def factor(self, resistance_lbf: float) -> float:
        """Return the factor that a resistance measured of the whole makes of this soil's.

        0 or less where what holds beside it was calculated to hold with more than all that was
        measured.
        """
        return (resistance_lbf - self.rest_lbf) / self.static_lbf


def soil_part(hold: Ground, job: Job) -> SoilPart | None:
    """Return the named soil that holds most of a vibrated pile, None where no soil has a name.

    Of pulls by the crane alone None too: they say nothing of vibration.
    """
    if not job.is_vibrating or hold.resistance_lbf <= 0.0:
        return None
    held: dict[str, float] = {}
    static: dict[str, float] = {}
    for piece in hold.slices:
        name = job.layers[piece.layer].soil
        held[name] = held.get(name, 0.0) + (piece.vibrated_lbf or 0.0)
        static[name] = static.get(name, 0.0) + piece.static_lbf
    named = [name for name in held if name and static[name] > 0.0]
    if not named:
        return None
    most = max(named, key=lambda name: held[name])
    return SoilPart(
        soil=most,
        share=held[most] / hold.resistance_lbf,
        static_lbf=static[most] / PILE_SHARES.get(job.pile.kind, 1.0),
        rest_lbf=hold.resistance_lbf - held[most],
    )


@dataclass(frozen=True)
class FactorSeen:
    """What one pull says of a soil's factor: that it was so much, or more than so much.

    job: which pulls were in the same ground. Raises ValueError for a factor not above 0.
    """

    factor: float
    job: Hashable
    is_lower_bound: bool = False

    def __post_init__(self) -> None:
        set_checked(self, factor=positive("factor", self.factor, "of the static resistance"))


@dataclass(frozen=True)
class Prior:
    """What is held of a factor before any pull.

    factor: the middle. pulls_worth: how many pulls it weighs as much as, 2 or more: of fewer
    nobody can tell a scatter. scatter: standard deviation of the logarithm of one pull's factor.
    """

    factor: float
    pulls_worth: float
    scatter: float

    def __post_init__(self) -> None:
        set_checked(
            self,
            factor=positive("factor", self.factor, "of the static resistance"),
            pulls_worth=number("pulls_worth", self.pulls_worth),
            scatter=positive("scatter", self.scatter, ""),
        )
        if self.pulls_worth < 2.0:
            raise ValueError(f"pulls_worth is {self.pulls_worth:g}: give 2 or more")


def scatter_of_range(low_factor: float, high_factor: float) -> float:
    """Return the scatter that a range of factors stands for, if nine pulls in ten lie in it.

    (ln high − ln low)/(2·1.645). That the rules' range is one of nine in ten is common practice,
    no published source. Raises ValueError unless high is above low and low above 0.
    """
    low, high = positive("low_factor", low_factor, ""), positive("high_factor", high_factor, "")
    if high <= low:
        raise ValueError(f"high_factor is {high:g}: give more than low_factor, {low:g}")
    from scipy.special import ndtri

    return math.log(high / low) / (2.0 * float(ndtri((1.0 + CONFIDENCE) / 2.0)))


@dataclass(frozen=True)
class Belief:
    """What is held of a soil's factor: its median, and between what it lies nine times in ten.

    pull_low, pull_high: between what the next pull's own factor will lie, nine times in ten.
    """

    factor: float
    low: float
    high: float
    pull_low: float
    pull_high: float

    @property
    def printed(self) -> Belief:
        """It with every figure cut at 1, as it is shown: the soil holds with no more than all."""
        return Belief(
            *(
                min(MOST_FACTOR, each)
                for each in (self.factor, self.low, self.high, self.pull_low, self.pull_high)
            )
        )


@dataclass(frozen=True)
class Lesson:
    """What pulls teach of one soil.

    weight: how many pulls in grounds of their own those seen are worth. unusual: places of the
    pulls that the others would make unlikely (less than 1 in 100); they count all the same.
    """

    prior: Belief
    posterior: Belief
    pulls: int
    lower_bounds: int
    jobs: int
    weight: float
    unusual: tuple[int, ...]


@dataclass(frozen=True)
class _Normal:
    """A normal–inverse-χ² belief of the logarithm."""

    middle: float
    strength: float
    freedom: float
    variance: float

    def updated(self, seen: Sequence[tuple[float, float]]) -> _Normal:
        """Return it after (logarithm, weight) of measured pulls."""
        n = math.fsum(weight for _, weight in seen)
        if n == 0.0:
            return self
        mean = math.fsum(weight * y for y, weight in seen) / n
        spread = math.fsum(weight * (y - mean) ** 2 for y, weight in seen)
        strength, freedom = self.strength + n, self.freedom + n
        apart = self.strength * n / strength * (mean - self.middle) ** 2
        return _Normal(
            (self.strength * self.middle + n * mean) / strength,
            strength,
            freedom,
            (self.freedom * self.variance + spread + apart) / freedom,
        )

    def belief(self) -> Belief:
        """Return it as factors, by Student's t."""
        from scipy.special import stdtrit

        t = float(stdtrit(self.freedom, (1.0 + CONFIDENCE) / 2.0))
        own = t * math.sqrt(self.variance / self.strength)
        next_one = t * math.sqrt(self.variance * (1.0 + 1.0 / self.strength))
        return Belief(
            math.exp(self.middle),
            math.exp(self.middle - own),
            math.exp(self.middle + own),
            math.exp(self.middle - next_one),
            math.exp(self.middle + next_one),
        )

    def chance_beyond(self, y: float) -> float:
        """Return the chance that the next pull's logarithm lies above y."""
        from scipy.special import stdtr

        scale = math.sqrt(self.variance * (1.0 + 1.0 / self.strength))
        return 1.0 - float(stdtr(self.freedom, (y - self.middle) / scale))


def lesson(prior: Prior, seen: Sequence[FactorSeen]) -> Lesson:
    """Return what pulls teach of a soil's factor."""
    start = _Normal(math.log(prior.factor), prior.pulls_worth, prior.pulls_worth, prior.scatter**2)
    weights = _weights(seen)
    known, bounds = _parted(seen, weights)
    after = start.updated(known)
    return Lesson(
        prior=start.belief(),
        posterior=_with_bounds(after, bounds) if bounds else after.belief(),
        pulls=len(seen),
        lower_bounds=len(bounds),
        jobs=len({each.job for each in seen}),
        weight=math.fsum(weights),
        unusual=tuple(_unusual(start, seen)),
    )


def _weights(seen: Sequence[FactorSeen]) -> list[float]:
    of_job = Counter(each.job for each in seen)
    return [1.0 / (1.0 + (of_job[each.job] - 1) * WITHIN_A_JOB) for each in seen]


def _parted(
    seen: Sequence[FactorSeen], weights: Sequence[float]
) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    known: list[tuple[float, float]] = []
    bounds: list[tuple[float, float]] = []
    for each, weight in zip(seen, weights, strict=True):
        (bounds if each.is_lower_bound else known).append((math.log(each.factor), weight))
    return known, bounds


def _unusual(start: _Normal, seen: Sequence[FactorSeen]) -> list[int]:
    """Places of the pulls that lie far from what the prior and all the others lead to expect."""
    found = []
    for place, each in enumerate(seen):
        others = [*seen[:place], *seen[place + 1 :]]
        known, _ = _parted(others, _weights(others))
        above = start.updated(known).chance_beyond(math.log(each.factor))
        # Of a pull that did not come only that it held so much is strange, never that it held less.
        chance = above if each.is_lower_bound else 2.0 * min(above, 1.0 - above)
        if chance < UNUSUAL:
            found.append(place)
    return found


def _with_bounds(base: _Normal, bounds: Sequence[tuple[float, float]]) -> Belief:
    """Return a belief after pulls that did not come, summed over a grid of middle and scatter.

    The grid is fine near the middle of what the measured pulls leave and reaches past every
    bound; each point weighs its normal–inverse-χ² density times Π Φ((μ − c)/σ).
    """
    import numpy as np
    from scipy.special import chdtri, log_ndtr, ndtr, stdtrit

    freedom, scale = base.freedom, math.sqrt(base.variance / base.strength)
    total = freedom * base.variance
    # chdtri gives the point that χ² lies above with such a chance.
    low, high = (math.log(total / float(chdtri(freedom, each))) for each in (_TAIL, 1 - _TAIL))
    highest = max(each for each, _ in bounds)
    reach = max(float(stdtrit(freedom, 1.0 - _TAIL)), 2.0 * (highest - base.middle) / scale + 10.0)
    # A bound far above what was expected widens the scatter too.
    high += 2.0 * math.log1p(max(0.0, highest - base.middle) / math.sqrt(base.variance))
    log_variance = np.linspace(low, high, _SCATTERS)[None, :]
    z = np.linspace(-math.asinh(reach), math.asinh(reach), _MIDDLES)[:, None]
    middle = base.middle + scale * np.sinh(z)
    sigma = np.exp(log_variance / 2.0)
    log_density = (
        # Of ln σ², and of z, which stretches the middles.
        -0.5 * freedom * log_variance
        - 0.5 * total / sigma**2
        - 0.5 * log_variance
        - 0.5 * base.strength * ((middle - base.middle) / sigma) ** 2
        + np.log(np.cosh(z))
    )
    for bound, weight in bounds:
        log_density = log_density + weight * log_ndtr((middle - bound) / sigma)
    density = np.exp(log_density - log_density.max())
    middles, of_middle = middle[:, 0], density.sum(axis=1)
    quantiles = ((1.0 - CONFIDENCE) / 2.0, 0.5, (1.0 + CONFIDENCE) / 2.0)
    own_low, own, own_high = (_quantile(middles, of_middle, each) for each in quantiles)

    def next_below(y: float) -> float:
        return float((density * ndtr((y - middle) / sigma)).sum() / density.sum())

    ends = (float(middles[0]), float(middles[-1]))
    pull_low, pull_high = (_where(next_below, each, *ends) for each in quantiles[::2])
    return Belief(*(math.exp(each) for each in (own, own_low, own_high, pull_low, pull_high)))


def _quantile(at: Any, density: Any, chance: float) -> float:
    import numpy as np

    # Each point stands for the stretch about it; half of its own lies below it.
    below = np.cumsum(density) - 0.5 * density
    return float(np.interp(chance * density.sum(), below, at))


def _where(rising: Any, chance: float, low: float, high: float) -> float:
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if rising(middle) < chance else (low, middle)
    return high
