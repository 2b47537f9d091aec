"""Units of measure, and how figures are written for people.

Facts are stored in US customary units and shown in either system. pint gives the factors;
nothing else in the project converts units. No more digits than the uncertainty deserves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from functools import cache
from typing import Any

LBF_PER_US_TON = 2000.0
UNKNOWN = "not known"


class Quantity(Enum):
    """A kind of measured number: its unit as stored, its unit in SI, and decimals to show.

    Where pint spells a unit otherwise than people do, its own spellings follow.
    """

    LENGTH = ("in", "mm", 2, 0)
    DIAMETER = ("in", "mm", 3, 3)
    FORCE = ("lbf", "kN", 0, 2)
    # Of one pad, on the papers that a pocket calculator follows.
    PAD_FORCE = ("lbf", "N", 0, 0)
    # Of a whole pull, on the drawings: weights and forces, and what is read aloud in tons.
    LOAD = ("lbf", "kN", 0, 1)
    PULL = ("tons", "kN", 1, 1, "lbf")
    RATE = ("lbf/in", "N/mm", 0, 1)
    PRESSURE = ("psi", "kPa", 0, 0)
    TEMPERATURE = ("°F", "°C", 0, 0)
    WEIGHT = ("lb", "kg", 0, 0)
    LINE_WEIGHT = ("lb/ft", "kg/m", 1, 1)
    UNIT_WEIGHT = ("lb/ft³", "kN/m³", 1, 2, "lbf/ft**3", "kN/m**3")
    DEPTH = ("ft", "m", 2, 2)
    AREA = ("in²", "cm²", 2, 1, "in**2", "cm**2")
    STRESS = ("psf", "kPa", 0, 1, "lbf/ft**2", "kPa")
    STRENGTH = ("ksi", "MPa", 1, 0)
    ECCENTRIC_MOMENT = ("lb·in", "kg·m", 0, 2, "lb*in", "kg*m")
    FREQUENCY = ("vpm", "Hz", 0, 1, "1/minute", "1/second")
    DISTANCE = ("mi", "km", 0, 0)
    POWER = ("hp", "kW", 0, 0, "horsepower", "kW")
    FLOW = ("gpm", "L/min", 1, 0, "gallon/minute", "liter/minute")
    # Of a hold that grows with the pile in it.
    LINE_FORCE = ("lbf/ft", "kN/m", 0, 2)
    # Of the ground, as a peak particle velocity.
    GROUND_VELOCITY = ("in/s", "mm/s", 2, 1)

    def __init__(
        self,
        us: str,
        si: str,
        us_decimals: int,
        si_decimals: int,
        us_unit: str = "",
        si_unit: str = "",
    ) -> None:
        self.symbols = {"us": us, "si": si}
        self.units = {"us": us_unit or us, "si": si_unit or si}
        self.decimals = {"us": us_decimals, "si": si_decimals}

    def symbol(self, system: str) -> str:
        return self.symbols[system]

    def scale(self, system: str, decimals: int | None = None) -> Scale:
        """Return how it is shown in a system of units, to its own decimals unless given."""
        return Scale(self, system, self.decimals[system] if decimals is None else decimals)

    def shown(self, stored: float, system: str) -> float:
        """Return a stored value in the unit the reader uses."""
        if self is Quantity.TEMPERATURE and system == "si":
            return (stored - 32.0) / 1.8
        return stored * _factor(self, system)

    def stored(self, shown: float, system: str) -> float:
        """Return what is stored for a value the reader gave."""
        if self is Quantity.TEMPERATURE and system == "si":
            return shown * 1.8 + 32.0
        return shown / _factor(self, system)

    def words(self, stored: float, system: str, decimals: int | None = None) -> str:
        """Return a value with its unit, such as "5.5 in" or "140 mm"."""
        places = self.decimals[system] if decimals is None else decimals
        return f"{plain_number(self.shown(stored, system), places)} {self.symbol(system)}"


@dataclass(frozen=True)
class Scale:
    """How the values of an axis or a row are shown: all in one unit, to so many decimals."""

    quantity: Quantity
    system: str
    decimals: int

    @property
    def factor(self) -> float:
        """What a stored value is multiplied by; for a quantity whose zero is the same in both."""
        return _factor(self.quantity, self.system)

    @property
    def symbol(self) -> str:
        return self.quantity.symbol(self.system)

    def shown(self, stored: float) -> float:
        """Return a stored value in the unit shown."""
        return self.quantity.shown(stored, self.system)

    def words(self, stored: float) -> str:
        """Return a stored value with its unit, trailing zeros left out."""
        return self.quantity.words(stored, self.system, self.decimals)


@dataclass(frozen=True)
class Measured:
    """A measured value for a message, as stored: written in the system of whoever reads it.

    decimals: as many as the quantity has unless given, or as it takes to show more than nothing.
    """

    quantity: Quantity
    stored: float
    decimals: int | None = None

    def __str__(self) -> str:
        return self.words("us")

    def words(self, system: str) -> str:
        """Return it with its unit."""
        places, shown = self.decimals, abs(self.quantity.shown(self.stored, system))
        if places is None and shown:
            places = max(self.quantity.decimals[system], math.ceil(-math.log10(shown)))
        return self.quantity.words(self.stored, system, places)


# A hyphen is shorter than a plus, and easily overlooked.
MINUS = "\u2212"


def count_change_words(change: int) -> str:
    """Return by how many a count changed, with its sign."""
    return f"{change:+,d}".replace("-", MINUS)


def fixed(value: float, places: int) -> str:
    """Return a number to so many places, thousands set off, and never as minus nothing."""
    text = f"{value:,.{places}f}"
    return text.removeprefix("-") if not text.strip("-0.,") else text


def floored(value: float, places: int) -> str:
    """Return a number rounded down: what the yard stands behind is never rounded up."""
    return fixed(_stepped(value, 0.1**places, math.floor), places)


def plain_number(value: float, places: int) -> str:
    """Return a number with thousands set off and no needless zeros after the point."""
    text = fixed(value, places)
    return text.rstrip("0").rstrip(".") if "." in text else text


@cache
def _factor(quantity: Quantity, system: str) -> float:
    if quantity is Quantity.PULL and system == "us":
        return 1 / LBF_PER_US_TON
    if system == "us" or quantity is Quantity.TEMPERATURE:
        return 1.0
    us, si = quantity.units["us"], quantity.units["si"]
    return float(_registry().Quantity(1.0, us).to(si).magnitude)


@cache
def factor_of(quantity: Quantity, unit: str) -> float:
    """Return what a value in a unit, as pint spells it, is multiplied by to be as stored.

    For a quantity whose zero is the same in both.
    """
    stored = quantity.units["us"]
    return float(_registry().Quantity(1.0, unit).to(_STORED.get(stored, stored)).magnitude)


# Where pint reads the stored unit as something else: a pound is a weight here, a ton a force.
_STORED = {"in": "inch", "lbf": "pound_force", "lb": "pound", "tons": "pound_force"}


@cache
def _registry() -> Any:
    # Imported on first need: the registry takes a while to build and US readers need none.
    import pint

    return pint.UnitRegistry()


def pull_words(pull_lbf: float | None, system: str, *, listed_lbf: float | None = None) -> str:
    """Return a line pull as read aloud: "12.4 tons (24,800 lbf)", or "110.3 kN" in SI.

    It is rounded once, to 0.1 US ton or 0.1 kN, and the lbf are those of the tons shown. Beside a
    listing it is rounded down, and where need be to more digits, so that it never seems to meet
    one it does not, nor the reverse.
    """
    if pull_lbf is None:
        return UNKNOWN
    return _aloud(_pull_shown(pull_lbf, system, listed_lbf), system)


def capacity_words(
    capacity_lbf: float | None, system: str, *, listed_lbf: float | None = None
) -> str:
    """Return a working capacity likewise, always rounded down: it's what the yard stands behind."""
    if capacity_lbf is None:
        return UNKNOWN
    return _aloud(_capacity_shown(capacity_lbf, system, listed_lbf), system)


