"""Units of measure as people write them behind a figure or into a header."""

from __future__ import annotations

import re

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
    "tonnes": "metric_ton",
    "tonne": "metric_ton",
}
UNITS: dict[Quantity, dict[str, str]] = {
    Quantity.LENGTH: _LENGTH,
    Quantity.DIAMETER: _LENGTH,
    Quantity.FORCE: _FORCE,
    Quantity.PULL: _FORCE,
    Quantity.LOAD: _FORCE,
    Quantity.WEIGHT: _WEIGHT,
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
_ALL = sorted({unit for units in UNITS.values() for unit in units} | BARE, key=len, reverse=True)
_WRITTEN = "|".join(re.escape(unit) for unit in _ALL)
_IN_BRACKETS = re.compile(rf"^(.*?)\s*[(\[]\s*({_WRITTEN})\.?\s*[)\]]\s*$", re.IGNORECASE)
_AFTER_SIGN = re.compile(rf"^(.*?\w)\s*(?:[,/;:]\s*|\s+)({_WRITTEN})\.?\s*$", re.IGNORECASE)


def unit_at_end(header: str) -> tuple[str, str]:
    """Return a header without the unit at its end, and that unit in small letters or ""."""
    plain = header.replace("·", " ").replace("-lb", " lb").strip()
    for pattern in (_IN_BRACKETS, _AFTER_SIGN):
        if found := pattern.match(plain):
            return found[1], found[2].lower()
    return header, ""


def factor(quantity: Quantity | None, unit: str) -> float | None:
    """Return what a figure in a unit is multiplied by to be as stored, None where it is no unit.

    Of a bare number every unit that people write behind such counts as none.
    """
    if quantity is None:
        return 1.0 if unit in BARE else None
    spelled = UNITS.get(quantity, {}).get(unit.lower())
    return None if spelled is None else factor_of(quantity, spelled)
