"""Whether a lot's tests agree with one another, and which of them count until a person says."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from ratings.mechanics.agreement import e_n
from ratings.mechanics.arguments import number, set_checked
from ratings.mechanics.pooling import BenchRate, pad_weights, pool, single_pads, weights_of
from ratings.mechanics.surveillance import Slope, TrendPoint, fit_trend
from ratings.mechanics.uncertainty import updated_spread

DAYS_IN_A_YEAR = 365.25
# Tests within so many days of the first of them were made on one occasion.
ONE_OCCASION_DAYS = 7.0
# Expanded uncertainties are twice the standard ones (ISO 13528, EURAMET; from memory).
EXPANDED = 2.0
# A lot softer by this share must not be averaged away by its older tests. Of tests of one pad or
# two of a lot that has lost 3, 5 or 10 % since, it leaves no more than 5 % of true pulls below the
# working capacity (Monte Carlo in the tests).
SOFTER_SHARE = 0.08
# One-sided 95 % of the normal distribution: how surely it must not.
SURE = 1.645


class Counts(StrEnum):
    """Which of a lot's tests count."""

    ALL = "all"
    NEWEST = "newest"
    REST = "rest"


@dataclass(frozen=True)
class DatedRate:
    """The rate a test found, of pads over the same stretch as the others it is held to.

    day: on any calendar of days. stand: whose errors it shares, by name.
    """

    day: float
    rate: BenchRate
    stand: str = ""

    def __post_init__(self) -> None:
        set_checked(self, day=number("day", self.day))


@dataclass(frozen=True)
class Spreading:
    """How pads are taken to differ: standard deviation, % of the rate, and its freedom."""

    pct: float
    degrees_of_freedom: float = math.inf


@dataclass(frozen=True)
class Difference:
    """The mean rate of newer tests less that of older ones, lbf/in.

    standard_lbf_in: standard uncertainty of the difference; what both share is not in it.
    """

    newer_lbf_in: float
    older_lbf_in: float
    standard_lbf_in: float

    @property
    def change_lbf_in(self) -> float:
        """By how much the newer lies above the older; below 0 where it is softer."""
        return self.newer_lbf_in - self.older_lbf_in

    @property
    def en(self) -> float:
        """E_n = |x₁ − x₂| / √(U₁² + U₂²) with U = 2u (ISO 13528; from memory): 1 or less agrees.

        What the two share, the stand's errors and pads stretched in both, is left out of U.
        """
        if self.change_lbf_in == 0.0:
            return 0.0
        expanded = EXPANDED * self.standard_lbf_in
        return (
            abs(e_n(self.newer_lbf_in, expanded, self.older_lbf_in, 0.0)) if expanded else math.inf
        )

    @property
    def in_standards(self) -> float:
        """The change in standard uncertainties of it."""
        return math.copysign(EXPANDED * self.en, self.change_lbf_in)

    @property
    def would_miss_softening(self) -> bool:
        """Whether a lot 8 % softer could hide in this difference.

        Such a lot shows a change below −(0.08·older − 1.645·u) in 95 of 100 cases. A change as
        far down as that, and any of one standard uncertainty down, is taken for softening: the
        older tests would otherwise carry a soft lot over its working capacity.
        """
        seen = SOFTER_SHARE * self.older_lbf_in - SURE * self.standard_lbf_in
        return self.change_lbf_in < -min(self.standard_lbf_in, max(0.0, seen))


@dataclass(frozen=True)
class Agreement:
    """What a lot's tests say of one another.

    counted: places of the tests that count, in the list given. newest: of those of the newest
    occasion. difference: of the newest occasion from the rest; None with one occasion.
    trend: of all over time, per year; None with fewer than three occasions.
    is_open: whether they disagree, so that the lower hold until a person decides.
    why: in words, why not all count; "" where all do.
    """

    counted: tuple[int, ...]
    newest: tuple[int, ...]
    difference: Difference | None
    trend: Slope | None
    is_open: bool
    why: str


