"""How long pads last: survival where a failure is known only to lie between two looks.

A pad that a look found sound at some hours, and the next found cracked, failed in between. The
share still sound after so many hours is estimated without any assumed shape: by Kaplan and Meier
(1958) where every failure is known to the hour, else by Turnbull (1976), the distribution under
which the looks were likeliest. A Weibull law is fitted beside it, which can be read between looks.
"""

from __future__ import annotations

import math
import warnings
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from ratings.mechanics.arguments import count, not_negative, number, positive, set_checked

CONFIDENCE = 0.95
# Common practice, no published source: of fewer failures no life is told.
LEAST_FAILURES = 5
# At so many places along the hours the band is worked out; more could not be told apart drawn.
_MOST_PLACES = 24
# Of more different hours than this, those near each other are taken as one.
_MOST_ENDS = 48
_HALVINGS = 11
_MOST_STEPS = 300
_MOST_ROUNDS = 10_000
# The logarithm of a likelihood so near its maximum moves no share that can be seen.
_NEAR = 1e-9
# Beyond these the likelihood of a Weibull law has no maximum within reason.
_SHAPES = (0.05, 40.0)


@dataclass(frozen=True)
class Life:
    """What is known of how long one pad lasted, in hours worked.

    after_hours: it was sound so long. by_hours: it had failed by then; None where it was not seen
    to fail. Both the same where the hour is known. A life that ended at the first look has
    after_hours 0.
    """

    after_hours: float
    by_hours: float | None = None

    def __post_init__(self) -> None:
        set_checked(self, after_hours=not_negative("after_hours", self.after_hours, "h"))
        if self.by_hours is None:
            return
        set_checked(self, by_hours=positive("by_hours", self.by_hours, "h"))
        if self.by_hours < self.after_hours:
            raise ValueError(
                f"by_hours is {self.by_hours:g}, before after_hours, {self.after_hours:g}: give "
                "when it was found failed, at or after when it was last found sound"
            )

    @property
    def has_failed(self) -> bool:
        return self.by_hours is not None

    @property
    def is_exact(self) -> bool:
        """Whether the hour of its failure is known, or it did not fail."""
        return self.by_hours is None or self.by_hours == self.after_hours


class Method(StrEnum):
    """By what the share still sound is estimated."""

    KAPLAN_MEIER = "Kaplan–Meier"
    TURNBULL = "Turnbull"


@dataclass(frozen=True)
class Place:
    """The share of pads still sound after so many hours, with the ends of its band."""

    hours: float
    share: float
    low: float
    high: float


@dataclass(frozen=True)
class Curve:
    """The share still sound at places along the hours, the first at 0 h.

    By Kaplan and Meier a share holds until the next place. By Turnbull the share falls somewhere
    between two places, and where is not known.
    """

    method: Method
    places: tuple[Place, ...]


