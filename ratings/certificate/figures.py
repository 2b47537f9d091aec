"""Figures of the certificate in the reader's units, with the digits a retracing needs."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fleet.quantities import Quantity, plain_number

# Enough that a pocket calculator reaches the figures printed after it.
DIGITS = 7
# Less than this, in any unit shown, is the rounding of floating point.
NOTHING = 1e-9
_BY_SYMBOL = {"psi": Quantity.PRESSURE, "in": Quantity.LENGTH, "lbf/in": Quantity.RATE}


@dataclass(frozen=True)
class Units:
    """Stored figures as shown: lbf and in, or N and mm. Line pulls of a unit: lbf, or kN."""

    system: str

    @property
    def force_symbol(self) -> str:
        return Quantity.PAD_FORCE.symbol(self.system)

    @property
    def length_symbol(self) -> str:
        return Quantity.LENGTH.symbol(self.system)

    @property
    def rate_symbol(self) -> str:
        return Quantity.RATE.symbol(self.system)

    @property
    def pressure_symbol(self) -> str:
        return Quantity.PRESSURE.symbol(self.system)

    def length(self, value_in: float) -> float:
        return Quantity.LENGTH.shown(value_in, self.system)

    def pressure(self, value_psi: float) -> float:
        return Quantity.PRESSURE.shown(value_psi, self.system)

    def force(self, value_lbf: float) -> float:
        """Return a force of one pad, lbf or N."""
        return Quantity.PAD_FORCE.shown(value_lbf, self.system)

    def rate(self, value_lbf_in: float) -> float:
        return Quantity.RATE.shown(value_lbf_in, self.system)

    def rate_words(self, value_lbf_in: float, digits: int = DIGITS) -> str:
        return f"{significant(self.rate(value_lbf_in), digits)} {self.rate_symbol}"

    def force_words(self, value_lbf: float, digits: int = DIGITS) -> str:
        return f"{significant(self.force(value_lbf), digits)} {self.force_symbol}"

    def length_words(self, value_in: float, digits: int = 5) -> str:
        return f"{significant(self.length(value_in), digits)} {self.length_symbol}"

    def pressure_words(self, value_psi: float) -> str:
        return f"{significant(self.pressure(value_psi), 5)} {self.pressure_symbol}"

    def in_symbol(self, value: float, symbol: str) -> tuple[float, str]:
        """Return a value given in a stored unit, by that unit's symbol, and the symbol shown."""
        quantity = _BY_SYMBOL[symbol]
        return quantity.shown(value, self.system), quantity.symbol(self.system)


def significant(value: float, digits: int = DIGITS) -> str:
    """Return a number to so many significant digits, whole digits always all of them."""
    if math.isinf(value):
        return "infinite"
    if abs(value) < NOTHING:
        return "0"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return plain_number(value, places)


def stated(value: float, uncertainty: float) -> tuple[str, str]:
    """Return a result and its expanded uncertainty as stated: that to two digits, rounded up.

    The value ends at the same place (GUM 7.2.6).
    """
    if uncertainty < NOTHING:
        return significant(value), "0"
    place = math.floor(math.log10(uncertainty)) - 1
    step = 10.0**place
    up = math.ceil(uncertainty / step - 1e-9) * step
    places = max(0, -place)
    return f"{round(value / step) * step:,.{places}f}", f"{up:,.{places}f}"


def freedom_words(degrees_of_freedom: float) -> str:
    return "infinite" if degrees_of_freedom > 1e6 else significant(degrees_of_freedom, 4)
