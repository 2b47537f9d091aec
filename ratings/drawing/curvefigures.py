"""What a demand curve shows, where it comes within the supply, and all of it in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from ratings.drawing.scales import depth_scale, floored, force_scale

# Where they stand in a point of the curve.
_EXPECTED, _GREATEST = 2, 3


@dataclass(frozen=True)
class DemandFigures:
    """Points of (embedment left ft, low, expected, high lbf), from full to none; the supply."""

    points: tuple[tuple[float, float, float, float], ...]
    supply_lbf: float | None
    units: str = "us"


@dataclass(frozen=True)
class Crossing:
    """Where a demand comes within the supply as the pile comes out."""

    embedment_ft: float
    is_expected: bool
    units: str

    @property
    def words(self) -> str:
        # Rounded down: with more left in the ground it is not enough.
        scale = depth_scale(self.units)
        left = floored(scale.shown(self.embedment_ft), scale.decimals)
        return f"{'expected' if self.is_expected else 'at worst'} from {left} {scale.symbol}"


def crossings(figures: DemandFigures) -> list[Crossing]:
    """Return where the expected demand, and the greatest, come within the supply."""
    if figures.supply_lbf is None:
        return []
    found = []
    for place in _EXPECTED, _GREATEST:
        points = [(each[0], each[place]) for each in figures.points]
        at_ft = crossing_ft(points, figures.supply_lbf)
        if at_ft is not None:
            found.append(Crossing(at_ft, place == _EXPECTED, figures.units))
    return found


def crossing_ft(points: Sequence[tuple[float, float]], supply_lbf: float) -> float | None:
    """Return the embedment below which a demand stays within a supply, ft.

    points: (embedment, demand), the embedment falling. None where the demand is within the supply
    all along, or is still beyond it at the end.
    """
    if points[-1][1] > supply_lbf:
        return None
    for after, before in pairwise(reversed(points)):
        if before[1] > supply_lbf:
            share = (supply_lbf - after[1]) / (before[1] - after[1])
            return after[0] + share * (before[0] - after[0])
    return None


def curve_words(figures: DemandFigures) -> str:
    """Return the curve in words, for those who don't see it."""
    force, depth = force_scale(figures.units), depth_scale(figures.units)
    full_ft, low, expected, high = figures.points[0]
    words = (
        f"With {depth.words(full_ft)} in the ground the pads must carry {force.words(expected)}, "
        f"{force.words(low)} to {force.words(high)} over its range; with none left "
        f"{force.words(figures.points[-1][2])}."
    )
    if figures.supply_lbf is None:
        return f"{words} What the pads are good for is not known."
    good = f"The pads are good for {force.words(figures.supply_lbf)}"
    from_where = [each.words for each in crossings(figures)]
    enough = f", enough {' and '.join(from_where)}" if from_where else ""
    return f"{words} {good}{enough}."