@dataclass(frozen=True)
class Weibull:
    """A Weibull law: the share still sound after t hours is exp(-(t / scale_hours) ** shape).

    log_likelihood: at its maximum. covariance: of the logarithms of scale and shape.
    """

    scale_hours: float
    shape: float
    log_likelihood: float
    covariance: tuple[tuple[float, float], tuple[float, float]]

    def share_after(self, hours: float) -> float:
        """Return the share still sound after so many hours."""
        return math.exp(-((not_negative("hours", hours, "h") / self.scale_hours) ** self.shape))

    def life_hours(self, failed_share: float) -> float:
        """Return the hours after which a share of the pads, above 0 and below 1, has failed."""
        return float(math.exp(self._log_life(failed_share)))

    def life_band(self, failed_share: float, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Return the band of `life_hours`, from the curvature of the likelihood, on logarithms."""
        log_life = self._log_life(failed_share)
        slope = -math.log(-math.log1p(-failed_share)) / self.shape
        (scale, both), (_, shape) = self.covariance
        spread = math.sqrt(max(0.0, scale + 2.0 * slope * both + slope * slope * shape))
        reach = _two_sided_z(confidence) * spread
        return math.exp(log_life - reach), math.exp(log_life + reach)

    def shape_band(self, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Return the band of the shape, likewise; above 1 pads fail oftener as they age."""
        reach = _two_sided_z(confidence) * math.sqrt(self.covariance[1][1])
        return self.shape * math.exp(-reach), self.shape * math.exp(reach)

    def _log_life(self, failed_share: float) -> float:
        share = number("failed_share", failed_share)
        if not 0.0 < share < 1.0:
            raise ValueError(f"failed_share is {share:g}: give more than 0 and less than 1")
        return math.log(self.scale_hours) + math.log(-math.log1p(-share)) / self.shape


class Told(StrEnum):
    """What can be told of how long the pads of a lot last."""

    LIFE = "life"
    NO_PADS = "no pads"
    NO_FAILURE = "no failure"
    TOO_FEW_FAILED = "too few failed"
    FAILED_AT_FIRST_LOOK = "failed at the first look"


@dataclass(frozen=True)
class LotLife:
    """How long the pads of one lot last.

    longest_hours: the most that any was known to be sound. curve: where life can be told.
    weibull: None where no Weibull law has a greatest likelihood, as when all failed between the
    same two looks.
    """

    told: Told
    pads: int
    failed: int
    longest_hours: float
    curve: Curve | None = None
    weibull: Weibull | None = None


@dataclass(frozen=True)
class Comparison:
    """Whether lots last alike: the chance of such a difference among lots that do."""

    chi_squared: float
    degrees: int
    p_value: float


def lot_life(lives: Sequence[Life], least_failures: int = LEAST_FAILURES) -> LotLife:
    """Return what the lives of a lot's pads tell, and nothing where too few of them failed."""
    least = count("least_failures", least_failures, 1)
    failed = sum(1 for life in lives if life.has_failed)
    longest_hours = max((life.after_hours for life in lives), default=0.0)
    told = _told(lives, failed, least, longest_hours)
    if told is not Told.LIFE:
        return LotLife(told, len(lives), failed, longest_hours)
    return LotLife(
        told, len(lives), failed, longest_hours, survival_curve(lives), fit_weibull(lives)
    )


def _told(lives: Sequence[Life], failed: int, least: int, longest_hours: float) -> Told:
    if not lives:
        return Told.NO_PADS
    if not failed:
        return Told.NO_FAILURE
    if failed == len(lives) and longest_hours == 0.0:
        return Told.FAILED_AT_FIRST_LOOK
    return Told.LIFE if failed >= least else Told.TOO_FEW_FAILED


def survival_curve(
    lives: Sequence[Life], confidence: float = CONFIDENCE, at_hours: Sequence[float] = ()
) -> Curve:
    """Return the share of pads still sound along the hours, each place's band by itself.

    Kaplan and Meier's band is Greenwood's on the scale of log(-log), as scipy.stats.ecdf has it.
    Turnbull's is of the likelihood ratio: the shares under which what was seen is not so much
    less likely than under the best (Thomas and Grunkemeier 1975, for censored data).
    at_hours: where Turnbull's is wanted, at the last look until then; unless given, all along.
    Raises ValueError where no pad failed.
    """
    if not any(life.has_failed for life in lives):
        raise ValueError(f"lives has {len(lives)} pads, none failed: give at least one that did")
    if all(life.is_exact for life in lives):
        return Curve(Method.KAPLAN_MEIER, tuple(_kaplan_meier(lives, confidence)))
    return Curve(Method.TURNBULL, tuple(_turnbull(lives, confidence, at_hours)))


def _kaplan_meier(lives: Sequence[Life], confidence: float) -> list[Place]:
    # As heavy as the rest of a page, and few pages need it.
    from scipy import stats

    seen = stats.CensoredData(
        uncensored=[life.after_hours for life in lives if life.has_failed],
        right=[life.after_hours for life in lives if not life.has_failed],
    )
    sound = stats.ecdf(seen).sf
    with _silent(), warnings.catch_warnings():
        # It warns of the shares of 1 and 0, which are seen to below.
        warnings.simplefilter("ignore", RuntimeWarning)
        band = sound.confidence_interval(confidence, method="log-log")
    places = [Place(0.0, 1.0, 1.0, 1.0)]
    for hours, share, low, high in zip(
        sound.quantiles,
        sound.probabilities,
        band.low.probabilities,
        band.high.probabilities,
        strict=True,
    ):
        # On this scale a share of 1 or 0 has no band of its own.
        ends = (float(low), float(high)) if 0.0 < share < 1.0 else (float(share),) * 2
        places.append(Place(float(hours), float(share), *ends))
    return places


class _Looks:
    """The lives as cells of hours between all that were ever looked at, alike ones together."""

    def __init__(self, lives: Sequence[Life]) -> None:
        import numpy as np

        spans: dict[tuple[float, float], int] = {}
        for life in lives:
            by = math.inf if life.by_hours is None else life.by_hours
            # A failure known to the hour lies within no width: a hair before it serves.
            after = math.nextafter(by, 0.0) if by == life.after_hours else life.after_hours
            spans[after, by] = spans.get((after, by), 0) + 1
        ends = sorted({end for span in spans for end in span} | {0.0, math.inf})
        self.ends = ends[1:-1]
        # The cell of number n runs from the end before it up to the end of number n.
        place = {end: number for number, end in enumerate(ends)}
        self.weights = np.array(list(spans.values()), dtype=float)
        self.cover = np.zeros((len(spans), len(ends) - 1))
        for row, (after, by) in enumerate(spans):
            self.cover[row, place[after] : place[by]] = 1.0

    def likeliest(self) -> Any:
        """Return (log likelihood, masses) at its maximum, by expectation and maximisation."""
        import numpy as np

        many = self.cover.shape[1]
        masses, last = np.full(many, 1.0 / many), -math.inf
        for _ in range(_MOST_ROUNDS):
            seen = self.cover @ masses
            found = float(self.weights @ np.log(seen))
            if found - last < _NEAR:
                break
            last = found
            masses = masses * (self.cover.T @ (self.weights / seen)) / self.weights.sum()
        return found, masses

    def can_be(self, left: int, share: float, least: float, begin: Any) -> bool:
        """Whether, with a share beyond the first `left` cells, the looks can be so likely.

        Steps towards the likeliest such masses, until they are likely enough or it is sure that
        none can be: the likelihood is concave, so its slopes bound what is still to be gained.
        """
        import numpy as np

        many = self.cover.shape[1]
        halves = [(slice(0, left), 1.0 - share), (slice(left, many), share)]
        # Cells the best leaves empty may be needed where a share is given.
        masses = begin + 1e-3 / many
        for half, total in halves:
            masses[half] *= total / masses[half].sum()
        for _ in range(_MOST_STEPS):
            seen = self.cover @ masses
            if not seen.all():
                return False
            found = float(self.weights @ np.log(seen))
            if found >= least:
                return True
            slopes = self.cover.T @ (self.weights / seen)
            most = sum(total * float(slopes[half].max()) for half, total in halves)
            if found + most - float(self.weights.sum()) < least:
                return False
            for half, total in halves:
                expected = masses[half] * slopes[half]
                if expected.sum() > 0.0:
                    masses[half] = total * expected / expected.sum()
        # So near the edge of the band that either answer moves it by nothing that can be seen.
        return True


def _turnbull(lives: Sequence[Life], confidence: float, at_hours: Sequence[float]) -> list[Place]:
    from scipy import stats

    looks = _Looks(_coarsened(lives))
    best, masses = looks.likeliest()
    least = best - float(stats.chi2.ppf(confidence, 1)) / 2.0
    ends = looks.ends
    many = len(ends)
    step = max(1, math.ceil(many / _MOST_PLACES))
    wanted = {*range(step, many, step), many}
    if at_hours:
        wanted = {bisect_right(ends, hours) for hours in at_hours} - {0}
    places = [Place(0.0, 1.0, 1.0, 1.0)]
    for left in sorted(wanted):
        if left < many and ends[left - 1] == math.nextafter(ends[left], 0.0):
            continue
        share = min(1.0, max(0.0, float(masses[left:].sum())))
        low, high = (
            _end_of_band(looks, left, share, towards, least, masses) for towards in (0.0, 1.0)
        )
        places.append(Place(ends[left - 1], share, low, high))
    return places


def _coarsened(lives: Sequence[Life]) -> list[Life]:
    """Return the lives, where looks lie at many hours each widened to a grid, which is as true."""
    hours = {each for life in lives for each in (life.after_hours, life.by_hours) if each}
    if len(hours) <= _MOST_ENDS:
        return list(lives)
    step = max(hours) / _MOST_ENDS

    def widened(life: Life) -> Life:
        by = None if life.by_hours is None else math.ceil(life.by_hours / step) * step
        return Life(math.floor(life.after_hours / step) * step, by)

    return [widened(life) for life in lives]


def _end_of_band(
    looks: _Looks, left: int, share: float, towards: float, least: float, masses: Any
) -> float:
    """Return the share farthest towards 0 or 1 under which the looks are likely enough."""
    if looks.can_be(left, towards, least, masses):
        return towards
    inside, outside = share, towards
    for _ in range(_HALVINGS):
        middle = (inside + outside) / 2.0
        if looks.can_be(left, middle, least, masses):
            inside = middle
        else:
            outside = middle
    return outside


def fit_weibull(lives: Sequence[Life]) -> Weibull | None:
    """Return the Weibull law under which the lives are likeliest; None where there is no one.

    Its covariance is the inverse of the curvature of the likelihood at its maximum.
    """
    import numpy as np
    from scipy import optimize

    known = [life for life in lives if life.has_failed or life.after_hours > 0.0]
    exact = np.array([life.after_hours for life in known if life.has_failed and life.is_exact])
    between = [life for life in known if not life.is_exact]
    after = np.array([life.after_hours for life in between])
    by = np.array([life.by_hours for life in between], dtype=float)
    sound = np.array([life.after_hours for life in known if not life.has_failed])
    if not any(life.has_failed for life in known):
        return None
    middle = float(np.mean([life.by_hours or life.after_hours for life in known]))

    def against(logs: Any) -> float:
        scale, shape = middle * math.exp(logs[0]), math.exp(logs[1])
        with _silent():
            hazard_by, hazard_after = (by / scale) ** shape, (after / scale) ** shape
            # log(exp(-a) - exp(-b)), with no loss where the two are near.
            likely = -hazard_after + np.log(-np.expm1(hazard_after - hazard_by))
            density = math.log(shape / scale) + (shape - 1.0) * np.log(exact / scale)
            total = likely.sum() + density.sum()
            total -= ((exact / scale) ** shape).sum() + ((sound / scale) ** shape).sum()
        return -float(total) if math.isfinite(total) else 1e12

    def within(logs: Any) -> float:
        far = max(0.0, *(abs(float(each)) - 12.0 for each in logs))
        return against(np.clip(logs, -12.0, 12.0)) + 1e3 * far

    found = optimize.minimize(
        within,
        [0.0, 0.2],
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 2000},
    )
    logs, step = found.x, 1e-4
    shape = math.exp(min(logs[1], 12.0))
    if not found.success or abs(logs[0]) > 11.0 or not _SHAPES[0] < shape < _SHAPES[1]:
        return None
    curvature = np.empty((2, 2))
    moves = np.eye(2) * step
    for one in range(2):
        for two in range(2):
            corners = [
                sign * against(logs + side * moves[one] + other * moves[two])
                for side, other, sign in ((1, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1))
            ]
            curvature[one, two] = sum(corners) / (4.0 * step * step)
    if curvature[0, 0] <= 0.0 or np.linalg.det(curvature) <= 0.0:
        return None
    (scale, both), (_, own) = np.linalg.inv(curvature)
    return Weibull(
        scale_hours=middle * math.exp(logs[0]),
        shape=shape,
        log_likelihood=-float(found.fun),
        covariance=((float(scale), float(both)), (float(both), float(own))),
    )


