"""Checks of arguments: a wrong one is refused with its name, its value and what would do."""

from __future__ import annotations

import math
from collections.abc import Sequence
from numbers import Real

# Far beyond anything in this trade, and small enough that no square or product overflows.
LARGEST = 1e9


def settle(frozen: object, **values: object) -> None:
    """Set fields of a frozen dataclass to their checked values while it is being made."""
    # As floats they are reckoned with alike; a narrower numpy float would drop digits.
    for name, value in values.items():
        object.__setattr__(frozen, name, value)


def number(name: str, value: object) -> float:
    """Return a finite number of sane size as a float. Raises ValueError for anything else."""
    if isinstance(value, bool) or not isinstance(value, Real):
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


def not_negative(name: str, value: object, unit: str) -> float:
    """Return a number of 0 or more. Raises ValueError for anything else."""
    result = number(name, value)
    if result < 0:
        raise ValueError(f"{name} is {result:g}: give 0 {unit} or more")
    return result


def positive(name: str, value: object, unit: str) -> float:
    """Return a number above 0. Raises ValueError for anything else."""
    result = number(name, value)
    if result <= 0:
        raise ValueError(f"{name} is {result:g}: give more than 0 {unit}")
    return result


def count(name: str, value: object, least: int) -> int:
    """Return a whole number of at least `least`. Raises ValueError for anything else."""
    result = number(name, value)
    if result != int(result) or result < least:
        raise ValueError(f"{name} is {result:g}: give a whole number, {least} or more")
    return int(result)


def series(name: str, values: Sequence[object], unit: str) -> list[float]:
    """Return numbers of 0 or more, naming the first that isn't by its place from 1."""
    return [
        not_negative(f"{name} reading {place}", value, unit)
        for place, value in enumerate(values, start=1)
    ]
