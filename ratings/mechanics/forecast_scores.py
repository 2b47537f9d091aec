"""How good forecasts were: their chances held to what came."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import TypeVar

from ratings.mechanics.arguments import not_negative, set_checked

T = TypeVar("T")

CONFIDENCE = 0.9
_DRAWS = 1_000
# Bins of chances, by where each ends.
EDGES = (0.05, 0.2, 0.4, 0.6, 0.8, 1.0)


@dataclass(frozen=True)
class Scored:
    """A chance that was forecast, and whether it came. unit: whose, since its months hang together.

    Raises ValueError for a chance not from 0 to 1.
    """

    chance: float
    came: bool
    unit: str

    def __post_init__(self) -> None:
        chance = not_negative("chance", self.chance, "")
        if chance > 1.0:
            raise ValueError(f"chance is {chance:g}: give no more than 1")
        set_checked(self, chance=chance)


@dataclass(frozen=True)
class Counted:
    """Pads a forecast expected to fail, and how many were found to. unit: whose."""

    expected: float
    found: int
    unit: str


@dataclass(frozen=True)
class Score:
    """A score with the ends of its band; None where it has none: all of one unit, or no end."""

    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Bin:
    """Forecasts of about one chance. came: of how many of them it did; low, high: its band."""

    many: int
    predicted: float
    came: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """The share of them in which it came."""
        return self.came / self.many


def brier(scored: Sequence[Scored]) -> float:
    """Return the mean square of what chances missed by: 0 is perfect, 0.25 says nothing.

    Brier (1950), Monthly Weather Review 78, 1, in the form for one event that comes or not.
    Raises ValueError for no forecast.
    """
    if not scored:
        raise ValueError("scored is empty: give at least one forecast")
    return math.fsum((each.chance - each.came) ** 2 for each in scored) / len(scored)


def brier_score(scored: Sequence[Scored]) -> Score:
    """Return the Brier score with its band, by drawing whole units again (a bootstrap)."""
    units: dict[str, list[Scored]] = {}
    for each in scored:
        units.setdefault(each.unit, []).append(each)
    low, high = _band(units, lambda drawn: brier([one for unit in drawn for one in unit]))
    return Score(brier(scored), low, high)


def pads_ratio(counted: Sequence[Counted]) -> Score | None:
    """Return pads found failed against those expected, with its band; None where none were."""
    units: dict[str, list[Counted]] = {}
    for each in counted:
        units.setdefault(each.unit, []).append(each)

    def ratio(drawn: Sequence[Sequence[Counted]]) -> float:
        listed = [one for unit in drawn for one in unit]
        expected = math.fsum(one.expected for one in listed)
        return sum(one.found for one in listed) / expected if expected > 0.0 else math.inf

    value = ratio(list(units.values()))
    if math.isinf(value):
        return None
    low, high = _band(units, ratio)
    if low is None or high is None or not (math.isfinite(low) and math.isfinite(high)):
        return Score(value, None, None)
    return Score(value, low, high)


def without_skill(scored: Sequence[Scored]) -> float:
    """Return the Brier score of one who says for each the share in which it came, as it turned out.

    Better than anybody could have known beforehand without looking at the units.
    """
    share = sum(each.came for each in scored) / len(scored)
    return share * (1.0 - share)


def calibration(scored: Sequence[Scored]) -> tuple[Bin, ...]:
    """Return, of forecasts of about one chance each, how often it came, with Wilson's band.

    Wilson (1927), Journal of the American Statistical Association 22, 209. It takes forecasts as
    independent; months of one unit are not, so that it is rather too narrow.
    """
    found = []
    begin = -1.0
    for end in EDGES:
        mine = [each for each in scored if begin < each.chance <= end]
        begin = end
        if mine:
            came = sum(each.came for each in mine)
            low, high = wilson(came, len(mine))
            predicted = math.fsum(each.chance for each in mine) / len(mine)
            found.append(Bin(len(mine), predicted, came, low, high))
    return tuple(found)


def wilson(came: int, many: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Return the band of a share that came so often among so many (Wilson 1927)."""
    if not 0 <= came <= many or many == 0:
        raise ValueError(f"came is {came} of {many}: give from 0 to all of at least one")
    z = NormalDist().inv_cdf(0.5 + confidence / 2.0)
    share = came / many
    middle = share + z * z / (2.0 * many)
    reach = z * math.sqrt(share * (1.0 - share) / many + z * z / (4.0 * many * many))
    scale = 1.0 + z * z / many
    return max(0.0, (middle - reach) / scale), min(1.0, (middle + reach) / scale)


def _band(
    units: dict[str, list[T]], score: Callable[[Sequence[Sequence[T]]], float]
) -> tuple[float | None, float | None]:
    """Return the band of a score by drawing as many units again and again, always the same way."""
    if len(units) < 2:
        return None, None
    rng = random.Random("units drawn again")
    listed = [units[name] for name in sorted(units)]
    values = sorted(score(rng.choices(listed, k=len(listed))) for _ in range(_DRAWS))
    tail = (1.0 - CONFIDENCE) / 2.0
    return values[round(tail * _DRAWS)], values[round((1.0 - tail) * _DRAWS) - 1]
