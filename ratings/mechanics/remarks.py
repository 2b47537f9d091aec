"""Words with measured figures in them, for whoever writes those in a reader's units.

The mechanics know no reader. What they have to say of readings is words and figures by turns;
the edges write each figure (`ratings.remarks`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Measure(StrEnum):
    """What a figure measures, by the unit that it is given in."""

    LENGTH = "in"
    PRESSURE = "psi"
    TEMPERATURE = "°F"
    FORCE = "lbf"
    WEIGHT = "lb"


@dataclass(frozen=True)
class Figure:
    """A measured value in a remark.

    is_rounded: whether it is worked out, and so deserves no more digits than what it measures
    does; otherwise it was read or set, and is written as it was given.
    """

    measure: Measure
    value: float
    is_rounded: bool = False

    def __str__(self) -> str:
        return f"{self.value:.6g} {self.measure}"


Remark = tuple[str | Figure, ...]


def length(value_in: float) -> Figure:
    """Return a length as it was read or set."""
    return Figure(Measure.LENGTH, value_in)


def pressure(value_psi: float) -> Figure:
    """Return a pressure as it was read or set."""
    return Figure(Measure.PRESSURE, value_psi)


def in_a_row(remarks: Iterable[Remark], between: str = " ") -> Remark:
    """Return several remarks as one."""
    found: list[str | Figure] = []
    for remark in remarks:
        found += [between, *remark] if found else remark
    return tuple(found)


class Refused(ValueError):
    """What was given and can't be, with its figures.

    remark: why, for a reader; the text of the error has it in the units of the mechanics.
    """

    def __init__(self, *remark: str | Figure, before: str = "") -> None:
        self.remark: Remark = remark
        super().__init__(before + "".join(map(str, remark)))
