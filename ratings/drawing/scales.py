"""From the units facts are stored in to those a label shows, by exact factors."""

from __future__ import annotations

import math
from dataclasses import dataclass

MM_PER_IN = 25.4
N_PER_LBF = 4.4482216152605
LBF_PER_US_TON = 2000.0


@dataclass(frozen=True)
class Scale:
    """How a stored quantity is shown: times a factor, with a symbol, to so many decimals."""

    factor: float
    symbol: str
    decimals: int

    def shown(self, stored: float) -> float:
        """Return a stored value in the unit shown."""
        return stored * self.factor

    def words(self, stored: float) -> str:
        """Return a stored value with its unit, trailing zeros left out."""
        return f"{plain(self.shown(stored), self.decimals)} {self.symbol}"


_PULL = {"us": Scale(1 / LBF_PER_US_TON, "tons", 1), "si": Scale(N_PER_LBF / 1000, "kN", 1)}
_PAD_FORCE = {"us": Scale(1.0, "lbf", 0), "si": Scale(N_PER_LBF / 1000, "kN", 2)}
_FORCE = {"us": Scale(1.0, "lbf", 0), "si": Scale(N_PER_LBF / 1000, "kN", 1)}
_DEPTH = {"us": Scale(1.0, "ft", 1), "si": Scale(0.3048, "m", 1)}
_STRETCH = {"us": Scale(1.0, "in", 2), "si": Scale(MM_PER_IN, "mm", 0)}
_RATE = {"us": Scale(1.0, "lbf/in", 0), "si": Scale(N_PER_LBF / MM_PER_IN, "N/mm", 1)}


def pull_scale(units: str) -> Scale:
    """Return the scale of a line pull: US tons, or kN."""
    return _PULL[units]


def pad_force_scale(units: str) -> Scale:
    """Return the scale of the force of one pad: lbf, or kN."""
    return _PAD_FORCE[units]


def force_scale(units: str) -> Scale:
    """Return the scale of a force or weight of a load path: lbf, or kN."""
    return _FORCE[units]


def depth_scale(units: str) -> Scale:
    """Return the scale of a depth: ft, or m."""
    return _DEPTH[units]


def stretch_scale(units: str) -> Scale:
    """Return the scale of a stretch: in, or mm."""
    return _STRETCH[units]


def rate_scale(units: str) -> Scale:
    """Return the scale of a spring rate: lbf/in, or N/mm."""
    return _RATE[units]


def fixed(value: float, decimals: int) -> str:
    """Return a figure to so many decimals, never as minus nothing."""
    written = f"{value:,.{decimals}f}"
    return written.removeprefix("-") if not written.strip("-0.,") else written


def floored(value: float, decimals: int) -> str:
    """Return a figure rounded down: what the yard stands behind is never rounded up."""
    places = 10.0**decimals
    # A hair above, so that 12.3 held as 12.29999… is not floored to 12.2.
    return fixed(math.floor(value * places + 1e-9) / places, decimals)


def plain(value: float, decimals: int) -> str:
    """Return a figure to at most so many decimals, trailing zeros left out."""
    written = fixed(value, decimals)
    return written.rstrip("0").rstrip(".") if "." in written else written
