"""How figures are written for people: never more digits than the uncertainty deserves."""

from __future__ import annotations

import math
from collections.abc import Callable

from fleet.quantities import Quantity, plain_number

LBF_PER_US_TON = 2000.0
UNKNOWN = "not known"


def pull_words(pull_lbf: float | None, system: str, uncertainty_lbf: float | None = None) -> str:
    """Return a line pull as read aloud: "12.4 tons (24,800 lbf)", or "110.3 kN" in SI."""
    if pull_lbf is None:
        return UNKNOWN
    return _words(pull_lbf, system, _step_lbf(uncertainty_lbf), round)


def capacity_words(
    capacity_lbf: float | None, system: str, uncertainty_lbf: float | None = None
) -> str:
    """Return a working capacity in words, rounded down: it's what the yard stands behind."""
    if capacity_lbf is None:
        return UNKNOWN
    return _words(capacity_lbf, system, _step_lbf(uncertainty_lbf), math.floor)


def force_words(force_lbf: float | None, system: str) -> str:
    """Return a force to the last whole lbf, for arithmetic that is to be followed by hand."""
    return UNKNOWN if force_lbf is None else Quantity.FORCE.words(force_lbf, system)


def share_words(share: float | None) -> str:
    """Return a share as a percentage, rounded down: 99.9 % is not yet the whole."""
    return "–" if share is None else f"{math.floor(share * 100)} %"


def _words(force_lbf: float, system: str, step_lbf: float, whole: Callable[[float], int]) -> str:
    if system == "si":
        kilonewtons = Quantity.FORCE.shown(force_lbf, "si")
        return f"{plain_number(_stepped(kilonewtons, 0.1, whole), 1)} kN"
    tons = _stepped(force_lbf / LBF_PER_US_TON, 0.1, whole)
    return f"{tons:,.1f} tons ({plain_number(_stepped(force_lbf, step_lbf, whole), 0)} lbf)"


def _stepped(value: float, step: float, whole: Callable[[float], int]) -> float:
    # A hair above the quotient, so that 12.3 / 0.1 = 122.99… is not floored to 12.2.
    return whole(value / step + 1e-9) * step


def _step_lbf(uncertainty_lbf: float | None) -> float:
    """The place of the uncertainty's second digit, 1 lbf at the least."""
    if not uncertainty_lbf or uncertainty_lbf < 1:
        return 1.0
    return max(1.0, 10.0 ** (math.floor(math.log10(uncertainty_lbf)) - 1))
