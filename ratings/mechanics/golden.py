"""Where a function with one peak is largest, by plain numbers alike on every machine."""

from __future__ import annotations

import math
from collections.abc import Callable

# Of what is left of where the peak may lie each step leaves 62 %; of an inch, 28 leave a millionth.
_GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
_STEPS = 28


def peak(function: Callable[[float], float], low: float, high: float) -> float:
    """Return where between two numbers a function with one peak there is largest.

    By so many steps of the golden section (Kiefer 1953, from memory).
    """
    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_left, at_right = function(left), function(right)
    for _ in range(_STEPS):
        if at_left >= at_right:
            high, right, at_right = right, left, at_left
            left = high - _GOLDEN * (high - low)
            at_left = function(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + _GOLDEN * (high - low)
            at_right = function(right)
    return (low + high) / 2.0
