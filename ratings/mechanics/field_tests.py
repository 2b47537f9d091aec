"""Density class and undrained strength from penetration tests, where nobody gives them outright.

Published correlations, each with its bounds: a blow count or a cone says what a soil is like, not
what it is. What somebody measured in a laboratory or with a vane goes before all of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ratings.mechanics.arguments import not_negative, number, positive
from ratings.mechanics.soil import Density

# Classes and strengths by blows as read in the Texas DOT Geotechnical Manual (LRFD), tables 4-1
# and 4-2; they go back to Terzaghi and Peck 1948, which was not opened.
SPT_SOURCE = "Terzaghi and Peck 1948, blows not corrected"
# As read in the source of an open library of the field; the papers were not opened.
BALDI = "Baldi and others 1986, normally consolidated silica sand"
RAD_LUNNE = "Rad and Lunne 1988, net cone resistance over a cone factor"

MOST_BLOWS = 100.0
# A test that meets 50 blows in 6 in is stopped: it says hard, not how hard.
REFUSAL_BLOWS = 60.0
# Cone resistance, psf: 120 MPa is what a cone can bear.
MOST_CONE_PSF = 2_506_000.0
KPA_PSF = 20.885434
LEAST_CONE_FACTOR, USUAL_CONE_FACTOR, MOST_CONE_FACTOR = 8.0, 15.0, 30.0
# Range of the factor about the usual one: Lunne, Robertson and Powell 1997, from memory.
LOW_CONE_FACTOR, HIGH_CONE_FACTOR = 10.0, 20.0

# From so many blows on, a granular soil is so dense.
_DENSITY_BLOWS = (
    (50.0, "very dense"),
    (30.0, "dense"),
    (10.0, "medium dense"),
    (4.0, "loose"),
    (0.0, "very loose"),
)
# From so much relative density on: API RP 2GEO, table of shaft friction, from memory.
_DENSITY_SHARES = (
    (0.85, "very dense"),
    (0.65, "dense"),
    (0.35, "medium dense"),
    (0.15, "loose"),
    (0.0, "very loose"),
)
_CLASSES = {
    ("very dense", False): Density.VERY_DENSE_SAND,
    ("very dense", True): Density.VERY_DENSE_SAND_SILT,
    ("dense", False): Density.DENSE_SAND,
    ("dense", True): Density.DENSE_SAND_SILT,
    ("medium dense", False): Density.MEDIUM_DENSE_SAND,
    ("medium dense", True): Density.MEDIUM_DENSE_SAND_SILT,
}
# Blows and undrained strength, psf, where one consistency ends and the next begins.
_STRENGTHS = (
    (0.0, 0.0, "very soft"),
    (2.0, 250.0, "soft"),
    (4.0, 500.0, "medium"),
    (8.0, 1_000.0, "stiff"),
    (15.0, 2_000.0, "very stiff"),
    (30.0, 4_000.0, "hard"),
)


@dataclass(frozen=True)
class DensityFound:
    """A density class from a test: its name, where it is from, and what is doubtful of it."""

    density: Density
    name: str
    source: str
    doubt: str = ""
    relative_density: float | None = None


@dataclass(frozen=True)
class StrengthFound:
    """An undrained strength from a test, psf, with its range, where it is from, and its doubt."""

    strength_psf: float
    low_psf: float
    high_psf: float
    name: str
    source: str
    doubt: str = ""


def density_from_spt(blows_per_ft: float, is_silty: bool = False) -> DensityFound:
    """Return the density class of a granular soil from blows of a standard penetration test.

    Below 4 very loose, from 4 loose, 10 medium dense, 30 dense, 50 very dense; a count on a bound
    is of the denser class, which holds more. Raises ValueError for a count that can't be.
    """
    blows = _blows(blows_per_ft)
    name = next(each for least, each in _DENSITY_BLOWS if blows >= least)
    return DensityFound(
        _density(name, is_silty), name, SPT_SOURCE, _refusal(blows) or _without_value(name)
    )


def relative_density_from_cone(cone_psf: float, stress_psf: float) -> float:
    """Return the relative density of sand, a share, from a cone's resistance.

    ln(q_c / (157·σ′^0.55)) / 2.41, both in kPa (Baldi and others 1986), held within 0 and 1.
    stress_psf: effective vertical stress there. Raises ValueError for numbers that can't be.
    """
    cone_kpa = _cone(cone_psf) / KPA_PSF
    stress_kpa = positive("stress_psf", stress_psf, "psf") / KPA_PSF
    share = math.log(cone_kpa / (157.0 * stress_kpa**0.55)) / 2.41
    return min(1.0, max(0.0, share))


def density_from_cpt(cone_psf: float, stress_psf: float, is_silty: bool = False) -> DensityFound:
    """Return the density class of a granular soil from a cone's resistance, psf.

    By relative density: from 15 % loose, 35 % medium dense, 65 % dense, 85 % very dense.
    Raises ValueError for numbers that can't be.
    """
    share = relative_density_from_cone(cone_psf, stress_psf)
    name = next(each for least, each in _DENSITY_SHARES if share >= least)
    doubt = _without_value(name)
    if is_silty:
        doubt = doubt or "The correlation is of clean sand: silt lowers a cone’s resistance."
    return DensityFound(_density(name, is_silty), name, BALDI, doubt, share)


def strength_from_spt(blows_per_ft: float) -> StrengthFound:
    """Return the undrained strength of a cohesive soil from blows of a penetration test, psf.

    Straight between the bounds of the consistencies (2 blows 250 psf, 4 500, 8 1,000, 15 2,000,
    30 4,000), as a range that of the consistency; above 30 in proportion. The scatter is wide.
    Raises ValueError for a count that can't be, and for 0, which says nothing.
    """
    blows = _blows(blows_per_ft)
    if blows == 0.0:
        raise ValueError(
            "blows_per_ft is 0: the rods sank by their weight and tell no strength; give one from "
            "a vane or a cone"
        )
    place = max(at for at, (least, _, _) in enumerate(_STRENGTHS) if blows >= least)
    least, low_psf, name = _STRENGTHS[place]
    if place + 1 < len(_STRENGTHS):
        most, high_psf, _ = _STRENGTHS[place + 1]
        strength = low_psf + (high_psf - low_psf) * (blows - least) / (most - least)
    else:
        strength = low_psf * blows / least
        high_psf = 2.0 * strength
    doubt = (
        _refusal(blows) or "Blows in clay tell its strength roughly: a vane or a cone is better."
    )
    return StrengthFound(strength, low_psf, high_psf, name, SPT_SOURCE, doubt)


def strength_from_cpt(
    cone_psf: float, total_stress_psf: float, cone_factor: float = USUAL_CONE_FACTOR
) -> StrengthFound:
    """Return the undrained strength of a cohesive soil from a cone, psf: (q_t − σ_v)/N_kt.

    total_stress_psf: total vertical stress there. cone_factor: N_kt, of this ground’s own
    laboratory tests where there are any. The range: factors from 10 to 20, or the one given.
    Raises ValueError for numbers that can't be, and for a resistance not above the stress.
    """
    cone = _cone(cone_psf)
    stress = not_negative("total_stress_psf", total_stress_psf, "psf")
    factor = number("cone_factor", cone_factor)
    if not LEAST_CONE_FACTOR <= factor <= MOST_CONE_FACTOR:
        raise ValueError(
            f"cone_factor is {factor:g}: give {LEAST_CONE_FACTOR:g} to {MOST_CONE_FACTOR:g}, "
            f"usually {USUAL_CONE_FACTOR:g}"
        )
    net = cone - stress
    if net <= 0.0:
        raise ValueError(
            f"cone_psf is {cone:g}: give more than the {stress:g} psf of ground above the cone, or "
            "correct the unit weights"
        )
    strength = net / factor
    name = next(each for _, low_psf, each in reversed(_STRENGTHS) if strength >= low_psf)
    doubt = ""
    if factor == USUAL_CONE_FACTOR:
        doubt = f"A cone factor of {USUAL_CONE_FACTOR:g} is a usual one, not this ground’s own."
    return StrengthFound(
        strength,
        net / max(factor, HIGH_CONE_FACTOR),
        net / min(factor, LOW_CONE_FACTOR),
        name,
        RAD_LUNNE,
        doubt,
    )


def _blows(blows_per_ft: float) -> float:
    blows = not_negative("blows_per_ft", blows_per_ft, "blows per foot")
    if blows > MOST_BLOWS:
        raise ValueError(
            f"blows_per_ft is {blows:g}: give {MOST_BLOWS:g} or less, the blows of the last foot"
        )
    return blows


def _cone(cone_psf: float) -> float:
    cone = positive("cone_psf", cone_psf, "psf")
    if cone > MOST_CONE_PSF:
        raise ValueError(f"cone_psf is {cone:g}: give {MOST_CONE_PSF:g} psf (120 MPa) or less")
    return cone


def _density(name: str, is_silty: bool) -> Density:
    return _CLASSES.get((name, is_silty), Density.LOOSER)


def _without_value(name: str) -> str:
    if name in ("loose", "very loose"):
        return (
            f"The method has no value for {name} soil: enter a friction, from somebody who knows "
            "this ground."
        )
    return ""


def _refusal(blows: float) -> str:
    if blows >= REFUSAL_BLOWS:
        return (
            f"{blows:g} blows are a test stopped short, on a stone perhaps: look at the ones above "
            "and below."
        )
    return ""
