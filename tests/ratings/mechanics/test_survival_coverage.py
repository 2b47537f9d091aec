"""Whether the bands of pads' lives hold what they promise: simulated pads of a known life.

`python -m tests.ratings.mechanics.test_survival_coverage 2000` prints the table.
"""

from __future__ import annotations

import math
import random
import sys
from collections import Counter
from collections.abc import Sequence

import pytest
from scipy.stats import binom

from ratings.mechanics.survival import Life, compare_lots, fit_weibull, survival_curve

SCALE_HOURS, SHAPE = 400.0, 2.0
LOOKS_APART_HOURS = (40.0, 60.0, 80.0)
CONFIDENCE = 0.95
LOTS = 200
SEED = 1976
AT_HOURS = (200.0, 340.0)


def share_after(hours: float) -> float:
    return math.exp(-((hours / SCALE_HOURS) ** SHAPE))


def simulated_lives(pads: int, chance: random.Random) -> list[Life]:
    """Pads of a Weibull life in units looked at about every 60 h, each unit for its own time."""
    lives: list[Life] = []
    while len(lives) < pads:
        looks, until = [0.0], chance.uniform(150.0, 600.0)
        while looks[-1] < until:
            looks.append(looks[-1] + chance.choice(LOOKS_APART_HOURS))
        for _ in range(min(8, pads - len(lives))):
            life_hours = SCALE_HOURS * chance.expovariate(1.0) ** (1.0 / SHAPE)
            by = next((look for look in looks if look >= life_hours), None)
            after = max(look for look in looks if look < life_hours)
            lives.append(Life(after, by))
    return lives


def covered(lots: int, pads: int) -> dict[str, float]:
    """The share of simulated lots whose bands hold the truth, by what the band is of."""
    chance = random.Random(SEED)
    hits, tried = Counter[str](), Counter[str]()
    for _ in range(lots):
        lives = simulated_lives(pads, chance)
        for place in survival_curve(lives, at_hours=AT_HOURS).places[1:]:
            hits["shares"] += place.low <= share_after(place.hours) <= place.high
            tried["shares"] += 1
        law = fit_weibull(lives)
        for name, share in (("10 % life", 0.1), ("half life", 0.5)):
            low, high = law.life_band(share) if law else (0.0, math.inf)
            true_hours = SCALE_HOURS * (-math.log1p(-share)) ** (1.0 / SHAPE)
            hits[name] += low <= true_hours <= high
            tried[name] += 1
    return {name: hits[name] / many for name, many in tried.items()}


def test_the_bands_hold_the_true_life_as_often_as_they_say() -> None:
    # Low by no more than chance makes it once in a thousand, with 2 % for how the bands are
    # reckoned, which are exact for many pads only.
    least = binom.ppf(0.001, LOTS, CONFIDENCE - 0.02) / LOTS
    found = covered(LOTS, pads=32)
    assert all(share >= least for share in found.values()), found


def test_the_band_is_no_wider_than_it_need_be() -> None:
    chance = random.Random(SEED)
    widths = []
    for _ in range(20):
        place = survival_curve(simulated_lives(32, chance), at_hours=(340.0,)).places[-1]
        widths.append(place.high - place.low)
    # Of 32 pads all seen to the hour a 95 % band of one share near a half is 0.35 wide.
    assert 0.25 < sum(widths) / len(widths) < 0.55


@pytest.mark.parametrize("lots", [2, 3])
def test_lots_that_last_alike_are_called_different_as_seldom_as_said(lots: int) -> None:
    chance = random.Random(SEED)
    called = sum(_p_value(chance, lots, 24) < 0.05 for _ in range(LOTS))
    assert called <= binom.ppf(0.999, LOTS, 0.05)
    assert called >= 1


def _p_value(chance: random.Random, lots: int, pads: int) -> float:
    alike: dict[str, Sequence[Life]] = {
        str(lot): simulated_lives(pads, chance) for lot in range(lots)
    }
    comparison = compare_lots(alike)
    assert comparison is not None
    return comparison.p_value


if __name__ == "__main__":
    many = int(sys.argv[1]) if len(sys.argv) > 1 else LOTS
    for pads in (16, 32, 96):
        for name, share in covered(many, pads).items():
            print(f"{pads:4d} pads  {name:16s} {100 * share:6.2f} % of {many} lots")