def listed_words(listed_lbf: float | None, system: str) -> str:
    """Return a listed rating likewise, as it was entered and never less.

    To the last whole lbf or 0.01 kN; one that was entered in the other system is rounded up, so
    that no unit looks as if it met more than it does.
    """
    return UNKNOWN if listed_lbf is None else _aloud(_listed_shown(listed_lbf, system), system)


def pull_figure(pull_lbf: float, system: str, *, listed_lbf: float | None = None) -> str:
    """Return the number of pull_words alone, in US tons or kN, for a drawing."""
    return _figure(_pull_shown(pull_lbf, system, listed_lbf), system)


def capacity_figure(capacity_lbf: float, system: str, *, listed_lbf: float | None = None) -> str:
    """Return the number of capacity_words alone."""
    return _figure(_capacity_shown(capacity_lbf, system, listed_lbf), system)


def listed_figure(listed_lbf: float, system: str) -> str:
    """Return the number of listed_words alone."""
    return _figure(_listed_shown(listed_lbf, system), system)


def shortfall_words(capacity_lbf: float, listed_lbf: float, system: str) -> str:
    """Return what a working capacity lacks to a listing: one as shown taken from the other."""
    capacity = _capacity_shown(capacity_lbf, system, listed_lbf)
    return _aloud(max(0.0, _listed_shown(listed_lbf, system) - capacity), system)