def occasions(tests: Sequence[DatedRate]) -> list[list[int]]:
    """Return the places of the tests of each occasion, the oldest first."""
    found: list[list[int]] = []
    begun = -math.inf
    for place in sorted(range(len(tests)), key=lambda i: tests[i].day):
        if not found or tests[place].day - begun > ONE_OCCASION_DAYS:
            found.append([])
            begun = tests[place].day
        found[-1].append(place)
    return found


def difference(
    newer: Sequence[DatedRate], older: Sequence[DatedRate], spread: Spreading
) -> Difference:
    """Hold newer tests of a lot against older ones; one of each at the least.

    The variance of the difference Σ c·k, c being each test's weight, less than 0 for the older:
    Σ(c·u)² of the tests' own, σ²·Σ(Σ c/n)² over distinct pads, (Σ c·u_stand)² for each stand,
    and τ²·Σc², τ from the older alone. Pads without a mark are here taken for others each time.
    σ: as given, updated by single pads, each held to the mean of its own side.
    """
    sides = ([each.rate for each in newer], [each.rate for each in older])
    mean = math.fsum(each.rate_lbf_in for each in sides[1]) / len(older)
    sd = _spread(sides, mean * spread.pct / 100.0, spread.degrees_of_freedom)
    between = pool(sides[1], spread.pct, spread.degrees_of_freedom).between_lbf_in
    weights = [weights_of(side, sd) for side in sides]
    means = [
        math.fsum(w * each.rate_lbf_in for w, each in zip(weight, side, strict=True))
        for weight, side in zip(weights, sides, strict=True)
    ]
    signed = [*weights[0], *(-each for each in weights[1])]
    tests = [*newer, *older]
    own = math.fsum((c * each.rate.own_lbf_in) ** 2 for c, each in zip(signed, tests, strict=True))
    shares = pad_weights([each.rate for each in tests], signed, are_unmarked_alike=False)
    stands: dict[str, float] = {}
    for c, each in zip(signed, tests, strict=True):
        stands[each.stand] = stands.get(each.stand, 0.0) + c * each.rate.common_lbf_in
    variance = math.fsum(
        (
            own,
            sd * sd * math.fsum(share * share for share in shares),
            math.fsum(part * part for part in stands.values()),
            between * between * math.fsum(c * c for c in signed),
        )
    )
    return Difference(means[0], means[1], math.sqrt(variance))


def agree(
    tests: Sequence[DatedRate], spread: Spreading, decision: Counts | None = None
) -> Agreement:
    """Say which of a lot's tests count, one at the least given.

    The newest occasion is held against the rest, and every later part against all before it;
    a line is laid through all over time. Where the lot fell, by more than twice the standard
    uncertainty at any occasion or along the line, what came after counts alone. Where it rose by
    as much and the newest is still up, what was before counts: of two that disagree the lower
    holds, until a person decides. Short of that, a newest occasion that lies below the rest
    counts alone where a lot 8 % softer could hide in the difference.

    decision: which count by a person's word, the newest occasion, the rest or all.
    """
    groups = occasions(tests)
    newest, rest = groups[-1], [place for group in groups[:-1] for place in group]
    if not rest:
        return Agreement(tuple(sorted(newest)), tuple(newest), None, None, False, "")
    against_rest = difference(_at(tests, newest), _at(tests, rest), spread)
    trend = _trend(tests, groups, spread)
    counted, is_open, why = _held(tests, groups, spread, against_rest, trend)
    if decision is not None:
        counted = {Counts.ALL: newest + rest, Counts.NEWEST: newest, Counts.REST: rest}[decision]
        is_open = False
        why = {
            Counts.ALL: "",
            Counts.NEWEST: "the newest alone counts by decision",
            Counts.REST: "the newest does not count by decision",
        }[decision]
    return Agreement(
        tuple(sorted(counted)), tuple(sorted(newest)), against_rest, trend, is_open, why
    )


