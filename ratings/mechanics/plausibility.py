"""What rate a pad of such rubber can have, how far it is strained, and mistakes that explain."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

from ratings.mechanics.arguments import count, not_negative, number, positive
from ratings.mechanics.bench import Cylinder, CylinderEnd
from ratings.mechanics.gauge import PSI_PER
from ratings.mechanics.remarks import Remark, length

PSI_PER_MPA = 145.0377377302092
# Hardness, IRHD, and shear modulus, MPa. Lindley, Engineering Design with Natural Rubber, as
# recalled, the book itself not opened.
LINDLEY_MPA = (
    (30.0, 0.30),
    (35.0, 0.37),
    (40.0, 0.45),
    (45.0, 0.54),
    (50.0, 0.64),
    (55.0, 0.81),
    (60.0, 1.06),
    (65.0, 1.37),
    (70.0, 1.73),
    (75.0, 2.22),
)
IN_PER_CM = 1.0 / 2.54
MM_PER_IN = 25.4
# A compound is sold to ± 5 points of hardness.
HARDNESS_TOLERANCE = 5.0


@dataclass(frozen=True)
class RateRange:
    """The rates that a pad's rubber allows, lbf/in."""

    least_lbf_in: float
    most_lbf_in: float

    def holds(self, rate_lbf_in: float) -> bool:
        """Say whether the rubber allows this rate."""
        return self.least_lbf_in <= rate_lbf_in <= self.most_lbf_in


class Mistake(StrEnum):
    """A mistake that changes a rate by a known factor."""

    PAD_COUNT = "pad count"
    CYLINDER_END = "cylinder end"
    GAUGE_IN_KPA = "gauge in kPa"
    GAUGE_IN_BAR = "gauge in bar"
    GAUGE_IN_PSI = "gauge in psi"
    TAPE_IN_CM = "tape in cm"
    TAPE_IN_MM = "tape in mm"
    TAPE_IN_INCHES = "tape in inches"
    BORE_DIGITS = "digits of the bore"


@dataclass(frozen=True)
class Explanation:
    """A mistake, what it is, and the rate without it. pads: in test, where they explain it."""

    mistake: Mistake
    remark: Remark
    rate_lbf_in: float
    pads: int | None = None


def shear_modulus_psi(hardness: float) -> float:
    """Return the shear modulus of rubber of a hardness, psi, straight between table values.

    hardness: IRHD, or Shore A, which is near enough to it between 30 and 75.
    Raises ValueError outside the table.
    """
    points = number("hardness", hardness)
    least, most = LINDLEY_MPA[0][0], LINDLEY_MPA[-1][0]
    if not least <= points <= most:
        raise ValueError(f"hardness is {points:g}: give {least:g} to {most:g}, Shore A or IRHD")
    import numpy as np

    hardnesses, moduli_mpa = zip(*LINDLEY_MPA, strict=True)
    return float(np.interp(points, list(hardnesses), list(moduli_mpa))) * PSI_PER_MPA


def shear_modulus_range_psi(
    hardness: float, tolerance: float = HARDNESS_TOLERANCE
) -> tuple[float, float]:
    """Return the shear moduli of rubber within a tolerance of its hardness, psi.

    Ends at the table's ends. Raises ValueError for a hardness outside the table.
    """
    shear_modulus_psi(hardness)
    either_way = positive("tolerance", tolerance, "points of hardness")
    least, most = LINDLEY_MPA[0][0], LINDLEY_MPA[-1][0]
    low, high = max(hardness - either_way, least), min(hardness + either_way, most)
    return shear_modulus_psi(low), shear_modulus_psi(high)


def plausible_rates(
    hardness: float, bonded_area_in2: float, rubber_thickness_in: float
) -> RateRange:
    """Return the range of k = G·A/t, a block in simple shear, over the moduli a hardness allows.

    bonded_area_in2: of all rubber of one pad that is sheared side by side.
    rubber_thickness_in: between the plates it is bonded to.
    Raises ValueError for a hardness outside the table and a size not above 0.
    """
    area = positive("bonded_area_in2", bonded_area_in2, "in²")
    thickness = positive("rubber_thickness_in", rubber_thickness_in, "in")
    low, high = shear_modulus_range_psi(hardness)
    return RateRange(low * area / thickness, high * area / thickness)


def strain_pct(stretch_in: float, rubber_thickness_in: float) -> float:
    """Return how far rubber is strained, %: stretch over thickness, the shear strain of a block.

    rubber_thickness_in: between the plates it is bonded to. Raises ValueError for a stretch
    below 0 and a thickness not above 0.
    """
    stretch = not_negative("stretch_in", stretch_in, "in")
    return 100.0 * stretch / positive("rubber_thickness_in", rubber_thickness_in, "in")