def force_words(force_lbf: float | None, system: str) -> str:
    """Return a force to the last whole lbf, for arithmetic that is to be followed by hand."""
    return UNKNOWN if force_lbf is None else Quantity.FORCE.words(force_lbf, system)


def change_words(change_lbf: float, system: str) -> str:
    """Return by how much a force changed, with its sign: "+5,008 lbf", "−120 lbf", "0 lbf"."""
    words = force_words(abs(change_lbf), system)
    if not any(digit in words for digit in "123456789"):
        return words
    return f"{'+' if change_lbf > 0 else MINUS}{words}"


def chance_words(chance: float) -> str:
    """Return a chance as people bet on it: "1 in 8", "4 in 10", "19 in 20"."""
    if chance < 0.001:
        return "less than 1 in 1,000"
    if chance > 0.999:
        return "more than 999 in 1,000"
    if 0.15 <= chance <= 0.85:
        return f"about {round(chance * 10)} in 10"
    among = round(1.0 / min(chance, 1.0 - chance))
    if among > 20:
        among = round(among, -1 if among < 100 else -2)
    return f"about {1 if chance < 0.5 else among - 1:,} in {among:,}"


def share_words(share: float | None) -> str:
    """Return a share as a percentage, rounded down: 99.9 % is not yet the whole."""
    return "–" if share is None else f"{math.floor(share * 100)} %"


# What a force read aloud is rounded to, in lbf or kN: the first, unless that would mislead.
_STEPS = {"us": (0.1 * LBF_PER_US_TON, 20.0, 2.0, 1.0), "si": (0.1, 0.01, 0.001)}
_LISTED_STEP = {"us": 1.0, "si": 0.01}
_TONS_PLACES = 4


def _pull_shown(pull_lbf: float, system: str, listed_lbf: float | None) -> float:
    return _rounded(pull_lbf, system, (round, math.floor), listed_lbf)


def _capacity_shown(capacity_lbf: float, system: str, listed_lbf: float | None) -> float:
    return _rounded(capacity_lbf, system, (math.floor,), listed_lbf)


def _listed_shown(listed_lbf: float, system: str) -> float:
    step = _LISTED_STEP[system]
    steps = Quantity.FORCE.shown(listed_lbf, system) / step
    # What was entered in this system came back from the stored unit a hair beside it.
    is_as_entered = abs(steps - round(steps)) < 1e-6
    return (round(steps) if is_as_entered else math.ceil(steps)) * step


def _rounded(
    force_lbf: float,
    system: str,
    ways: Sequence[Callable[[float], int]],
    listed_lbf: float | None,
) -> float:
    """Return a force in lbf or kN, rounded the first of these ways by the first step that serves.

    Beside a listing that is one by which it does not look met where it isn't, nor the reverse.
    """
    shown = Quantity.FORCE.shown(force_lbf, system)
    rounded = [_stepped(shown, step, way) for step in _STEPS[system] for way in ways]
    if listed_lbf is None:
        return rounded[0]
    listed, meets = _listed_shown(listed_lbf, system), force_lbf >= listed_lbf
    serving = (each for each in rounded if (each >= listed - 1e-6) == meets)
    # None may serve where less than the last step is between the two.
    return next(serving, rounded[-1])


def money(amount: Decimal, currency: str) -> str:
    """Return an amount as it is read, such as "1,240.00 USD"."""
    return f"{amount:,.2f} {currency}"


def _figure(shown: float, system: str) -> str:
    if system == "si":
        return plain_number(shown, 3)
    whole, _, tenths = fixed(shown / LBF_PER_US_TON, _TONS_PLACES).partition(".")
    return f"{whole}.{tenths.rstrip('0') or '0'}"


def _aloud(shown: float, system: str) -> str:
    if system == "si":
        return f"{_figure(shown, system)} kN"
    return f"{_figure(shown, system)} tons ({plain_number(shown, 0)} lbf)"


def _stepped(value: float, step: float, whole: Callable[[float], int]) -> float:
    # A hair above the quotient, so that 12.3 / 0.1 = 122.99… is not floored to 12.2.
    return whole(value / step + 1e-9) * step
