"""The soils under vibration people name: what each keeps, what it needs, and which layer it fits.

The published eight stay as they are. The others are common practice and no source was found for
them: each is set beside the published soil it is most like, and never below that one.
"""

from __future__ import annotations

from dataclasses import dataclass

from ratings.mechanics.arguments import not_negative, positive, set_checked
from ratings.mechanics.soil import LayerKind

JONKER = "Jonker 1987, OTC 5422"
COMMON_PRACTICE = "common practice, no published source"

_ALL = tuple(LayerKind)
_GRANULAR = (LayerKind.GRANULAR, LayerKind.OTHER)
_COHESIVE = (LayerKind.COHESIVE, LayerKind.OTHER)
# Kinds of layer the soils of these names fit. Rules on record from before kinds were asked read
# theirs here; a soil of a name the yard made up fits all.
KINDS: dict[str, tuple[LayerKind, ...]] = {
    "round coarse sand": _GRANULAR,
    "soft loam or marl, soft loess, stiff cliff": _ALL,
    "round medium sand, round gravel": _GRANULAR,
    "fine angular gravel, angular loam, angular loess": _ALL,
    "round fine sand": _GRANULAR,
    "angular sand, coarse gravel": _GRANULAR,
    "angular or dry fine sand": _GRANULAR,
    "marl, stiff or very stiff clay": _COHESIVE,
    "silty sand or sandy silt": _GRANULAR,
    "silt": _ALL,
    "gravel with cobbles": _GRANULAR,
    "very soft or soft clay": _COHESIVE,
    "medium clay": _COHESIVE,
    "hard clay": _COHESIVE,
    "peat or organic soil": _COHESIVE,
    "glacial till": _ALL,
    "mixed fill": _ALL,
    "rubble or slag fill": _GRANULAR,
    "chalk or weathered rock": _ALL,
}

# Undrained strength that goes with a name, psf, from and to; None where it has no end. The
# consistencies as read in the Texas DOT Geotechnical Manual (LRFD), table 4-2.
STRENGTHS_PSF: dict[str, tuple[float, float | None]] = {
    "very soft or soft clay": (0.0, 500.0),
    "medium clay": (500.0, 1_000.0),
    "marl, stiff or very stiff clay": (1_000.0, 4_000.0),
    "hard clay": (4_000.0, None),
    "peat or organic soil": (0.0, 500.0),
    "soft loam or marl, soft loess, stiff cliff": (0.0, 1_000.0),
}
# Soils whose total weight may well be near that of water.
LIGHT_SOILS = ("peat or organic soil",)


@dataclass(frozen=True)
class SoilResponse:
    """How a soil answers vibration.

    factor: its resistance while vibrating, as a share of the static one, and where that is from.
    needed_amplitude_in: amplitude from peak to peak that moves a pile in it, and where that is
        from.
    kinds: of layer it fits. Where not given: those of its name in the table above, else all.
    """

    name: str
    factor: float
    factor_source: str
    needed_amplitude_in: float
    amplitude_source: str = COMMON_PRACTICE
    kinds: tuple[LayerKind, ...] = ()

    def __post_init__(self) -> None:
        kinds = self.kinds or KINDS.get(self.name, _ALL)
        set_checked(
            self,
            kinds=tuple(LayerKind(each) for each in kinds),
            factor=positive("factor", self.factor, "of the static resistance"),
            needed_amplitude_in=not_negative("needed_amplitude_in", self.needed_amplitude_in, "in"),
        )


PUBLISHED_SOILS = (
    SoilResponse("round coarse sand", 0.10, JONKER, 0.12),
    SoilResponse("soft loam or marl, soft loess, stiff cliff", 0.12, JONKER, 0.16),
    SoilResponse("round medium sand, round gravel", 0.15, JONKER, 0.12),
    SoilResponse("fine angular gravel, angular loam, angular loess", 0.18, JONKER, 0.16),
    SoilResponse("round fine sand", 0.20, JONKER, 0.16),
    SoilResponse("angular sand, coarse gravel", 0.25, JONKER, 0.16),
    SoilResponse("angular or dry fine sand", 0.35, JONKER, 0.20),
    SoilResponse("marl, stiff or very stiff clay", 0.40, JONKER, 0.24),
)
PRACTICE_SOILS = (
    SoilResponse("silty sand or sandy silt", 0.25, COMMON_PRACTICE, 0.16),
    SoilResponse("silt", 0.25, COMMON_PRACTICE, 0.20),
    SoilResponse("gravel with cobbles", 0.30, COMMON_PRACTICE, 0.20),
    SoilResponse("very soft or soft clay", 0.25, COMMON_PRACTICE, 0.20),
    SoilResponse("medium clay", 0.35, COMMON_PRACTICE, 0.24),
    SoilResponse("hard clay", 0.60, COMMON_PRACTICE, 0.28),
    SoilResponse("peat or organic soil", 0.30, COMMON_PRACTICE, 0.20),
    SoilResponse("glacial till", 0.50, COMMON_PRACTICE, 0.28),
    SoilResponse("mixed fill", 0.40, COMMON_PRACTICE, 0.24),
    SoilResponse("rubble or slag fill", 0.50, COMMON_PRACTICE, 0.24),
    SoilResponse("chalk or weathered rock", 0.60, COMMON_PRACTICE, 0.28),
)
DEFAULT_SOILS = (*PUBLISHED_SOILS, *PRACTICE_SOILS)
