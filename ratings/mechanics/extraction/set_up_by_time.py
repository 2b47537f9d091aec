"""A set-up suggested from the days since driving: how friction grows while a pile stands.

Q(t) = Q₀·(1 + A·log₁₀(t/t₀)): Skov and Denver 1988, with A = 0.2 and t₀ = 0.5 day in sand,
A = 0.6 and t₀ = 1 day in clay. From memory, and so are the ranges of A found since (sand 0.1 to
0.5, clay 0.1 to 1.0); no copy of the paper could be read.

The methods of static friction already give that of a pile which has stood a while: their tests in
sand were made some 10 days after driving, in clay some 100 (Jardine and others 2005; Augustesen
and others 2006; from memory). The set-up here is the growth from then on, and less than 1 before.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ratings.mechanics.arguments import not_negative
from ratings.mechanics.extraction.job import SetUp
from ratings.mechanics.soil import Layer, LayerKind, slices

SOURCE = "Skov and Denver 1988, from memory"
MOST_DAYS = 73_000.0


@dataclass(frozen=True)
class Growth:
    """How friction grows in a kind of ground: A low, expected and high, and two days.

    first_days: t₀, from which it grows. tested_days: when the method's static friction is reached.
    """

    low: float
    expected: float
    high: float
    first_days: float
    tested_days: float

    def factor(self, growth: float, days: float) -> float:
        """Return the friction at an age over that of the static method, for one A."""
        return self._grown(growth, days) / self._grown(growth, self.tested_days)

    def _grown(self, growth: float, days: float) -> float:
        return 1.0 + growth * math.log10(max(days, self.first_days) / self.first_days)


GROWTHS = {
    LayerKind.GRANULAR: Growth(0.1, 0.2, 0.5, 0.5, 10.0),
    LayerKind.COHESIVE: Growth(0.1, 0.6, 1.0, 1.0, 100.0),
}


@dataclass(frozen=True)
class SetUpHelp:
    """A set-up that may be taken, how it comes about in words, and where it is from."""

    set_up: SetUp
    sentence: str
    source: str = SOURCE


def growth_factors(kind: LayerKind, days: float) -> tuple[float, float, float]:
    """Return low, expected and high growth of friction in a kind of ground after some days.

    1 for ground no value was published for. Expected is never below 1: a young pile is not
    promised to come more easily. Raises ValueError for days that can't be.
    """
    age = _days(days)
    growth = GROWTHS.get(kind)
    if growth is None:
        return 1.0, 1.0, 1.0
    found = [growth.factor(each, age) for each in (growth.low, growth.expected, growth.high)]
    return min(found), max(1.0, found[1]), max(1.0, *found)


def suggested_set_up(
    layers: Sequence[Layer], water_depth_ft: float | None, embedment_ft: float, days: float
) -> SetUpHelp:
    """Return the set-up that the days since driving suggest, each layer by its share of friction.

    Raises ValueError for days that can't be, LayerFault for layers that won't do.
    """
    age = _days(days)
    held = dict.fromkeys(LayerKind, 0.0)
    for piece in slices(layers, water_depth_ft, embedment_ft):
        held[layers[piece.layer].kind] += piece.friction_psf * piece.thickness_ft
    whole = math.fsum(held.values())
    factors = {kind: growth_factors(kind, age) for kind in held}
    shares = {kind: each / whole if whole else 0.0 for kind, each in held.items()}
    low, expected, high = (
        math.fsum(shares[kind] * factors[kind][end] for kind in held) if whole else 1.0
        for end in range(3)
    )
    parts = [
        f"{shares[kind] * 100.0:.0f} % of the friction in {kind} ground: "
        f"{factors[kind][1]:.2f} ({factors[kind][0]:.2f} to {factors[kind][2]:.2f})"
        for kind in (LayerKind.COHESIVE, LayerKind.GRANULAR)
        if shares[kind]
    ]
    if shares[LayerKind.OTHER]:
        parts.append(
            f"{shares[LayerKind.OTHER] * 100.0:.0f} % in other ground, for which no growth is "
            "published"
        )
    told = "; ".join(parts) or "no friction to grow"
    return SetUpHelp(
        SetUp(low, max(low, expected), max(low, expected, high)),
        f"After {age:,.0f} days, beside what the static methods give: {told}.",
    )


def _days(days: float) -> float:
    age = not_negative("days_since_driving", days, "days")
    if age > MOST_DAYS:
        raise ValueError(
            f"days_since_driving is {age:g}: give {MOST_DAYS:g} or less, or the set-up itself"
        )
    return age
