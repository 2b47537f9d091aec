"""Checks of arguments: a wrong one is refused with its name, its value and what would do."""

from __future__ import annotations

import math
from collections.abc import Sequence
from numbers import Real

# Far beyond anything in this trade, and small enough that no square or product overflows.
LARGEST = 1e9


def set_checked(frozen: object, **values: object) -> None:
    """Set fields of a frozen dataclass to their checked values while it is being made."""
    # As floats they all calculate alike; a narrower numpy float would drop digits.
    for name, value in values.items():
        object.__setattr__(frozen, name, value)


def number(name: str, value: object) -> float:
    """Return a finite number of sane size as a float. Raises ValueError for anything else."""
    # Nearly all are plain floats, and an abstract class is slow to ask.
    if type(value) is not float and (isinstance(value, bool) or not isinstance(value, Real)):
        raise ValueError(f"{name} is {value!r}: give a number")
    try:
        result = float(value)
    except OverflowError:
        raise ValueError(f"{name} is {value}: give a number below 1,000,000,000") from None
    if not math.isfinite(result):
        raise ValueError(f"{name} is {result}: give a finite number")
    if abs(result) >= LARGEST:
        raise ValueError(f"{name} is {result:g}: give a number below 1,000,000,000")
    return result


def not_negative(name: str, value: object, symbol: str) -> float:
    """Return a number of 0 or more. Raises ValueError for anything else."""
    result = number(name, value)
    if result < 0:
        raise ValueError(f"{name} is {result:g}: give 0 {symbol} or more")
    return result


def positive(name: str, value: object, symbol: str) -> float:
    """Return a number above 0. Raises ValueError for anything else."""
    result = number(name, value)
    if result <= 0:
        raise ValueError(f"{name} is {result:g}: give more than 0 {symbol}")
    return result


def count(name: str, value: object, least: int) -> int:
    """Return a whole number of at least `least`. Raises ValueError for anything else."""
    result = number(name, value)
    if result != int(result) or result < least:
        raise ValueError(f"{name} is {result:g}: give a whole number, {least} or more")
    return int(result)


def series(name: str, values: Sequence[object], symbol: str) -> list[float]:
    """Return numbers of 0 or more, naming the first that isn't by its place from 1."""
    return [
        not_negative(f"{name} reading {place}", value, symbol)
        for place, value in enumerate(values, start=1)
    ]


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