def compare_lots(lots: Mapping[str, Sequence[Life]]) -> Comparison | None:
    """Return whether lots last alike, by the log-rank test; None where that can't be told.

    Of two lots whose failures are known to the hour, the log-rank test as scipy.stats.logrank has
    it. Else its form for failures between looks: each pad's score under the Turnbull curve of all
    lots together (Finkelstein 1986), the sums of lots held to how they would scatter were the
    pads dealt to the lots by chance (Fay 1999). That form supposes that the lots were looked at
    alike often.
    """
    import numpy as np
    from scipy import stats

    groups = [list(lives) for lives in lots.values() if lives]
    everyone = [life for lives in groups for life in lives]
    if len(groups) < 2 or not any(life.has_failed for life in everyone):
        return None
    if len(groups) == 2 and all(life.is_exact for life in everyone):
        given = [
            stats.CensoredData(
                uncensored=[life.after_hours for life in lives if life.has_failed],
                right=[life.after_hours for life in lives if not life.has_failed],
            )
            for lives in groups
        ]
        test = stats.logrank(*given)
        return Comparison(float(test.statistic) ** 2, 1, float(test.pvalue))
    scores = _scores(everyone)
    spread = float(np.var(scores, ddof=1))
    if spread <= 0.0:
        return None
    chi_squared, place = 0.0, 0
    for lives in groups:
        own = scores[place : place + len(lives)]
        place += len(lives)
        chi_squared += len(lives) * float(own.mean() - scores.mean()) ** 2 / spread
    degrees = len(groups) - 1
    return Comparison(chi_squared, degrees, float(stats.chi2.sf(chi_squared, degrees)))


