"""What the extraction check needs to know of one unit."""

from __future__ import annotations

from dataclasses import dataclass

from ratings.mechanics.arguments import LARGEST, count, not_negative, number, positive, set_checked
from ratings.mechanics.extraction.job import PileKind
from ratings.mechanics.linepull import PadGroup, ProofFactor
from ratings.mechanics.standing import Standing

_NOT_NEGATIVE = (
    ("housing_weight_lb", "lb"),
    ("clamp_weight_lb", "lb"),
    ("distance_mi", "mi"),
    ("travel_uncertainty_in", "in"),
)
_POSITIVE = (
    ("usable_travel_in", "in"),
    ("eccentric_moment_lb_in", "lb·in"),
    ("frequency_vpm", "vpm"),
    ("exciter_weight_lb", "lb"),
    ("clamp_force_lbf", "lbf"),
)


@dataclass(frozen=True)
class Unit:
    """A hammer under its suppressor housing. None where a fact is not recorded.

    groups, usable_travel_in, travel_uncertainty_in, confidence: what its rating rests on;
        usable_travel_in is None where the unit is unrated.
    exciter_weight_lb, clamp_weight_lb: hang below the pads; housing_weight_lb above them.
    clamp_force_lbf: with which the jaws press.
    stale_lots: lots fitted whose rate is stale. lapsing_lots: whose rate will be before the last
        day is over; drops_stale: whether the yard's rule drops such a rate, so that the unit's
        rating changes.
    watched_by: the load indicator that watches the pull, "" where none is named; None where
        nobody was asked. calibration_lapsing: instruments the pull is watched by whose calibration
        is not in date on every day of the hold; None where nothing is asked of it.
    days_since_count: on the first day of the job, since the last full count of its pads with its
        travel taped; None where there is none. days_held: from the first day to the last.
    is_ahead: whether the first day is yet to come, so that something can still be done.
    clamp_kinds: the kinds of pile its jaws hold, PileKind values; None where not recorded.
    stiff_groups: every pad fitted, sound or not, at its full measured force, for the most the
        pads may pull at a stretch. unknown_stiffness: pads fitted of no known rate; "" where
        there are none, None where nothing is known of the pads that don't count.
    out_of_service, committed: why, and to what, "" where it isn't.
    distance_mi: from the unit's yard to the site.
    proof: what a proof pull found of the unit, None where none tells.
    rating_format: format of the ledger entry its pads are rated by.
    Raises ValueError for a number that can't be.
    """

    mark: str
    groups: tuple[PadGroup, ...] = ()
    usable_travel_in: float | None = None
    travel_uncertainty_in: float = 0.0
    confidence: float = 0.95
    standing: Standing = Standing.UNRATED
    eccentric_moment_lb_in: float | None = None
    frequency_vpm: float | None = None
    exciter_weight_lb: float | None = None
    clamp_weight_lb: float | None = None
    clamp_force_lbf: float | None = None
    housing_weight_lb: float | None = None
    stale_lots: tuple[str, ...] = ()
    days_since_count: int | None = None
    out_of_service: str = ""
    committed: str = ""
    distance_mi: float | None = None
    proof: ProofFactor | None = None
    rating_format: int = 4
    clamp_kinds: tuple[str, ...] | None = None
    days_held: int = 0
    is_ahead: bool = False
    lapsing_lots: tuple[str, ...] = ()
    drops_stale: bool = False
    calibration_lapsing: tuple[str, ...] | None = None
    stiff_groups: tuple[PadGroup, ...] = ()
    unknown_stiffness: str | None = None
    watched_by: str | None = None

    def __post_init__(self) -> None:
        set_checked(self, standing=Standing(self.standing))
        # A fleet is made of a thousand of these, nearly all of them as they have to be.
        for name in ("groups", "stale_lots", "lapsing_lots", "stiff_groups"):
            if type(given := getattr(self, name)) is not tuple:
                set_checked(self, **{name: tuple(given)})
        for name, symbol in _NOT_NEGATIVE:
            given = getattr(self, name)
            if given is not None and (type(given) is not float or not 0.0 <= given < LARGEST):
                set_checked(self, **{name: not_negative(name, given, symbol)})
        for name, symbol in _POSITIVE:
            given = getattr(self, name)
            if given is not None and (type(given) is not float or not 0.0 < given < LARGEST):
                set_checked(self, **{name: positive(name, given, symbol)})
        if self.days_since_count is not None:
            days = max(0.0, number("days_since_count", self.days_since_count))
            set_checked(self, days_since_count=count("days_since_count", days, 0))
        for name, least in (("days_held", 0), ("rating_format", 1)):
            if type(given := getattr(self, name)) is not int or not least <= given < LARGEST:
                set_checked(self, **{name: count(name, given, least)})
        if self.calibration_lapsing is not None:
            set_checked(self, calibration_lapsing=tuple(self.calibration_lapsing))
        if self.clamp_kinds is not None:
            kinds = tuple(PileKind(each) for each in self.clamp_kinds)
            set_checked(self, clamp_kinds=kinds)