def explain(
    rate_lbf_in: float,
    plausible: RateRange,
    *,
    cylinder: Cylinder,
    end: str,
    pads_in_test: int,
    most_pads: int = 12,
    typed_in: str = "us",
) -> tuple[Explanation, ...]:
    """Return which single mistake would bring a rate inside the plausible range.

    Nothing for a rate that is inside. most_pads: as many as the stand can hold. typed_in: "us"
    where tape, gauge and bore were to be typed in inches and psi, "si" in mm and kPa. Pad counts
    nearest the one given come first, then the other end of the cylinder, other units of measure
    and a bore with two digits swapped. Raises ValueError for a rate or a number of pads that
    can't be.
    """
    rate = positive("rate_lbf_in", rate_lbf_in, "lbf/in")
    pads = count("pads_in_test", pads_in_test, 1)
    if plausible.holds(rate):
        return ()
    found = [
        *_other_pad_counts(rate, pads, count("most_pads", most_pads, 1)),
        *_other_end(rate, cylinder, end),
        *_other_units_of_measure(rate, typed_in),
        *_other_bore(rate, cylinder, end, typed_in),
    ]
    return tuple(each for each in found if plausible.holds(each.rate_lbf_in))


def _other_pad_counts(rate: float, pads: int, most: int) -> list[Explanation]:
    others = sorted(
        (other for other in range(1, most + 1) if other != pads),
        key=lambda other: (abs(other - pads), other),
    )
    return [
        Explanation(
            Mistake.PAD_COUNT,
            (f"{other} pad{'s' * (other > 1)} in test, not {pads}",),
            rate * pads / other,
            other,
        )
        for other in others
    ]


def _other_end(rate: float, cylinder: Cylinder, end: str) -> list[Explanation]:
    area_in2 = cylinder.area_in2(end)
    if cylinder.rod_in == 0.0:
        return []
    other = next(each for each in CylinderEnd if each != end)
    return [
        Explanation(
            Mistake.CYLINDER_END,
            (f"pressure on the {other} end of the cylinder, not the {end} end",),
            rate * cylinder.area_in2(other) / area_in2,
        )
    ]


# By what to multiply a rate where a gauge or a tape was read in one unit and typed as another.
_GAUGES = {
    "us": (
        (Mistake.GAUGE_IN_KPA, "kPa, not psi", PSI_PER["kPa"]),
        (Mistake.GAUGE_IN_BAR, "bar, not psi", PSI_PER["bar"]),
    ),
    "si": (
        (Mistake.GAUGE_IN_PSI, "psi, not kPa", 1.0 / PSI_PER["kPa"]),
        (Mistake.GAUGE_IN_BAR, "bar, not kPa", 100.0),
    ),
}
_TAPES = {
    "us": (
        (Mistake.TAPE_IN_CM, "cm, not inches", 1.0 / IN_PER_CM),
        (Mistake.TAPE_IN_MM, "mm, not inches", MM_PER_IN),
    ),
    "si": (
        (Mistake.TAPE_IN_CM, "cm, not mm", 0.1),
        (Mistake.TAPE_IN_INCHES, "inches, not mm", 1.0 / MM_PER_IN),
    ),
}


def _other_units_of_measure(rate: float, typed_in: str) -> list[Explanation]:
    return [
        Explanation(mistake, (f"{instrument} read in {words}",), rate * factor)
        for instrument, units in (("gauge", _GAUGES), ("tape", _TAPES))
        for mistake, words, factor in units[typed_in]
    ]


def _other_bore(rate: float, cylinder: Cylinder, end: str, typed_in: str) -> list[Explanation]:
    area_in2, per_in = cylinder.area_in2(end), MM_PER_IN if typed_in == "si" else 1.0
    typed = _digits_swapped(cylinder.bore_in * per_in)
    bores = [bore for bore in (each / per_in for each in typed) if bore > cylinder.rod_in]
    return [
        Explanation(
            Mistake.BORE_DIGITS,
            (
                "a bore of ",
                length(bore),
                ", not ",
                length(cylinder.bore_in),
                " (two digits swapped)",
            ),
            rate * replace(cylinder, bore_in=bore).area_in2(end) / area_in2,
        )
        for bore in bores
    ]


def _digits_swapped(number: float) -> list[float]:
    """Return what a number reads as with two digits beside one another swapped, each once."""
    text = f"{number:g}"
    if not text.replace(".", "", 1).isdigit():
        return []
    places = [place for place, each in enumerate(text) if each.isdigit()]
    swapped = []
    for first, second in pairwise(places):
        digits = list(text)
        digits[first], digits[second] = digits[second], digits[first]
        swapped.append(float("".join(digits)))
    return [each for each in dict.fromkeys(swapped) if each != number]
