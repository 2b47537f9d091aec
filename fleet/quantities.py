"""Quantities people read and enter, stored in US customary units and shown in either system.

pint gives the factors; nothing else in the project converts units.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import cache


class Quantity(Enum):
    """A kind of measured number: its unit as stored, its unit in SI, and decimals to show.

    Where pint spells a unit otherwise than people do, its own spellings follow.
    """

    LENGTH = ("in", "mm", 2, 0)
    DIAMETER = ("in", "mm", 3, 3)
    FORCE = ("lbf", "kN", 0, 2)
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
class Measured:
    """A measured value for a message, as stored: written in the system of whoever reads it.

    decimals: as many as the quantity has unless given.
    """

    quantity: Quantity
    stored: float
    decimals: int | None = None

    def __str__(self) -> str:
        return self.words("us")

    def words(self, system: str) -> str:
        """Return it with its unit."""
        return self.quantity.words(self.stored, system, self.decimals)


def plain_number(value: float, places: int) -> str:
    """Return a number with thousands set off and no needless zeros after the point."""
    text = f"{value:,.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


@cache
def _factor(quantity: Quantity, system: str) -> float:
    if system == "us" or quantity is Quantity.TEMPERATURE:
        return 1.0
    # Imported on first need: the registry takes a while to build and US readers need none.
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    us, si = quantity.units["us"], quantity.units["si"]
    return float(registry.Quantity(1.0, us).to(si).magnitude)
