"""Which pads bring short units to their listing: of which lots, into which positions.

Pads of one lot on one side are alike, so a way to fit a unit is a count of pads by lot and side.
Working capacity is no linear function of such counts, so every way is rated by `rate_unit`, which
alone judges it; a bound that no rating can pass keeps most of them from being rated. The ways of
each unit that no other way beats are then chosen among, for all units that share shelves, by
HiGHS (`scipy.optimize.milp`), one aim after the other.

Empty and unsound positions of a side are filled first; only where none is left there does a plan
put a pad in place of a sound one. It never asks for more travel: stops and housing stay as they
are.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from itertools import combinations, product
from typing import Any

from ratings.mechanics.arguments import count, positive
from ratings.mechanics.counting import ALIKE_LBF
from ratings.mechanics.load_curve import CurveDoubt
from ratings.mechanics.standing import Standing
from ratings.mechanics.uncertainty import coverage_factor
from ratings.mechanics.unit_rating import (
    SIDES,
    SOUND,
    LotRate,
    LotRubber,
    Position,
    UnitInputs,
    UnitRating,
    pad_groups,
    rate_unit,
)
from ratings.mechanics.what_if import TestFurther, lots_to_test_further, travel_to_meet

TIME_LIMIT_S = 8.0
# Ways rated for one unit before the best found so far has to do.
MOST_RATINGS = 1_500
# For each of them so many are looked at: most are beaten by another way, or by the bound.
LOOKS_PER_RATING = 40


class Goal(StrEnum):
    """What a plan is to be best at, once as many units as can be are ready."""

    FEWEST = "fewest pads"
    CHEAPEST = "least cost"
    READY = "most units ready for the committed jobs"


@dataclass(frozen=True)
class Source:
    """Pads of one lot that lie on a shelf, or hang in another unit and may be taken out of it.

    price: of one pad in the smallest coin of one currency, None where not known. unit: the key of
    the unit they hang in, "" for a shelf. rubber_in: between plates, None where not on record.
    is_bought: whether they are still to be bought. days: until they are at hand.
    Raises ValueError for a negative number of pads or price.
    """

    key: str
    rate: LotRate
    pads: int
    price: int | None = None
    unit: str = ""
    rubber_in: float | None = None
    is_bought: bool = False
    days: int = 0

    def __post_init__(self) -> None:
        count("pads", self.pads, 0)
        count("days", self.days, 0)
        if self.price is not None:
            count("price", self.price, 0)


@dataclass(frozen=True)
class Need:
    """What a job that holds a unit asks of its pads.

    key: of the commitment. days: until its first day, 0 once that has come. is_met: says of the
    pads of a unit, and of what they are rated to, whether they do; more or stiffer pads never make
    it False. least_lbf: the working capacity below which it is sure to be False.
    """

    key: str
    days: int
    is_met: Callable[[UnitInputs, UnitRating], bool]
    least_lbf: float = 0.0


@dataclass(frozen=True)
class ShortUnit:
    """A unit to restore, the keys of the sources within its reach, and what jobs ask of it."""

    key: str
    inputs: UnitInputs
    sources: tuple[str, ...]
    needs: tuple[Need, ...] = ()


@dataclass(frozen=True)
class Way:
    """Pads in these positions, each with its new lot, and the rating that gives.

    replaced: which of the positions hold a sound pad now. met: keys of the needs it meets, where
    those were asked for.
    """

    placed: tuple[Position, ...]
    rating: UnitRating
    replaced: tuple[Position, ...] = ()
    met: frozenset[str] = frozenset()

    @property
    def meets_listing(self) -> bool:
        """Whether it brings the unit to its listing."""
        return self.rating.standing is Standing.MEETS_LISTING

    @property
    def pads(self) -> int:
        """How many pads."""
        return len(self.placed)

    @property
    def by_lot(self) -> tuple[tuple[str, int], ...]:
        """Pads of each lot, by its mark."""
        return tuple(sorted(Counter(each.lot or "" for each in self.placed).items()))


@dataclass(frozen=True)
class Outlook:
    """The best that can be had of a unit that no pads bring to its listing.

    way: the pads that give the largest working capacity, None where none raises it.
    travel_in: the travel with which those pads would meet the listing; rate_lbf_in: how stiff
    each of the pads put in would have to be. None where no such figure exists.
    """

    way: Way | None
    travel_in: float | None
    rate_lbf_in: float | None


@dataclass(frozen=True)
class Restored:
    """What a plan does for one unit.

    before: its rating now. way: what is fitted, None where nothing; from_source: how many pads
    come from each source, for the way or that of the outlook. further: what testing its lots
    further would give, best first. outlook: for one that no pads in reach bring to its listing,
    of the pads no other unit of the plan gets. is_left_out: whether some would, but other units
    go first. is_giver: whether its own pads go into other units, so that it gets none.
    met_before, met: keys of the needs that are met by its pads now, and in time by the plan; of
    READY only.
    """

    key: str
    before: UnitRating
    way: Way | None = None
    from_source: tuple[tuple[str, int], ...] = ()
    further: tuple[TestFurther, ...] = ()
    outlook: Outlook | None = None
    is_left_out: bool = False
    is_giver: bool = False
    met_before: frozenset[str] = frozenset()
    met: frozenset[str] = frozenset()

    @property
    def is_restored(self) -> bool:
        """Whether it is short of its listing, and brought to it."""
        is_short = self.before.standing is not Standing.MEETS_LISTING
        return is_short and self.way is not None and self.way.meets_listing


@dataclass(frozen=True)
class RestoringPlan:
    """The best plan for the units asked about.

    cost: in the smallest coin; None where a pad used has no price. unpriced: lots in reach that
    have none: by least cost they are not used. most_ready, least: where the plan isn't proven
    the best, what no plan can pass: units ready, and pads (or cost) for as many as this one has.
    """

    units: tuple[Restored, ...]
    goal: Goal
    cost: int | None
    unpriced: tuple[str, ...]
    is_proven: bool
    most_ready: int | None = None
    least: int | None = None

    @property
    def ready(self) -> int:
        """How many units it brings to their listing."""
        return sum(each.is_restored for each in self.units)

    @property
    def jobs_ready(self) -> int:
        """How many needs of jobs are met in time; of READY only."""
        return sum(len(each.met) for each in self.units)

    @property
    def pads(self) -> int:
        """How many pads it fits."""
        return sum(each.way.pads for each in self.units if each.way)


def best_plan(
    units: Iterable[ShortUnit],
    sources: Iterable[Source],
    goal: Goal,
    *,
    time_limit_s: float = TIME_LIMIT_S,
    most_ratings: int = MOST_RATINGS,
) -> RestoringPlan:
    """Return the plan that restores these units best; the same facts give the same plan.

    By READY first as many needs of jobs are met as can be, each by its first day. Then as many
    units as can be are brought to their listing, then the fewest pads are used, or what costs
    least; then the fewest are bought, then the fewest taken out of other units. A unit that gives
    pads away is not restored itself.
    By CHEAPEST a lot without a price is left out, and named. most_ratings: for each unit.
    Raises ValueError where two units or sources have one key, or a source is not known.
    """
    listed = sorted(units, key=lambda each: each.key)
    by_key = {each.key: each for each in sorted(sources, key=lambda each: each.key)}
    _check(listed, by_key)
    reached = {key for unit in listed for key in unit.sources}
    unpriced = {by_key[key].rate.lot for key in reached if by_key[key].price is None}
    if goal is Goal.CHEAPEST:
        by_key = {key: each for key, each in by_key.items() if each.price is not None}
    searches = [
        _Search(
            unit,
            [by_key[key] for key in sorted(unit.sources) if key in by_key],
            goal=goal,
            is_alone=len(listed) == 1,
            most_ratings=most_ratings,
        )
        for unit in listed
    ]
    program = _Program(searches, by_key, goal, time_limit_s)
    is_proven = program.solve() and all(each.is_complete for each in searches)
    chosen = {search.unit.key: program.chosen(search) for search in searches}
    left = _Left(by_key)
    for key, (way, draws) in chosen.items():
        left.take(key if way else "", draws)
    done = [
        replace(
            _restored(search, *chosen[search.unit.key], left),
            met_before=search.met_now,
            met=program.met(search),
        )
        for search in searches
    ]
    used = [
        (by_key[key].price, many) for each in done if each.way for key, many in each.from_source
    ]
    cost = (
        sum(price * many for price, many in used if price is not None)
        if all(price is not None for price, _ in used)
        else None
    )
    plan = RestoringPlan(tuple(done), goal, cost, tuple(sorted(unpriced)), is_proven)
    return plan if is_proven else replace(plan, **_bounds(searches, by_key, plan))


def _check(units: Sequence[ShortUnit], sources: Mapping[str, Source]) -> None:
    if len({each.key for each in units}) != len(units):
        raise ValueError("two units have one key")
    for unit in units:
        unknown = sorted(set(unit.sources) - set(sources))
        if unknown:
            raise ValueError(f"{unit.key} draws on {unknown[0]}, which is no source given")


class _Left:
    """The pads of every source that no unit of a plan has got yet."""

    def __init__(self, sources: Mapping[str, Source]) -> None:
        self.sources = dict(sources)
        self.givers: set[str] = set()

    def take(self, fitted: str, draws: Iterable[tuple[str, int]]) -> None:
        """Take what a unit draws; once fitted it gives nothing away itself."""
        for key, many in draws:
            source = self.sources[key]
            self.sources[key] = replace(source, pads=source.pads - many)
            self.givers |= {source.unit} - {""}
        if fitted:
            self.sources = {
                key: replace(each, pads=0) if each.unit == fitted else each
                for key, each in self.sources.items()
            }

    def within(self, unit: ShortUnit) -> list[Source]:
        """Return what a unit can still draw on: shelves first, then other units, then bought."""
        reached = [self.sources[key] for key in unit.sources if key in self.sources]
        return sorted(
            (each for each in reached if each.pads and each.unit != unit.key),
            key=lambda each: (each.is_bought, bool(each.unit), each.price or 0, each.key),
        )

    def draws_for(self, unit: ShortUnit, way: Way) -> tuple[tuple[str, int], ...]:
        """Return how many pads of a way come from each source."""
        found = []
        for lot, many in way.by_lot:
            for source in self.within(unit):
                if source.rate.lot == lot and many:
                    found.append((source.key, min(many, source.pads)))
                    many -= found[-1][1]
        return tuple(sorted(found))


def _restored(
    search: _Search, way: Way | None, from_source: tuple[tuple[str, int], ...], left: _Left
) -> Restored:
    """Return what a plan does for one unit; the pads of its outlook are then taken too."""
    unit = search.unit
    found = Restored(
        key=unit.key,
        before=search.now,
        way=way,
        from_source=from_source,
        further=lots_to_test_further(unit.inputs) if search.is_short else (),
    )
    if way is not None or not search.is_wanting:
        return found
    if unit.key in left.givers:
        return replace(found, is_giver=True)
    if search.ways:
        return replace(found, is_left_out=True)
    if not search.is_short:
        return found
    outlook = search.outlook(left.within(unit))
    draws = left.draws_for(unit, outlook.way) if outlook.way else ()
    left.take(unit.key if draws else "", draws)
    return replace(found, outlook=outlook, from_source=draws)


@dataclass(frozen=True)
class _Target:
    """What a way has to do: bring the unit to its listing, meet some needs, or both."""

    is_listing: bool
    needs: tuple[Need, ...]
    least_lbf: float


# Of so many needs of one unit every choice of them is searched for; of more, only nested ones.
MOST_NEEDS = 2

# Pads by lot on one side: those put in, and the sound ones that go out for them.
_Side = tuple[tuple[int, ...], tuple[tuple[str, int], ...]]


class _Search:
    """The ways to bring one unit to its listing, or to what jobs ask, that no other way beats."""

    def __init__(
        self,
        unit: ShortUnit,
        sources: Sequence[Source],
        *,
        goal: Goal,
        is_alone: bool,
        most_ratings: int,
    ) -> None:
        self.unit, self.goal, self.is_alone = unit, goal, is_alone
        self.most_ratings = self.left = most_ratings
        self.looks = most_ratings * LOOKS_PER_RATING
        self.is_complete = True
        self.now = rate_unit(unit.inputs)
        self.is_short = (
            self.now.working_capacity_lbf is not None
            and self.now.listed_lbf is not None
            and self.now.standing is not Standing.MEETS_LISTING
        )
        rates: dict[str, LotRate] = {}
        stock: Counter[str] = Counter()
        self.price: dict[str, int] = {}
        rubber = {each.lot: each.thickness_in for each in unit.inputs.rubber}
        for source in sources:
            if source.unit == unit.key or not source.pads:
                continue
            lot = source.rate.lot
            rates.setdefault(lot, source.rate)
            stock[lot] += source.pads
            self.price[lot] = min(source.price or 0, self.price.get(lot, source.price or 0))
            if source.rubber_in is not None:
                rubber.setdefault(lot, source.rubber_in)
        known = {each.lot for each in unit.inputs.lots}
        self.inputs = replace(
            unit.inputs,
            lots=(*unit.inputs.lots, *(rates[lot] for lot in sorted(set(rates) - known))),
            rubber=tuple(LotRubber(lot, rubber[lot]) for lot in sorted(rubber)),
        )
        self.lots = tuple(sorted(rates))
        self.places = {
            side: sorted(
                (each for each in self.inputs.positions if each.side == side),
                key=lambda each: each.number,
            )
            for side in SIDES
        }
        self.open = {side: [p for p in self.places[side] if p.condition != SOUND] for side in SIDES}
        self.most = tuple(min(stock[lot], len(self.inputs.positions)) for lot in self.lots)
        self.seen: dict[Any, UnitRating] = {}
        self.options: dict[tuple[str, tuple[int, ...]], list[tuple[_Side, float, float]]] = {}
        self.met_seen: dict[Any, bool] = {}
        needs = unit.needs if goal is Goal.READY else ()
        self.met_now = frozenset(each.key for each in needs if each.is_met(unit.inputs, self.now))
        self.needs = tuple(sorted(needs, key=lambda each: (each.least_lbf, each.key)))
        self.ways = self._all_ways() if self.lots else ()

    @property
    def is_wanting(self) -> bool:
        """Whether it is short of its listing or of what a job asks."""
        return self.is_short or len(self.met_now) < len(self.needs)

    def _targets(self) -> Iterator[_Target]:
        """Yield what ways are searched for: its listing, each choice of needs, and both."""
        if self.now.working_capacity_lbf is None or self.now.listed_lbf is None:
            return
        unmet = [each for each in self.needs if each.key not in self.met_now]
        choices: list[tuple[Need, ...]] = [
            chosen for many in range(len(unmet) + 1) for chosen in combinations(unmet, many)
        ]
        if len(unmet) > MOST_NEEDS:
            self.is_complete = False
            choices = [tuple(unmet[:many]) for many in range(len(unmet) + 1)]
        for chosen in choices:
            asked = max((each.least_lbf for each in chosen), default=0.0)
            if self.is_short:
                yield _Target(True, chosen, max(self.now.listed_lbf, asked))
            if chosen:
                yield _Target(False, chosen, asked)

    def _all_ways(self) -> tuple[Way, ...]:
        """Return the ways of all targets, but those that another beats which does as much."""
        found: dict[tuple[Position, ...], Way] = {}
        for target in self._targets():
            for way in self._ways(target):
                found.setdefault(way.placed, way)
        ways = sorted(found.values(), key=_order)
        if not self.needs:
            return tuple(ways)
        judged = [replace(way, met=self._met_by(way)) for way in ways]
        # What is met now is given up for no pads.
        judged = [way for way in judged if self.met_now <= way.met]
        return tuple(
            way
            for at, way in enumerate(judged)
            if not any(
                _beats(other, way, at > place) for place, other in enumerate(judged) if place != at
            )
        )

    def _met_by(self, way: Way) -> frozenset[str]:
        inputs = self._with(way.placed)
        return frozenset(each.key for each in self.needs if each.is_met(inputs, way.rating))

    @cached_property
    def carries(self) -> dict[str, tuple[float, float]]:
        """By lot what one pad carries at the travel or as far as tested; no more than is sure.

        The second is more than any rating counts of it: P − t·u with t at infinite degrees of
        freedom, and of u only what the conditions of use add straight from pad to pad.
        """
        travel_in = positive("travel_in", self.inputs.travel_in or 0.0, "in")
        everywhere = tuple(
            Position("A", number, SOUND, rate.lot) for number, rate in enumerate(self.inputs.lots)
        )
        factor = coverage_factor(self.inputs.policy.confidence, math.inf)
        found = {}
        for group in pad_groups(replace(self.inputs, positions=everywhere)):
            force = group.force_lbf(min(travel_in, group.tested_stretch_in))
            sure = force * max(0.0, 1.0 - factor * group.conditions_share)
            found[group.lot] = (force, sure)
        return found

    @cached_property
    def fitted(self) -> dict[str, dict[str, int]]:
        """Sound pads on each side now, by lot; those of no rated lot under ""."""
        rated = set(self.carries)
        found: dict[str, dict[str, int]] = {side: defaultdict(int) for side in SIDES}
        for each in self.inputs.positions:
            if each.condition == SOUND:
                found[each.side][each.lot if each.lot in rated else ""] += 1
        return found

    def _ways(self, target: _Target) -> tuple[Way, ...]:
        found, uneven = FoundWays(self.most), FoundWays(self.most)
        for total in self._seeds(target):
            self._take(total, target, found, uneven)
        for pads in range(1, len(self.inputs.positions) + 1):
            if self._is_enough(pads, found):
                break
            for total in _totals(self.most, pads):
                self.looks -= 1
                if self.left <= 0 or self.looks <= 0:
                    self.is_complete = False
                    return self._kept(found or uneven)
                if self.reach_lbf(total) < target.least_lbf or found.within(total):
                    continue
                self._take(total, target, found, uneven)
        return self._kept(found or uneven)

    def _is_enough(self, pads: int, found: FoundWays) -> bool:
        """Say whether no way with so many pads or more can be better than one found."""
        # Of what jobs ask, pads that are there in time may be worth more of them.
        if not self.is_alone or not found or self.goal is Goal.READY:
            return False
        if self.goal is not Goal.CHEAPEST:
            return min(way.pads for way in found.ways.values()) < pads
        least = min(map(self._cost, found.ways))
        return pads * min(self.price[lot] for lot in self.lots) > least

    def _cost(self, total: tuple[int, ...]) -> int:
        return sum(n * self.price[lot] for n, lot in zip(total, self.lots, strict=True))

    def _take(
        self,
        total: tuple[int, ...],
        target: _Target,
        found: FoundWays,
        uneven: FoundWays,
    ) -> None:
        way = self._best_split(total, target)
        if way is not None:
            (uneven if way.rating.is_out_of_balance else found).add(total, way)

    def _kept(self, found: FoundWays) -> tuple[Way, ...]:
        """Return the ways that no other beats with as few of every lot."""
        return tuple(
            way
            for total, way in sorted(found.ways.items(), key=lambda each: (each[1].pads, each[0]))
            # It is within itself.
            if found.within(total) == 1
        )

    def _seeds(self, target: _Target) -> Iterator[tuple[int, ...]]:
        """Yield for each lot the fewest of its pads that do, so that a short search finds some.

        The stiffest lots first, by CHEAPEST those that carry most for their price; they may take
        half of what ratings there are, so that some are left for several lots together.
        """
        half = self.left // 2
        for place in sorted(range(len(self.lots)), key=self._promise):
            if self.left < half:
                return
            many = self._fewest_of(place, target)
            if many is not None:
                yield _alone(place, many, len(self.most))

    def _fewest_of(self, place: int, target: _Target) -> int | None:
        """Return the fewest pads of one lot that do, shared out most evenly; None where none do."""

        def does(many: int) -> bool:
            total = _alone(place, many, len(self.most))
            return self._best_split(total, target, 1) is not None

        numbers = (n for n in range(1, self.most[place] + 1))
        low = next(
            (
                n
                for n in numbers
                if self.reach_lbf(_alone(place, n, len(self.most))) >= target.least_lbf
            ),
            None,
        )
        if low is None:
            return None
        # The bound is near: the answer is looked for from it on, in growing steps.
        high, step, most = low, 1, self.most[place]
        while not does(high):
            if high >= most:
                return None
            low, high, step = high + 1, min(most, high + step), 2 * step
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if does(middle) else (middle + 1, high)
        return high

    def _promise(self, place: int) -> tuple[float, str]:
        lot = self.lots[place]
        carries = self.carries[lot][1]
        if self.goal is Goal.CHEAPEST:
            carries /= max(1, self.price[lot])
        return -carries, lot

    def _best_split(
        self, total: tuple[int, ...], target: _Target, most_splits: int | None = None
    ) -> Way | None:
        """Return the way with so many pads of each lot that does what it has to most evenly.

        One that leaves the sides out of balance only where no split of them does not.
        most_splits: of the most even ones; None for all.
        """
        uneven = None
        for on_a, on_b in self._splits(total, target.least_lbf)[:most_splits]:
            if not self._does(on_a, on_b, target):
                continue
            way = self._way(on_a, on_b)
            if not way.rating.is_out_of_balance:
                return way
            uneven = uneven or way
        return uneven

    def _splits(self, total: tuple[int, ...], least_lbf: float) -> list[tuple[_Side, _Side]]:
        """Return every way to share pads out between the sides, the most even first.

        But for those that are sure to carry less than so much.
        """
        found = []
        places = [len(self.places[side]) for side in SIDES]
        pads, half = sum(total), 0.0 if self.inputs.is_guided else least_lbf / 2.0
        for on_a in product(*(range(n + 1) for n in total)):
            if not pads - places[1] <= sum(on_a) <= places[0]:
                continue
            on_b = tuple(n - a for n, a in zip(total, on_a, strict=True))
            for one, pull_a, sure_a in self._sides("A", on_a):
                if sure_a < half:
                    continue
                for other, pull_b, sure_b in self._sides("B", on_b):
                    if sure_b >= half and sure_a + sure_b >= least_lbf:
                        found.append((round(abs(pull_a - pull_b), 3), one, other))
        self.looks -= len(found)
        return [(one, other) for _, one, other in sorted(found)]

    def _sides(self, side: str, new: tuple[int, ...]) -> list[tuple[_Side, float, float]]:
        """Return what may go out of a side for so many new pads: nothing, where places are open.

        Each with what the side then pulls, and with more than it is sure to carry, lbf.
        """
        if (side, new) not in self.options:
            over = max(0, sum(new) - len(self.open[side]))
            into = {lot for lot, n in zip(self.lots, new, strict=True) if n}
            there = sorted((lot, n) for lot, n in self.fitted[side].items() if lot not in into)
            outs = _totals(tuple(n for _, n in there), over)
            ways: list[_Side] = [
                (new, tuple((lot, n) for (lot, _), n in zip(there, out, strict=True) if n))
                for out in outs
            ]
            self.options[side, new] = [(on, *self._carried(side, on)) for on in ways]
        return self.options[side, new]

    def _counts(self, side: str, on: _Side) -> dict[str, int]:
        new, out = on
        counts = Counter(self.fitted[side])
        counts.update(dict(zip(self.lots, new, strict=True)))
        counts.subtract(dict(out))
        return counts

    def _carried(self, side: str, on: _Side) -> tuple[float, float]:
        rated = [(n, self.carries[lot]) for lot, n in self._counts(side, on).items() if lot]
        return sum(n * each[0] for n, each in rated), sum(n * each[1] for n, each in rated)

    def reach_lbf(self, total: tuple[int, ...]) -> float:
        """More than the unit is sure to carry with so many pads of each lot put in, lbf.

        Where they are more than the open places the weakest of the sound ones go out.
        """
        new = sum(n * self.carries[lot][1] for n, lot in zip(total, self.lots, strict=True))
        over = max(0, sum(total) - sum(map(len, self.open.values())))
        return new + sum(self.now_sure[over:])

    @cached_property
    def now_sure(self) -> list[float]:
        """More than each sound pad is sure to carry now, the least first."""
        return sorted(
            0.0 if not lot else self.carries[lot][1]
            for side in SIDES
            for lot, many in self.fitted[side].items()
            for _ in range(many)
        )

    def _does(self, on_a: _Side, on_b: _Side, target: _Target) -> bool:
        """Say whether a way does what it has to."""
        rating = self._rating(on_a, on_b)
        if target.is_listing and rating.standing is not Standing.MEETS_LISTING:
            return False
        pads = self._pads_of(on_a, on_b)
        for need in target.needs:
            key = (pads, need.key)
            if key not in self.met_seen:
                inputs = self._with(self._placed(on_a, on_b)[0])
                self.met_seen[key] = need.is_met(inputs, rating)
            if not self.met_seen[key]:
                return False
        return True

    def _pads_of(self, on_a: _Side, on_b: _Side) -> Any:
        """Return what of a way decides its rating: the pads it leaves, side by side or together."""
        sides = [
            tuple(sorted((lot, n) for lot, n in self._counts(side, on).items() if lot and n))
            for side, on in zip(SIDES, (on_a, on_b), strict=True)
        ]
        key: Any = tuple(sides)
        if self.inputs.is_guided:
            both: Counter[str] = Counter()
            for each in sides:
                both.update(dict(each))
            key = tuple(sorted(both.items()))
        return key

    def _rating(self, on_a: _Side, on_b: _Side) -> UnitRating:
        """Rate a way; one that counts the same pads is rated once, but for its balance."""
        key = self._pads_of(on_a, on_b)
        if key not in self.seen:
            self.left -= 1
            self.seen[key] = rate_unit(self._with(self._placed(on_a, on_b)[0]))
        return self.seen[key]

    def _way(self, on_a: _Side, on_b: _Side) -> Way:
        placed, replaced = self._placed(on_a, on_b)
        return Way(placed, rate_unit(self._with(placed)), replaced)

    def _with(self, placed: Sequence[Position]) -> UnitInputs:
        """Return the unit with pads put in."""
        into = {(each.side, each.number): each for each in placed}
        return replace(
            self.inputs,
            positions=tuple(
                into.get((each.side, each.number), each) for each in self.inputs.positions
            ),
        )

    def _placed(
        self, on_a: _Side, on_b: _Side
    ) -> tuple[tuple[Position, ...], tuple[Position, ...]]:
        """Return the positions with their new lots, from the top; and the sound pads that go."""
        placed: list[Position] = []
        replaced: list[Position] = []
        for side, (new, out) in zip(SIDES, (on_a, on_b), strict=True):
            going: list[Position] = []
            for lot, many in out:
                of_lot = [
                    each
                    for each in self.places[side]
                    if each.condition == SOUND
                    and (each.lot if each.lot in self.carries else "") == lot
                ]
                going += of_lot[:many]
            places = sorted([*self.open[side], *going], key=lambda each: each.number)
            if going:
                # Every open place is filled where a sound pad goes out.
                replaced += going
            marks = [lot for lot, n in zip(self.lots, new, strict=True) for _ in range(n)]
            placed += [
                replace(place, condition=SOUND, lot=lot)
                for place, lot in zip(places, marks, strict=False)
            ]
        return tuple(placed), tuple(replaced)

    def outlook(self, sources: Iterable[Source]) -> Outlook:
        """Return the best that can be had of what sources still have, and what it would take.

        sources: of those it was made with.
        """
        best, looks = None, 2_000
        stock: Counter[str] = Counter()
        for source in sources:
            stock[source.rate.lot] += source.pads
        there = tuple(min(stock[lot], len(self.inputs.positions)) for lot in self.lots)
        capacity = self.now.working_capacity_lbf or 0.0
        ratings = min(200, self.most_ratings)
        most = min(sum(there), len(self.inputs.positions))
        # Every open place first, then more for which sound pads go out.
        for pads in range(min(most, sum(map(len, self.open.values()))), most + 1):
            for total in _totals(there, pads):
                looks -= 1
                if looks <= 0 or ratings <= 0:
                    break
                if self.reach_lbf(total) <= capacity:
                    continue
                for on_a, on_b in self._splits(total, capacity)[:6]:
                    ratings -= 1
                    rating = self._rating(on_a, on_b)
                    if (rating.working_capacity_lbf or 0.0) > capacity + ALIKE_LBF:
                        capacity = rating.working_capacity_lbf or 0.0
                        best = self._way(on_a, on_b)
        best = self._trimmed(best) if best else None
        after = self._with(best.placed) if best else self.inputs
        return Outlook(best, travel_to_meet(after), self._rate_to_meet(best) if best else None)

    def _trimmed(self, way: Way) -> Way:
        """Return a way without the pads that add nothing."""
        capacity = way.rating.working_capacity_lbf or 0.0
        for each in reversed(way.placed):
            fewer = tuple(other for other in way.placed if other != each)
            rating = rate_unit(self._with(fewer))
            if fewer and (rating.working_capacity_lbf or 0.0) >= capacity - ALIKE_LBF:
                gone = {(other.side, other.number) for other in fewer}
                kept = tuple(old for old in way.replaced if (old.side, old.number) in gone)
                way = Way(fewer, rating, kept)
        return way

    def _rate_to_meet(self, way: Way) -> float | None:
        """Return how stiff the pads put in would have to be for the listing, lbf/in.

        All of a lot alike, by its own curve so many times steeper; of the stiffest lot put in.
        """
        new = {lot for lot, _ in way.by_lot}
        if not new:
            return None
        stiffest = max(
            (each for each in self.inputs.lots if each.lot in new),
            key=lambda each: each.rate_lbf_in,
        )

        def meets(times: float) -> bool:
            lots = tuple(
                _stiffer(each, times) if each.lot in new else each for each in self.inputs.lots
            )
            inputs = replace(self._with(way.placed), lots=lots)
            return rate_unit(inputs).standing is Standing.MEETS_LISTING

        low, high = 1.0, 8.0
        if not meets(high):
            return None
        while high - low > 0.005:
            middle = (low + high) / 2.0
            low, high = (low, middle) if meets(middle) else (middle, high)
        return high * stiffest.rate_lbf_in


def _stiffer(rate: LotRate, times: float) -> LotRate:
    """Return a lot so many times as stiff, its doubts in proportion."""
    doubt: CurveDoubt = rate.curve_doubt
    return replace(
        rate,
        rate_lbf_in=times * rate.rate_lbf_in,
        standard_error_lbf_in=times * rate.standard_error_lbf_in,
        spread_lbf_in=None if rate.spread_lbf_in is None else times * rate.spread_lbf_in,
        curve=tuple(
            replace(knot, force_lbf=times * knot.force_lbf, slope_lbf_in=times * knot.slope_lbf_in)
            for knot in rate.curve
        ),
        curve_doubt=replace(doubt, scatter_lbf=times * doubt.scatter_lbf),
    )


def _alone(place: int, many: int, lots: int) -> tuple[int, ...]:
    return tuple(many if at == place else 0 for at in range(lots))


class FoundWays:
    """The ways found for a target, by their pads of each lot.

    most: of each lot. Whether others use no more is asked of every way looked at, so that answer
    takes a step a lot, however many were found: by lot and number of its pads one bit a way says
    which use no more of it.
    """

    def __init__(self, most: Sequence[int]) -> None:
        self.ways: dict[tuple[int, ...], Way] = {}
        self._no_more = [[0] * (many + 1) for many in most]

    def __bool__(self) -> bool:
        return bool(self.ways)

    def add(self, total: tuple[int, ...], way: Way) -> None:
        """Keep a way; of those with as many pads of every lot the first."""
        if total in self.ways:
            return
        bit = 1 << len(self.ways)
        self.ways[total] = way
        for many, no_more in zip(total, self._no_more, strict=True):
            for place in range(many, len(no_more)):
                no_more[place] |= bit

    def within(self, total: Sequence[int]) -> int:
        """Return how many of them use no more pads of any lot than this."""
        bits = (1 << len(self.ways)) - 1
        for many, no_more in zip(total, self._no_more, strict=True):
            bits &= no_more[many]
            if not bits:
                return 0
        return bits.bit_count()


def _order(way: Way) -> tuple[Any, ...]:
    places = tuple((each.side, each.number, each.lot or "") for each in way.placed)
    return way.pads, way.by_lot, places


def _beats(other: Way, way: Way, is_first: bool) -> bool:
    """Say whether another way does all that a way does with as few pads of every lot.

    is_first: whether it goes first where both are alike.
    """
    mine, its = Counter(dict(way.by_lot)), Counter(dict(other.by_lot))
    if not its <= mine or other.met < way.met or not way.met <= other.met:
        return False
    if way.meets_listing and not other.meets_listing:
        return False
    # A balanced way is never given up for one that leaves the sides uneven.
    if other.rating.is_out_of_balance and not way.rating.is_out_of_balance:
        return False
    is_alike = its == mine and other.met == way.met
    return is_first or not (is_alike and other.meets_listing == way.meets_listing)


def _totals(most: Sequence[int], pads: int) -> Iterator[tuple[int, ...]]:
    """Yield every way to make up so many pads, no more of each lot than there are."""
    if not most:
        if pads == 0:
            yield ()
        return
    rest = sum(most[1:])
    for first in range(min(most[0], pads), max(0, pads - rest) - 1, -1):
        for others in _totals(most[1:], pads - first):
            yield (first, *others)


class _Program:
    """One way at the most for each unit, and no more pads out of a source than it has."""

    def __init__(
        self,
        searches: Sequence[_Search],
        sources: Mapping[str, Source],
        goal: Goal,
        time_limit_s: float,
    ) -> None:
        self.left_s, self.sources, self.goal = time_limit_s, sources, goal
        self.ways = [(search, way) for search in searches for way in search.ways]
        self.draws: list[tuple[_Search, Source]] = []
        for search in searches:
            lots = {lot for way in search.ways for lot, _ in way.by_lot}
            for key in sorted(search.unit.sources):
                source = sources.get(key)
                if source and source.rate.lot in lots and source.unit != search.unit.key:
                    self.draws.append((search, source))
        # Needs that some way meets and the pads of now do not.
        self.needs = [
            (search, need)
            for search in searches
            for need in search.needs
            if need.key not in search.met_now and any(need.key in way.met for way in search.ways)
        ]
        self.first_draw = len(self.ways)
        self.first_need = self.first_draw + len(self.draws)
        self.size = self.first_need + len(self.needs)
        self.rows: list[dict[int, int]] = []
        self.bounds: list[tuple[float, float]] = []
        self.x = [0] * self.size
        self._of_units(searches)
        self._of_sources()
        self._of_needs()

    def _of_units(self, searches: Sequence[_Search]) -> None:
        for search in searches:
            mine = {at: 1 for at, (of, _) in enumerate(self.ways) if of is search}
            if not mine:
                continue
            self._add(mine, -math.inf, 1)
            for lot in search.lots:
                row = {
                    at: -n
                    for at, (of, way) in enumerate(self.ways)
                    if of is search
                    for mark, n in way.by_lot
                    if mark == lot
                }
                row |= {
                    at: 1
                    for at, (of, source) in enumerate(self.draws, start=len(self.ways))
                    if of is search and source.rate.lot == lot
                }
                if row:
                    self._add(row, 0, 0)

    def _of_sources(self) -> None:
        by_source: dict[str, dict[int, int]] = defaultdict(dict)
        for at, (_, source) in enumerate(self.draws, start=len(self.ways)):
            by_source[source.key][at] = 1
        for key, row in sorted(by_source.items()):
            source = self.sources[key]
            # A unit that is restored gives nothing away.
            own = {
                at: source.pads
                for at, (of, _) in enumerate(self.ways)
                if of.unit.key == source.unit
            }
            self._add(row | own if source.unit else row, -math.inf, source.pads)

    def _of_needs(self) -> None:
        for at, (search, need) in enumerate(self.needs, start=self.first_need):
            # Met by a way that does it, all of whose pads are there by its first day.
            row = {
                place: -1
                for place, (of, way) in enumerate(self.ways)
                if of is search and need.key in way.met
            }
            self._add(row | {at: 1}, -math.inf, 0)
            for place, (of, source) in enumerate(self.draws, start=self.first_draw):
                if of is search and source.days > need.days:
                    most = min(source.pads, len(search.inputs.positions))
                    self._add({place: 1, at: most}, -math.inf, most)

    def _add(self, row: dict[int, int], least: float, most: float) -> None:
        self.rows.append(row)
        self.bounds.append((least, most))

    def solve(self) -> bool:
        """Choose the ways; False where time ran out before that was sure."""
        if not self.ways:
            return True
        ways, first = list(enumerate(self.ways)), len(self.ways)
        draws = list(enumerate(self.draws, start=first))
        ready = {at: -1 for at, (of, way) in ways if of.is_short and way.meets_listing}
        met = dict.fromkeys(range(self.first_need, self.size), -1)
        pads = {at: way.pads for at, (_, way) in ways}
        cost = {at: source.price or 0 for at, (_, source) in draws}
        taken = {at: 1 for at, (_, source) in draws if source.unit}
        bought = {at: 1 for at, (_, source) in draws if source.is_bought}
        uneven = {at: round(_uneven_lbf(way.rating)) for at, (_, way) in ways}
        order = {at: rank for rank, (at, _) in enumerate(ways)}
        aims = [ready, cost, pads] if self.goal is Goal.CHEAPEST else [met, ready, pads]
        aims += [bought, taken, uneven, order]
        return all(self._improve(aim) for aim in aims if any(aim.values()))

    def _improve(self, cost: dict[int, int]) -> bool:
        """Make one cost least and hold it there; False where time ran out before that was sure."""
        # Optimisation takes a while to load, and few pages plan.
        from time import monotonic

        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array

        costs = np.zeros(self.size)
        costs[list(cost)] = list(cost.values())
        filled = [
            (row, column, n) for row, each in enumerate(self.rows) for column, n in each.items()
        ]
        rows, columns, factors = zip(*filled, strict=True)
        matrix = csr_array((factors, (rows, columns)), shape=(len(self.rows), self.size))
        least, most = zip(*self.bounds, strict=True)
        highest = [1.0] * len(self.ways) + [float(source.pads) for _, source in self.draws]
        highest += [1.0] * len(self.needs)
        began = monotonic()
        found = milp(
            costs,
            integrality=np.ones(self.size),
            bounds=Bounds(0, np.array(highest)),
            constraints=LinearConstraint(
                matrix, np.array(least, float) - 0.25, np.array(most, float) + 0.25
            ),
            options={"mip_rel_gap": 0.0, "time_limit": max(self.left_s, 0.01)},
        )
        self.left_s -= monotonic() - began
        if found.status not in (0, 1):
            raise RuntimeError(f"the solver of plans gave up: {found.message}")
        if found.x is not None:
            self.x = [round(each) for each in found.x]
            self._add(cost, -math.inf, sum(n * self.x[at] for at, n in cost.items()))
        return bool(found.status == 0)

    def chosen(self, search: _Search) -> tuple[Way | None, tuple[tuple[str, int], ...]]:
        """Return the way chosen for a unit, and what it draws from each source."""
        ways = [way for at, (of, way) in enumerate(self.ways) if of is search and self.x[at] == 1]
        draws = tuple(
            (source.key, self.x[at])
            for at, (of, source) in enumerate(self.draws, start=len(self.ways))
            if of is search and self.x[at]
        )
        return (ways[0], draws) if ways else (None, ())

    def met(self, search: _Search) -> frozenset[str]:
        """Return the keys of the needs of a unit that are met in time."""
        return search.met_now | {
            need.key
            for at, (of, need) in enumerate(self.needs, start=self.first_need)
            if of is search and self.x[at] == 1
        }


def _uneven_lbf(rating: UnitRating) -> float:
    return abs((rating.side_a_lbf or 0.0) - (rating.side_b_lbf or 0.0))


def _bounds(
    searches: Sequence[_Search], sources: Mapping[str, Source], plan: RestoringPlan
) -> dict[str, Any]:
    """Return what no plan can pass, by a program of which every plan is a solution.

    Each unit restored to a share at the most whole; of its pads only what no rating can pass.
    """
    import numpy as np
    from scipy.optimize import linprog

    short = [each for each in searches if each.is_short and each.lots]
    draws = [
        (at, sources[key])
        for at, search in enumerate(short)
        for key in sorted(search.unit.sources)
        if key in sources and sources[key].pads and sources[key].unit != search.unit.key
    ]
    size, first = len(short) + len(draws), len(short)
    rows: list[Any] = []
    most: list[float] = []
    for at, search in enumerate(short):
        need, places = np.zeros(size), np.zeros(size)
        need[at] = (search.now.listed_lbf or 0.0) - sum(search.now_sure)
        places[at] = -float(len(search.inputs.positions))
        for column, (of, source) in enumerate(draws, start=first):
            if of == at:
                need[column] = -search.carries[source.rate.lot][1]
                places[column] = 1.0
        rows += [need, places]
        most += [0.0, 0.0]
    for key in sorted({source.key for _, source in draws}):
        row = np.zeros(size)
        for column, (_, source) in enumerate(draws, start=first):
            row[column] = float(source.key == key)
        rows.append(row)
        most.append(float(sources[key].pads))
    limits = [(0.0, 1.0)] * len(short) + [(0.0, None)] * len(draws)
    ready = np.array([-1.0] * len(short) + [0.0] * len(draws))
    if not short:
        return {"most_ready": 0, "least": 0}
    highest = linprog(ready, np.array(rows), np.array(most), bounds=limits)
    each = [float(source.price or 0) if plan.goal is Goal.CHEAPEST else 1.0 for _, source in draws]
    lowest = linprog(
        np.array([0.0] * len(short) + each),
        np.array([*rows, ready]),
        np.array([*most, -float(plan.ready)]),
        bounds=limits,
    )
    return {
        "most_ready": math.floor(-highest.fun + 1e-6),
        "least": math.ceil(lowest.fun - 1e-6) if lowest.status == 0 else 0,
    }
