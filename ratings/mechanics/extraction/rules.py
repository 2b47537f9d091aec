"""How the yard judges an extraction: margins, the soils under vibration, and ranges."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from ratings.mechanics.arguments import count, number, positive, set_checked
from ratings.mechanics.extraction.job import Pile, PileEnd, PileKind
from ratings.mechanics.extraction.soils import DEFAULT_SOILS, SoilResponse


class BelowListing(StrEnum):
    """What becomes of a unit below its listing: it stays in the yard, or goes with care."""

    REFUSE = "refuse"
    CARE = "care"


class Criterion(StrEnum):
    """How the force of vibration and the line pull are held against the ground.

    EACH_ALONE asks each to do by itself: the turning weights make all of the force that breaks
    the vibrated resistance, and the pads carry the vibrated resistance with all weights. ADDED is
    the published criterion (US Army EI 02G001, 1997; UFC 3-220-02): force of vibration and line
    pull together exceed the reduced resistance, and the peak acceleration is no less than one
    that goes by the kind of pile.
    EACH_ALONE is stricter: where either alone carries all, the sum carries it with one of them to
    spare, while the sum may pass with neither near it. It also leaves the pull something should
    the hammer falter, and the published reduced resistance holds only while it runs at speed.
    """

    EACH_ALONE = "each alone"
    ADDED = "added together"


@dataclass(frozen=True)
class ExtractionPolicy:
    """How the yard judges an extraction.

    care_margin: supply over demand below which a check holds only with care.
    low_factor, high_factor: range of the ground's resistance about what is expected.
    jaw_friction: friction of the clamp's jaws on the pile, a ratio.
    steel_share: share of the yield strength steel may be pulled to.
    inspection_days: how old a unit's last inspection may be on the first day.
    below_listing: one of BelowListing, by its value.
    crane_share: of the crane's chart that a pull may use, for a pile that breaks free of a sudden
        lets the boom recoil; common practice, no published source.
    criterion: one of Criterion, by its value: which of the two judges. Both are shown.
    open_acceleration_g, closed_acceleration_g, massive_acceleration_g: the least peak
        acceleration of the published criterion for steel sheets, H piles and open pipes; closed
        pipes; concrete and timber (EI 02G001, page 2-13: 9, 5 and 3 g).
    longest_hold_days: how many days a job may hold a unit, both ends counted.
    """

    care_margin: float = 1.25
    low_factor: float = 0.7
    high_factor: float = 1.5
    jaw_friction: float = 0.3
    steel_share: float = 0.6
    inspection_days: int = 31
    below_listing: str = BelowListing.REFUSE.value
    crane_share: float = 0.75
    criterion: str = Criterion.EACH_ALONE.value
    open_acceleration_g: float = 9.0
    closed_acceleration_g: float = 5.0
    massive_acceleration_g: float = 3.0
    longest_hold_days: int = 180
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
            crane_share=positive("crane_share", self.crane_share, "of the chart"),
            open_acceleration_g=positive("open_acceleration_g", self.open_acceleration_g, "g"),
            closed_acceleration_g=positive(
                "closed_acceleration_g", self.closed_acceleration_g, "g"
            ),
            massive_acceleration_g=positive(
                "massive_acceleration_g", self.massive_acceleration_g, "g"
            ),
            longest_hold_days=count("longest_hold_days", self.longest_hold_days, 1),
        )
        names = [soil.name for soil in self.soils]
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f"“{name}” is in the table of soils twice: give it once")
        if self.care_margin < 1.0:
            raise ValueError(f"care_margin is {self.care_margin:g}: give 1 or more")
        if self.steel_share > 1.0:
            raise ValueError(f"steel_share is {self.steel_share:g}: give 1 or less")
        if self.crane_share > 1.0:
            raise ValueError(f"crane_share is {self.crane_share:g}: give 1 or less")
        if self.criterion not in tuple(Criterion):
            raise ValueError(
                f"criterion is {self.criterion!r}: give 'each alone' or 'added together'"
            )
        if number("low_factor", self.low_factor) > 1.0 or self.high_factor < 1.0:
            raise ValueError("low_factor and high_factor must have 1 between them")
        if self.below_listing not in tuple(BelowListing):
            raise ValueError(f"below_listing is {self.below_listing!r}: give 'refuse' or 'care'")

    @property
    def adds_forces(self) -> bool:
        """Whether the published criterion judges, and not each force alone."""
        return self.criterion == Criterion.ADDED

    def needed_acceleration_g(self, pile: Pile) -> float:
        """Return the least peak acceleration the published criterion asks for a pile, g.

        A pipe of which nobody said that it is closed counts as open, which asks more.
        """
        if pile.kind in (PileKind.CONCRETE, PileKind.TIMBER):
            return self.massive_acceleration_g
        if pile.end is PileEnd.CLOSED:
            return self.closed_acceleration_g
        return self.open_acceleration_g

    def soil(self, name: str) -> SoilResponse:
        """Return a soil of the table. Raises ValueError for a name it doesn't have."""
        for soil in self.soils:
            if soil.name == name:
                return soil
        raise ValueError(f"“{name}” is not in the policy’s table of soils: choose one that is")
