"""Units of measure as people write them into a header."""

from __future__ import annotations

import re

from fleet.written_units import BARE, UNITS

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
