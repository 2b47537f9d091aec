"""How the yard judges an extraction: margins, the soils under vibration, and ranges."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from ratings.mechanics.arguments import count, not_negative, number, positive, set_checked
from ratings.mechanics.soil import LayerKind

JONKER = "Jonker 1987, OTC 5422"
COMMON_PRACTICE = "common practice, no published source"


_GRANULAR = (LayerKind.GRANULAR, LayerKind.OTHER)
_COHESIVE = (LayerKind.COHESIVE, LayerKind.OTHER)
# Kinds of layer the soils of these names fit. Rules on record from before kinds were asked read
# theirs here; a soil of a name the yard made up fits all.
KINDS: dict[str, tuple[LayerKind, ...]] = {
    "round coarse sand": _GRANULAR,
    "soft loam or marl, soft loess, stiff cliff": tuple(LayerKind),
    "round medium sand, round gravel": _GRANULAR,
    "fine angular gravel, angular loam, angular loess": tuple(LayerKind),
    "round fine sand": _GRANULAR,
    "angular sand, coarse gravel": _GRANULAR,
    "angular or dry fine sand": _GRANULAR,
    "marl, stiff or very stiff clay": _COHESIVE,
}


class BelowListing(StrEnum):
    """What becomes of a unit below its listing: it stays in the yard, or goes with care."""

    REFUSE = "refuse"
    CARE = "care"


@dataclass(frozen=True)
class SoilResponse:
    """How a soil answers vibration.

    factor: its resistance while vibrating, as a share of the static one, and where that is from.
    needed_amplitude_in: amplitude from peak to peak that moves a pile in it, and where that is
        from.
    kinds: of layer it fits. Where not given: those of its name in the table below, else all.
    """

    name: str
    factor: float
    factor_source: str
    needed_amplitude_in: float
    amplitude_source: str = COMMON_PRACTICE
    kinds: tuple[LayerKind, ...] = ()

    def __post_init__(self) -> None:
        kinds = self.kinds or KINDS.get(self.name, tuple(LayerKind))
        set_checked(
            self,
            kinds=tuple(LayerKind(each) for each in kinds),
            factor=positive("factor", self.factor, "of the static resistance"),
            needed_amplitude_in=not_negative("needed_amplitude_in", self.needed_amplitude_in, "in"),
        )


DEFAULT_SOILS = (
    SoilResponse("round coarse sand", 0.10, JONKER, 0.12),
    SoilResponse("soft loam or marl, soft loess, stiff cliff", 0.12, JONKER, 0.16),
    SoilResponse("round medium sand, round gravel", 0.15, JONKER, 0.12),
    SoilResponse("fine angular gravel, angular loam, angular loess", 0.18, JONKER, 0.16),
    SoilResponse("round fine sand", 0.20, JONKER, 0.16),
    SoilResponse("angular sand, coarse gravel", 0.25, JONKER, 0.16),
    SoilResponse("angular or dry fine sand", 0.35, JONKER, 0.20),
    SoilResponse("marl, stiff or very stiff clay", 0.40, JONKER, 0.24),
)


@dataclass(frozen=True)
class ExtractionPolicy:
    """How the yard judges an extraction.

    care_margin: supply over demand below which a check holds only with care.
    low_factor, high_factor: range of the ground's resistance about what is expected.
    jaw_friction: friction of the clamp's jaws on the pile, a ratio.
    steel_share: share of the yield strength steel may be pulled to.
    inspection_days: how old a unit's last inspection may be on the first day.
    below_listing: one of BelowListing, by its value.
    """

    care_margin: float = 1.25
    low_factor: float = 0.7
    high_factor: float = 1.5
    jaw_friction: float = 0.3
    steel_share: float = 0.6
    inspection_days: int = 31
    below_listing: str = BelowListing.REFUSE.value
    soils: tuple[SoilResponse, ...] = field(default=DEFAULT_SOILS)

    def __post_init__(self) -> None:
        set_checked(
            self,
            care_margin=positive("care_margin", self.care_margin, ""),
            low_factor=positive("low_factor", self.low_factor, ""),
            high_factor=positive("high_factor", self.high_factor, ""),
            jaw_friction=positive("jaw_friction", self.jaw_friction, ""),
            steel_share=positive("steel_share", self.steel_share, ""),
            inspection_days=count("inspection_days", self.inspection_days, 1),
        )
        names = [soil.name for soil in self.soils]
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f"“{name}” is in the table of soils twice: give it once")
        if self.care_margin < 1.0:
            raise ValueError(f"care_margin is {self.care_margin:g}: give 1 or more")
        if self.steel_share > 1.0:
            raise ValueError(f"steel_share is {self.steel_share:g}: give 1 or less")
        if number("low_factor", self.low_factor) > 1.0 or self.high_factor < 1.0:
            raise ValueError("low_factor and high_factor must have 1 between them")
        if self.below_listing not in tuple(BelowListing):
            raise ValueError(f"below_listing is {self.below_listing!r}: give 'refuse' or 'care'")

    def soil(self, name: str) -> SoilResponse:
        """Return a soil of the table. Raises ValueError for a name it doesn't have."""
        for soil in self.soils:
            if soil.name == name:
                return soil
        raise ValueError(f"“{name}” is not in the policy’s table of soils: choose one that is")
