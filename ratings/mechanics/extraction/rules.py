"""How the yard judges an extraction: margins, the soils under vibration, and ranges."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from ratings.mechanics.arguments import count, number, positive, set_checked
from ratings.mechanics.extraction.soils import DEFAULT_SOILS, SoilResponse


class BelowListing(StrEnum):
    """What becomes of a unit below its listing: it stays in the yard, or goes with care."""

    REFUSE = "refuse"
    CARE = "care"


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
