"""Where an axis has its ticks: steps of 1, 2 or 5 times a power of ten."""

from __future__ import annotations

import math

from ratings.drawing.scales import fixed

# Quotients of floats miss whole numbers by a hair.
_HAIR = 1e-9


def nice_step(span: float, most: int) -> float:
    """Return the smallest step of 1, 2 or 5 ×10ⁿ that parts the span into at most so many."""
    if span <= 0 or most < 1:
        return 1.0
    rough = span / most
    exponent = math.floor(math.log10(rough))
    for exact in (_power(lead, exponent + up) for up in (0, 1) for lead in (1, 2, 5)):
        if exact >= rough * (1 - _HAIR):
            return exact
    raise AssertionError("a decade holds every rough step")


def half_step(step: float) -> float:
    """Return the step of the shorter ticks."""
    return step / 2


def step_up(value: float, step: float) -> float:
    """Return the first multiple of the step at or above the value."""
    return _multiple(math.ceil(value / step - _HAIR), step)


def step_down(value: float, step: float) -> float:
    """Return the last multiple of the step at or below the value."""
    return _multiple(math.floor(value / step + _HAIR), step)


def ticks(low: float, high: float, step: float) -> tuple[float, ...]:
    """Return every multiple of the step from low to high, both ends counted."""
    first, last = math.ceil(low / step - _HAIR), math.floor(high / step + _HAIR)
    return tuple(_multiple(index, step) for index in range(first, last + 1))


def tick_label(value: float, step: float) -> str:
    """Return a tick's figure with as many decimals as its step has."""
    return fixed(value, decimals_of(step))


def decimals_of(step: float) -> int:
    """Return how many decimals a multiple of the step needs."""
    return max(0, -math.floor(math.log10(step) + _HAIR))


def _power(lead: int, exponent: int) -> float:
    return float(f"{lead}e{exponent}")


def _multiple(index: int, step: float) -> float:
    return round(index * step, decimals_of(step) + 2)
