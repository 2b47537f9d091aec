"""Stretch and force of the same readings, given as two lists."""

from __future__ import annotations

from collections.abc import Sequence

from ratings.mechanics.arguments import series


def reading_pairs(
    stretch_in: Sequence[float], force_lbf: Sequence[float]
) -> tuple[list[float], list[float]]:
    """Return stretches (in) and forces (lbf) as floats of 0 or more.

    Raises ValueError for what is no list, for unequal lengths, and for a reading that is
    negative or no finite number of sane size, named by its place from 1.
    """
    stretches, forces = _listed("stretch_in", stretch_in), _listed("force_lbf", force_lbf)
    if len(stretches) != len(forces):
        raise ValueError(
            f"stretch_in has {len(stretches)} readings and force_lbf {len(forces)}: "
            "give as many of one as of the other"
        )
    return series("stretch_in", stretches, "in"), series("force_lbf", forces, "lbf")


def _listed(name: str, values: Sequence[float]) -> list[float]:
    try:
        if isinstance(values, str | bytes):
            raise TypeError
        return list(values)
    except TypeError:
        raise ValueError(f"{name} is {values!r}: give a list of numbers") from None
