"""Stretches as a tape shows them, never more than they are."""

from __future__ import annotations

import math
from fractions import Fraction

from fleet.quantities import Quantity


def on_the_tape_in(stretch_in: float, system: str) -> float:
    """Cut a stretch down to the last sixteenth of an inch, or millimetre, that a tape shows."""
    division_in = 0.0625 if system == "us" else 1.0 / 25.4
    return math.floor(stretch_in / division_in + 1e-9) * division_in


def tape_words(stretch_in: float, system: str) -> str:
    """Return a stretch as a tape shows it, such as "5 5/8 in"; in SI in millimetres."""
    if system == "si":
        return Quantity.LENGTH.words(stretch_in, system)
    whole, sixteenths = divmod(round(stretch_in * 16), 16)
    if not sixteenths:
        return f"{whole} in"
    part = Fraction(sixteenths, 16)
    fraction = f"{part.numerator}/{part.denominator} in"
    return f"{whole} {fraction}" if whole else fraction


def cut_words(stretch_in: float, system: str) -> str:
    """Return a stretch cut down to what a tape shows."""
    return tape_words(on_the_tape_in(stretch_in, system), system)
