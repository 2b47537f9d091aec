"""Mean forces of several tests, brought to rise with stretch where scatter lets them fall."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ratings.mechanics.readingpairs import reading_pairs


def rising_means(
    stretch_in: Sequence[float], force_lbf: Sequence[float]
) -> tuple[list[float], list[float]]:
    """Return each stretch once with its mean force, none below the one before.

    Least squares under that order, by pooling neighbours that violate it (isotonic regression),
    each mean weighing as many readings as it holds. Readings of different tests need it: the
    pads of one may be softer than those of another. Raises ValueError as reading_pairs does.
    """
    groups: dict[float, list[float]] = {}
    for stretch, force in sorted(zip(*reading_pairs(stretch_in, force_lbf), strict=True)):
        groups.setdefault(stretch, []).append(force)
    blocks: list[tuple[float, int, int]] = []  # mean force, readings, stretches
    for forces in groups.values():
        blocks.append((math.fsum(forces) / len(forces), len(forces), 1))
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            blocks.append(_merged(blocks.pop(-2), blocks.pop()))
    rising = [mean for mean, _, stretches in blocks for _ in range(stretches)]
    return list(groups), rising


def _merged(left: tuple[float, int, int], right: tuple[float, int, int]) -> tuple[float, int, int]:
    readings = left[1] + right[1]
    mean = math.fsum((left[0] * left[1], right[0] * right[1])) / readings
    return mean, readings, left[2] + right[2]