def _held(
    tests: Sequence[DatedRate],
    groups: list[list[int]],
    spread: Spreading,
    against_rest: Difference,
    trend: Slope | None,
) -> tuple[list[int], bool, str]:
    """Which tests count while nobody has decided, whether somebody should, and why not all."""
    everything = [place for group in groups for place in group]
    falls, rises = _significant(trend)
    splits = [_split(tests, groups, place, spread) for place in range(1, len(groups))]
    steps = [each.in_standards for each in splits]
    # A line may fall by next to nothing, and surely: then no occasion stands apart.
    if (falls and min(steps) < -1.0) or min(steps) < -EXPANDED:
        at = 1 + steps.index(min(steps))
        counted, _, _ = _after(tests, groups[at:], spread)
        return counted, True, "softer since: the older do not count"
    if against_rest.in_standards > EXPANDED:
        stiffer = "stiffer at last: the lower, older ones count until a person decides"
        return [place for group in groups[:-1] for place in group], True, stiffer
    is_up = against_rest.change_lbf_in > 0.0
    if is_up and ((rises and max(steps) > 1.0) or max(steps) > EXPANDED):
        at = 1 + steps.index(max(steps))
        counted = [place for group in groups[:at] for place in group]
        return counted, True, "stiffer since: the lower, older ones count until a person decides"
    if against_rest.would_miss_softening:
        return (
            groups[-1],
            False,
            "the newest is lower, and a lot 8 % softer could hide in the difference",
        )
    return everything, False, ""


def _after(
    tests: Sequence[DatedRate], groups: list[list[int]], spread: Spreading
) -> tuple[list[int], bool, str]:
    """What counts among the tests that came after a lot fell."""
    if len(groups) == 1:
        return groups[0], False, ""
    newest, rest = groups[-1], [place for group in groups[:-1] for place in group]
    against_rest = difference(_at(tests, newest), _at(tests, rest), spread)
    return _held(tests, groups, spread, against_rest, _trend(tests, groups, spread))


def _split(
    tests: Sequence[DatedRate], groups: list[list[int]], at: int, spread: Spreading
) -> Difference:
    newer = [place for group in groups[at:] for place in group]
    older = [place for group in groups[:at] for place in group]
    return difference(_at(tests, newer), _at(tests, older), spread)


def _significant(trend: Slope | None) -> tuple[bool, bool]:
    """Whether a trend falls, and whether it rises, by more than its two-sided band."""
    if trend is None or trend.per_unit == 0.0:
        return False, False
    low, high = trend.band()
    return high < 0.0, low > 0.0


def _trend(tests: Sequence[DatedRate], groups: list[list[int]], spread: Spreading) -> Slope | None:
    if len(groups) < 3 or spread.pct == 0.0:
        return None
    first = min(test.day for test in tests)
    points = [
        TrendPoint(
            at=(test.day - first) / DAYS_IN_A_YEAR,
            rate_lbf_in=test.rate.rate_lbf_in,
            pads=test.rate.pads_in_test,
            own_lbf_in=test.rate.own_lbf_in,
            stand=test.stand,
            stand_lbf_in=test.rate.common_lbf_in,
        )
        for test in (tests[place] for group in groups for place in group)
    ]
    return fit_trend(points, spread.pct).slope


def _at(tests: Sequence[DatedRate], places: Sequence[int]) -> list[DatedRate]:
    return [tests[place] for place in places]


def _spread(sides: Sequence[Sequence[BenchRate]], assumed: float, freedom: float) -> float:
    found = single_pads(sides)
    groups = sum(1 for side in sides if any(t.pads_in_test == 1 and t.marks for t in side))
    more = found.pads - groups
    if more < 1:
        return assumed
    measured = math.sqrt(found.squares / more)
    return updated_spread(assumed, freedom, measured, more)[0]