def _scores(lives: Sequence[Life]) -> Any:
    """Return of each life how much sooner it failed than most, by the curve of all together."""
    import numpy as np

    looks = _Looks(lives)
    _, masses = looks.likeliest()
    ends = [0.0, *looks.ends, math.inf]
    beyond = np.append(masses[::-1].cumsum()[::-1], 0.0)
    share = dict(zip(ends, np.clip(beyond, 0.0, 1.0), strict=True))

    def weighed(value: float) -> float:
        return value * math.log(value) if value > 0.0 else 0.0

    def score(life: Life) -> float:
        by = math.inf if life.by_hours is None else life.by_hours
        after = math.nextafter(by, 0.0) if by == life.after_hours else life.after_hours
        first, last = float(share[after]), float(share[by])
        if first - last <= 0.0:
            return 0.0
        return (weighed(first) - weighed(last)) / (first - last)

    return np.array([score(life) for life in lives])


def _two_sided_z(confidence: float) -> float:
    from statistics import NormalDist

    share = number("confidence", confidence)
    if not 0.0 < share < 1.0:
        raise ValueError(f"confidence is {share:g}: give more than 0 and less than 1")
    return NormalDist().inv_cdf(0.5 + share / 2.0)


def _silent() -> Any:
    """Keep numpy quiet over logarithms of nothing, which are looked at by whoever calls."""
    import numpy as np

    return np.errstate(divide="ignore", invalid="ignore", over="ignore")
