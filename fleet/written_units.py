"""Units of measure as people write them, behind a figure or into a header.

Forms and yards' own sheets read them by the same words.
"""

from __future__ import annotations

import re
from functools import cache

from fleet.quantities import Quantity, factor_of

# By quantity: what people write, and how pint spells it.
_LENGTH = {
    '"': "inch",
    "″": "inch",
    "”": "inch",
    "''": "inch",
    "in": "inch",
    "in.": "inch",
    "inch": "inch",
    "inches": "inch",
    "'": "foot",
    "′": "foot",
    "’": "foot",
    "ft": "foot",
    "ft.": "foot",
    "feet": "foot",
    "foot": "foot",
    "mm": "millimeter",
    "cm": "centimeter",
    "m": "meter",
}
_FORCE = {
    "lbf": "pound_force",
    "lb": "pound_force",
    "lbs": "pound_force",
    "pounds": "pound_force",
    "#": "pound_force",
    "kip": "kip",
    "kips": "kip",
    "k": "kip",
    "ton": "force_ton",
    "tons": "force_ton",
    "us tons": "force_ton",
    "short tons": "force_ton",
    "kn": "kilonewton",
    "n": "newton",
    "tonnes": "metric_ton * standard_gravity",
    "tonne": "metric_ton * standard_gravity",
}
_WEIGHT = {
    "lb": "pound",
    "lbs": "pound",
    "pounds": "pound",
    "#": "pound",
    "kg": "kilogram",
    "ton": "short_ton",
    "tons": "short_ton",
    "us tons": "short_ton",
    "short tons": "short_ton",
    "tonnes": "metric_ton",
    "tonne": "metric_ton",
}
_PRESSURE = {
    "psi": "psi",
    "bar": "bar",
    "kpa": "kilopascal",
    "mpa": "megapascal",
}
UNITS: dict[Quantity, dict[str, str]] = {
    Quantity.LENGTH: _LENGTH,
    Quantity.DIAMETER: _LENGTH,
    Quantity.FORCE: _FORCE,
    Quantity.PULL: _FORCE,
    Quantity.LOAD: _FORCE,
    Quantity.PAD_FORCE: _FORCE,
    Quantity.WEIGHT: _WEIGHT,
    Quantity.DEPTH: _LENGTH,
    Quantity.PRESSURE: _PRESSURE,
    Quantity.ECCENTRIC_MOMENT: {
        "lb in": "pound * inch",
        "in lb": "pound * inch",
        "in lbs": "pound * inch",
        "inlb": "pound * inch",
        "inlbs": "pound * inch",
        "kgm": "kilogram * meter",
        "kg m": "kilogram * meter",
    },
    Quantity.FREQUENCY: {"vpm": "1 / minute", "rpm": "1 / minute", "hz": "1 / second"},
}
# Behind bare numbers: hours of a meter, hardness, pads.
BARE = {"h", "hr", "hrs", "hour", "hours", "shore a", "shore", "pads", "pcs", "pc", "ea"}
_EXAMPLES = {
    Quantity.LENGTH: ("in", "ft", "mm", "cm"),
    Quantity.DIAMETER: ("in", "mm"),
    Quantity.FORCE: ("lbf", "kip", "US tons", "kN", "tonnes"),
    Quantity.WEIGHT: ("lb", "US tons", "kg", "tonnes"),
    Quantity.DEPTH: ("ft", "m"),
    Quantity.PRESSURE: ("psi", "bar", "kPa", "MPa"),
}
# A short ton here, a metric one nearly everywhere else.
_OF_TWO_KINDS = {"ton", "tons"}


class UnitOfTwoKinds(ValueError):
    """A unit that means one thing in one country and another elsewhere."""


def factor(quantity: Quantity | None, unit: str) -> float | None:
    """Return what a figure in a unit is multiplied by to be as stored, None where it is no unit.

    Of a bare number every unit that people write behind such counts as none.
    """
    if quantity is None:
        return 1.0 if unit in BARE else None
    spelled = UNITS.get(quantity, {}).get(unit.lower())
    return None if spelled is None else factor_of(quantity, spelled)


def examples(quantity: Quantity) -> tuple[str, ...]:
    """Return the units to offer somebody whose own was not understood."""
    return _EXAMPLES.get(quantity, ())


def parted(quantity: Quantity, text: str) -> tuple[str, str]:
    """Return a figure without the unit behind it, and that unit in small letters or ""."""
    found = _pattern(quantity).fullmatch(text.strip())
    return (found[1], found[2].lower()) if found else (text, "")


def factor_for(quantity: Quantity | None, unit: str, system: str) -> float | None:
    """Return what a figure is multiplied by to be as stored, as a reader of a system means it.

    Raises UnitOfTwoKinds for tons of somebody who reads the site in SI units.
    """
    if is_of_two_kinds(unit, system):
        raise UnitOfTwoKinds(unit)
    return factor(quantity, unit)


def is_of_two_kinds(unit: str, system: str) -> bool:
    """Whether a unit is a short one or a metric one to a reader of a system: tons, in SI."""
    return system != "us" and unit.lower() in _OF_TWO_KINDS


@cache
def _pattern(quantity: Quantity) -> re.Pattern[str]:
    units = sorted(UNITS.get(quantity, {}), key=len, reverse=True)
    written = "|".join(re.escape(unit) for unit in units) or r"(?!)"
    return re.compile(rf"(.*[\d.,])\s*({written})\.?", re.IGNORECASE)
