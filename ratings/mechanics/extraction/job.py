"""A pile to be pulled, the ground it stands in and the crane that pulls: one job."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cached_property

from ratings.mechanics.arguments import count, not_negative, number, positive, set_checked
from ratings.mechanics.extraction.holds import OtherHold
from ratings.mechanics.soil import Layer, total_stress_psf

SQUARE_INCHES_PER_SQUARE_FOOT = 144.0


class PileKind(StrEnum):
    """What the pile is."""

    SHEET_PAIR = "sheet pair"
    H = "H"
    PIPE = "pipe"
    TIMBER = "timber"
    CONCRETE = "concrete"

    @property
    def is_steel(self) -> bool:
        """Whether a share of the yield strength says what it may be pulled with."""
        return self in (PileKind.SHEET_PAIR, PileKind.H, PileKind.PIPE)


class PileEnd(StrEnum):
    """How the lower end of a pipe is, and so what of the soil within holds or weighs."""

    CLOSED = "closed"
    OPEN_CORED = "open, cored"
    OPEN_PLUGGED = "open, plugged"
    OPEN_UNKNOWN = "open, not known"


class PullMethod(StrEnum):
    """How the pull is made."""

    VIBRATING = "vibrating all the while"
    STILL = "by the crane alone, hammer still"


@dataclass(frozen=True)
class Pile:
    """The pile.

    area_in2: of its material across. weight_lb_ft: of its own. perimeter_in: what the ground
    rubs on. plug_area_in2: of the soil carried within, 0 where not plugged.
    end: of a pipe; None where nobody was asked, and then plug_area_in2 alone says what weighs.
    inside_perimeter_in: what the soil within rubs on, of an open pipe that cores.
    yield_strength_ksi: of steel. tension_limit_lbf: what it may be pulled with, where somebody
    gives that in place of the steel's own.
    Raises ValueError for a number that can't be, and for an embedment beyond the length.
    """

    kind: PileKind
    weight_lb_ft: float
    perimeter_in: float
    length_ft: float
    embedment_ft: float
    area_in2: float | None = None
    plug_area_in2: float = 0.0
    yield_strength_ksi: float | None = None
    tension_limit_lbf: float | None = None
    end: PileEnd | None = None
    inside_perimeter_in: float = 0.0

    def __post_init__(self) -> None:
        set_checked(
            self,
            kind=PileKind(self.kind),
            end=None if self.end is None else PileEnd(self.end),
            weight_lb_ft=positive("weight_lb_ft", self.weight_lb_ft, "lb/ft"),
            perimeter_in=positive("perimeter_in", self.perimeter_in, "in"),
            length_ft=positive("length_ft", self.length_ft, "ft"),
            embedment_ft=positive("embedment_ft", self.embedment_ft, "ft"),
            plug_area_in2=not_negative("plug_area_in2", self.plug_area_in2, "in²"),
            inside_perimeter_in=not_negative("inside_perimeter_in", self.inside_perimeter_in, "in"),
        )
        for name in ("area_in2", "yield_strength_ksi", "tension_limit_lbf"):
            if getattr(self, name) is not None:
                set_checked(self, **{name: positive(name, getattr(self, name), "")})
        if self.embedment_ft > self.length_ft:
            raise ValueError(
                f"embedment_ft is {self.embedment_ft:g}: give no more than the length of "
                f"{self.length_ft:g} ft"
            )
        self._check_end()

    def _check_end(self) -> None:
        if self.end is None:
            return
        if self.kind is not PileKind.PIPE:
            raise ValueError(
                f"end is {self.end}: give none for a {self.kind} pile, only for a pipe"
            )
        if self.inside_perimeter_in >= self.perimeter_in:
            raise ValueError(
                f"inside_perimeter_in is {self.inside_perimeter_in:g}: give less than the "
                f"{self.perimeter_in:g} in outside"
            )
        if self.end in (PileEnd.OPEN_CORED, PileEnd.OPEN_UNKNOWN) and not self.inside_perimeter_in:
            raise ValueError(
                f"inside_perimeter_in is 0: give it, for the pipe’s end is {self.end} and the soil "
                "within rubs on it"
            )
        if self.end in (PileEnd.OPEN_PLUGGED, PileEnd.OPEN_UNKNOWN) and not self.plug_area_in2:
            raise ValueError(
                f"plug_area_in2 is 0: give it, for the pipe’s end is {self.end} and the soil "
                "within may come up with it"
            )

    @property
    def cored_perimeter_in(self) -> float:
        """Perimeter within on which soil rubs that stays in the ground, in; 0 where none does.

        Of an open pipe that cores, or may.
        """
        is_cored = self.end in (PileEnd.OPEN_CORED, PileEnd.OPEN_UNKNOWN)
        return self.inside_perimeter_in if is_cored else 0.0

    @property
    def weight_lb(self) -> float:
        """Weight of the whole pile, lb."""
        return self.weight_lb_ft * self.length_ft

    def allowed_tension_lbf(self, steel_share: float) -> float | None:
        """Return what it may be pulled with, lbf; None where nobody gave what that rests on.

        What somebody gave for this pile, else for steel its share of the yield strength over its
        area (0.6·F_y·A by default: allowable stress in tension, AISC).
        """
        if self.tension_limit_lbf is not None:
            return self.tension_limit_lbf
        if not self.kind.is_steel or self.area_in2 is None or self.yield_strength_ksi is None:
            return None
        return steel_share * self.yield_strength_ksi * 1000.0 * self.area_in2


@dataclass(frozen=True)
class Crane:
    """The crane and what hangs on it.

    capacity_lbf: for this pull at this radius, from its own chart; None where nobody read it.
    rigging_weight_lb: all between hook and housing.
    rigging_limit_lbf: working load limit of one leg. leg_angle_deg: of a leg from the level.
    parts_of_line, line_limit_lbf: how often the hoist line is reeved, and what a single part of it
        may pull; both or neither.
    radius_ft, boom_ft, is_on_barge: as the chart was read, to be printed.
    """

    capacity_lbf: float | None = None
    hook_block_lb: float = 0.0
    rigging_weight_lb: float = 0.0
    rigging_limit_lbf: float | None = None
    legs: int = 1
    leg_angle_deg: float = 90.0
    parts_of_line: int | None = None
    line_limit_lbf: float | None = None
    is_on_barge: bool = False
    radius_ft: float | None = None
    boom_ft: float | None = None

    def __post_init__(self) -> None:
        set_checked(
            self,
            hook_block_lb=not_negative("hook_block_lb", self.hook_block_lb, "lb"),
            rigging_weight_lb=not_negative("rigging_weight_lb", self.rigging_weight_lb, "lb"),
            legs=count("legs", self.legs, 1),
            leg_angle_deg=positive("leg_angle_deg", self.leg_angle_deg, "°"),
        )
        for name, symbol in (
            ("capacity_lbf", "lbf"),
            ("rigging_limit_lbf", "lbf"),
            ("line_limit_lbf", "lbf"),
            ("radius_ft", "ft"),
            ("boom_ft", "ft"),
        ):
            if getattr(self, name) is not None:
                set_checked(self, **{name: positive(name, getattr(self, name), symbol)})
        if self.parts_of_line is not None:
            set_checked(self, parts_of_line=count("parts_of_line", self.parts_of_line, 1))
        if (self.parts_of_line is None) != (self.line_limit_lbf is None):
            given, lacking = "parts_of_line", "line_limit_lbf"
            if self.parts_of_line is None:
                given, lacking = lacking, given
            raise ValueError(
                f"{lacking} is blank: give it too, for {given} alone says nothing of the hoist line"
            )
        if self.leg_angle_deg > 90.0:
            raise ValueError(f"leg_angle_deg is {self.leg_angle_deg:g}: give 90 or less")
        if self.rigging_limit_lbf is not None and self.rigging_limit_lbf < self.rigging_weight_lb:
            raise ValueError(
                f"rigging_limit_lbf is {self.rigging_limit_lbf:g}: give more than the rigging’s "
                f"own weight of {self.rigging_weight_lb:g} lb"
            )

    @property
    def hoist_limit_lbf(self) -> float | None:
        """What all parts of the hoist line may pull together, lbf; None where not given.

        Friction in the sheaves is left out: it takes of the pull, not of what the line bears.
        """
        if self.parts_of_line is None or self.line_limit_lbf is None:
            return None
        return self.parts_of_line * self.line_limit_lbf

    def allowed_lbf(self, crane_share: float) -> float | None:
        """Return what a pull may load the crane with, lbf; None where nobody read its chart.

        The share of its chart, or what its hoist line may pull, whichever is less. The line's
        limit is a rated one already, of which no share is taken.
        """
        if self.capacity_lbf is None:
            return None
        chart_lbf, line_lbf = crane_share * self.capacity_lbf, self.hoist_limit_lbf
        return chart_lbf if line_lbf is None else min(chart_lbf, line_lbf)

    @property
    def bearing_legs(self) -> int:
        """Legs that bear for sure: a housing is rigid, and may hang on two of any number."""
        return min(self.legs, 2)

    @cached_property
    def leg_factor(self) -> float:
        """Load of one leg as a share of the whole: 1/(n·sin angle), n the legs that bear."""
        return leg_load_factor(self.leg_angle_deg) / self.bearing_legs


def leg_load_factor(angle_deg: float) -> float:
    """Return what a leaning leg bears for each unit it lifts, 1/sin of its angle from level."""
    angle = positive("angle_deg", angle_deg, "°")
    return 1.0 if angle == 90.0 else 1.0 / math.sin(math.radians(angle))


@dataclass(frozen=True)
class SetUp:
    """How much stronger the ground holds since the pile was driven: a factor and its range."""

    low: float = 1.0
    expected: float = 1.0
    high: float = 1.0

    def __post_init__(self) -> None:
        set_checked(
            self,
            low=positive("set-up low", self.low, ""),
            expected=positive("set-up expected", self.expected, ""),
            high=positive("set-up high", self.high, ""),
        )
        if not self.low <= self.expected <= self.high:
            raise ValueError(
                f"set-up is {self.low:g}, {self.expected:g}, {self.high:g}: give them rising"
            )


@dataclass(frozen=True)
class Job:
    """All that an extraction asks of a unit.

    water_depth_ft: below the ground, negative above it, None where there is none.
    haul_limit_mi: the farthest yard to send from, None where it is all one.
    holds: what else holds the pile. days_since_driving: None where not known.
    """

    pile: Pile
    layers: tuple[Layer, ...]
    crane: Crane = field(default_factory=Crane)
    water_depth_ft: float | None = None
    set_up: SetUp = field(default_factory=SetUp)
    method: PullMethod = PullMethod.VIBRATING
    haul_limit_mi: float | None = None
    holds: tuple[OtherHold, ...] = ()
    days_since_driving: float | None = None

    def __post_init__(self) -> None:
        set_checked(self, method=PullMethod(self.method), layers=tuple(self.layers))
        set_checked(self, holds=tuple(self.holds))
        if self.days_since_driving is not None:
            days = not_negative("days_since_driving", self.days_since_driving, "days")
            set_checked(self, days_since_driving=days)
        if self.water_depth_ft is not None:
            set_checked(self, water_depth_ft=number("water_depth_ft", self.water_depth_ft))
        if self.haul_limit_mi is not None:
            set_checked(self, haul_limit_mi=not_negative("haul_limit_mi", self.haul_limit_mi, "mi"))

    @property
    def is_vibrating(self) -> bool:
        """Whether the hammer runs all the while."""
        return self.method is PullMethod.VIBRATING

    @property
    def plug_weight_lb(self) -> float:
        """Weight of the soil carried in a plugged pile, lb.

        Its area times the total weight of the ground down to the toe, water in it included: it
        comes out full, and no deduction is made for water below the level. None of a closed pipe
        and of one that cores, for there it stays in the ground.
        """
        if self.pile.plug_area_in2 == 0.0 or self.pile.end in (
            PileEnd.CLOSED,
            PileEnd.OPEN_CORED,
        ):
            return 0.0
        column_psf = total_stress_psf(self.layers, self.pile.embedment_ft)
        return self.pile.plug_area_in2 / SQUARE_INCHES_PER_SQUARE_FOOT * column_psf

    def possible_ends(self) -> tuple[Job, ...]:
        """Return the job as it may turn out to be: twice where the end of the pipe isn't known.

        Once cored and once plugged; whatever is asked of it then has to hold in both.
        """
        if self.pile.end is not PileEnd.OPEN_UNKNOWN:
            return (self,)
        return tuple(
            replace(self, pile=replace(self.pile, end=end))
            for end in (PileEnd.OPEN_CORED, PileEnd.OPEN_PLUGGED)
        )


@dataclass(frozen=True)
class PileOfJob:
    """One group of like piles of a job: its number from 1, what it is called, how many there are.

    job: one of its piles in its ground under its crane.
    """

    number: int
    label: str
    count: int
    job: Job

    def __post_init__(self) -> None:
        set_checked(self, number=count("number", self.number, 1))
        set_checked(self, count=count("count", self.count, 1))
