"""Invented yards whose true pulls are known: they test pads, rate a unit, and may be wrong.

JCGM 101 style, from readings to working capacity by the very functions the site calls. What a
yard does not know of itself (how stiff its lot has become, how hard the seals rub) is drawn; what
it records is what a careful or a hurried tester would write down.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ratings.mechanics.bench import BenchSetUp, Branch, CycleReading, Cylinder
from ratings.mechanics.budget import Instruments
from ratings.mechanics.linepull import ProofFactor
from ratings.mechanics.lot_agreement import Counts
from ratings.mechanics.lot_rate import Decision, PoolTest, lot_rate_of, pool_test
from ratings.mechanics.unit_rating import Policy, Position, UnitInputs, UnitRating, rate_unit

INSTRUMENTS = Instruments("2A", 3000.0, 10.0, 0.0625, 0.0625, 0.01, 0.005)
CYLINDER = Cylinder(3.0, 1.25)
DATUM_IN = 12.0
SIX = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0)
FOUR = (1.5, 3.0, 4.5, 6.0)
POLICY = Policy()
# Tapes and gauges are read to a division; what a tester's eye adds besides.
EYE_PSI = 4.0
EYE_IN = 0.02


def as_on_the_bench(draw: np.random.Generator) -> float:
    """Draw the force in use over that on the bench, where they are the same."""
    return 1.0


@dataclass(frozen=True)
class Situation:
    """What is so in a yard, and what it records of it.

    tests: pads in each test, and how many days before the rating. marked: whether pads bear
    marks; same_pads: whether every test takes the pads of the first.
    both_branches, conditioning_cycles, temperature_f, stretches: how each test was made.
    spread: true standard deviation from pad to pad, as a share. bend: force as a share above the
    straight line half-way, k·x·(1 + bend·(x/6 − 1)).
    friction: what seals add to loading (and take from unloading), as a share of the force.
    first_stretch: how much stiffer pads are before they are conditioned.
    softer_now: how much softer the lot is at its newest test than at the others.
    use: force in use over that on the bench, drawn.
    lots: how many lots share the housing. guided: whether sides stretch alike.
    travel_in: least and largest travel. proof: whether a proof pull is made, to 2 %.
    """

    tests: tuple[tuple[int, float], ...] = ((2, 0.0),)
    marked: bool = True
    same_pads: bool = False
    both_branches: bool = True
    conditioning_cycles: int = 3
    temperature_f: float | None = 70.0
    stretches: tuple[float, ...] = SIX
    spread: float = 0.05
    bend: float = 0.0
    friction: float = 0.03
    first_stretch: float = 0.0
    softer_now: float = 0.0
    use: Callable[[np.random.Generator], float] = as_on_the_bench
    lots: int = 1
    stands: int = 1
    guided: bool = True
    pads: int = 24
    travel_in: tuple[float, float] = (2.5, 5.9)
    proof: bool = False
    policy: Policy = POLICY


class Stand:
    """A stand with errors of its own that stay the same from test to test."""

    def __init__(self, draw: np.random.Generator, name: str) -> None:
        self.draw, self.name = draw, name
        span = INSTRUMENTS.gauge_span_psi
        self.gauge_off_psi = draw.uniform(-0.005, 0.005) * span
        self.datum_off_in = draw.uniform(-1.0, 1.0) * INSTRUMENTS.datum_within_in
        self.bore_in = CYLINDER.bore_in + draw.uniform(-1.0, 1.0) * INSTRUMENTS.bore_tolerance_in
        self.rod_in = CYLINDER.rod_in + draw.uniform(-1.0, 1.0) * INSTRUMENTS.rod_tolerance_in

    def readings(
        self, force_lbf: Callable[[float], float], pads: int, given: Situation
    ) -> list[CycleReading]:
        """Return what tape and gauge show of so many pads, each of this mean force."""
        area_in2 = Cylinder(self.bore_in, self.rod_in).area_in2("rod")
        found = []
        ways = [(Branch.LOADING, 1.0 + given.friction)]
        if given.both_branches:
            ways.append((Branch.UNLOADING, 1.0 - given.friction))
        for branch, times in ways:
            for stretch in given.stretches:
                # The tester stops where the tape shows the stretch wanted.
                at = max(0.0, stretch - self.datum_off_in + self.draw.normal(0.0, EYE_IN))
                psi = times * force_lbf(at) * pads / area_in2 + self.gauge_off_psi
                shown = psi + self.draw.normal(0.0, EYE_PSI)
                step = INSTRUMENTS.gauge_resolution_psi
                found.append(
                    CycleReading(
                        DATUM_IN + stretch, max(0.0, round(shown / step) * step), 1, branch
                    )
                )
        return _possible(found)


def _possible(readings: Sequence[CycleReading]) -> list[CycleReading]:
    """Read again, as a tester would, what cannot be: pressure that turns, unloading on top."""
    up = [each for each in readings if each.branch is Branch.LOADING]
    down = [each for each in readings if each.branch is Branch.UNLOADING]
    least = 0.0
    for place, each in enumerate(up):
        least = max(least, each.gauge_psi)
        up[place] = replace(each, gauge_psi=least)
    for place in range(len(down) - 1, -1, -1):
        most = up[place].gauge_psi
        if place + 1 < len(down):
            most = min(most, down[place + 1].gauge_psi)
        down[place] = replace(down[place], gauge_psi=min(down[place].gauge_psi, most))
    return up + down


@dataclass(frozen=True)
class Outcome:
    """A unit's true pull at the end of its travel, and what it was rated. lbf.

    estimate_lbf: its line pull by somebody who knows that all its tests are of one lot.
    """

    true_lbf: float
    rating: UnitRating
    estimate_lbf: float

    @property
    def is_below(self) -> bool:
        return self.true_lbf < (self.rating.working_capacity_lbf or 0.0)

    @property
    def margin(self) -> float:
        """What the working capacity keeps back, as a share of the true pull."""
        return 1.0 - (self.rating.working_capacity_lbf or 0.0) / self.true_lbf


def _shape(bend: float) -> Callable[[float], float]:
    return lambda x: x * (1.0 + bend * (x / 6.0 - 1.0))


def draw_unit(draw: np.random.Generator, given: Situation) -> Outcome:
    """Invent a yard in this situation, let it test and rate a unit, and weigh the unit."""
    stands = [Stand(draw, f"stand {number}") for number in range(given.stands)]
    shape, use = _shape(given.bend), given.use(draw)
    lots = [f"L{number}" for number in range(given.lots)]
    rates, best_rates = [], []
    fitted: dict[str, np.ndarray] = {}
    for number, lot in enumerate(lots):
        mean = draw.uniform(700.0, 1100.0)
        tests = _tests(draw, given, stands[number % given.stands], mean)
        rates.append(lot_rate_of(lot, tests, given.policy, 0.0))
        every = Decision(Counts.ALL, frozenset(each.name for each in tests))
        best_rates.append(
            lot_rate_of(lot, tests, given.policy, 0.0, every) if len(tests) > 1 else rates[-1]
        )
        now = mean * (1.0 - given.softer_now)
        fitted[lot] = draw.normal(now, given.spread * mean, given.pads // given.lots)
    travel_in = draw.uniform(*given.travel_in)
    step = given.policy.tape_resolution_in
    taped_in = round(travel_in / step) * step
    sides = {"A": 0.0, "B": 0.0}
    positions: list[Position] = []
    for lot in lots:
        for number, pad in enumerate(fitted[lot]):
            side = "A" if number % 2 == 0 else "B"
            sides[side] += float(pad) * shape(travel_in) * use
            place = sum(each.side == side for each in positions) + 1
            positions.append(Position(side, place, "sound", lot))
    true_lbf = sum(sides.values()) if given.guided else 2.0 * min(sides.values())
    inputs = UnitInputs(
        tuple(positions), tuple(rates), taped_in, None, given.policy, is_guided=given.guided
    )
    rating = rate_unit(inputs)
    estimate_lbf = rate_unit(replace(inputs, lots=tuple(best_rates))).pull_lbf or 1.0
    if given.proof:
        measured = true_lbf * draw.normal(1.0, 0.02) / (rating.pull_lbf or 1.0)
        rating = rate_unit(replace(inputs, proof=ProofFactor(measured, "2026-05-04", 0.02)))
    return Outcome(true_lbf, rating, estimate_lbf)


def _force_lbf(rate: float, shape: Callable[[float], float], stretch_in: float) -> float:
    return rate * shape(stretch_in)


def _tests(
    draw: np.random.Generator, given: Situation, stand: Stand, mean: float
) -> list[PoolTest]:
    """Test a lot of this mean rate on a stand, as the situation has it."""
    shape, found = _shape(given.bend), []
    newest = min(days for _, days in given.tests)
    pads = np.array([])
    for place, (pads_in_test, days_ago) in enumerate(given.tests):
        if not given.same_pads or not place:
            pads = draw.normal(0.0, given.spread, pads_in_test)
        level = mean * (1.0 - (given.softer_now if days_ago == newest else 0.0))
        pad = level * (1.0 + given.first_stretch) * (1.0 + float(pads.mean()))
        first = 0 if given.same_pads else place
        found.append(
            pool_test(
                BenchSetUp(CYLINDER, "rod", pads_in_test, DATUM_IN),
                INSTRUMENTS,
                stand.readings(partial(_force_lbf, pad, shape), pads_in_test, given),
                name=f"test {place}",
                day=-days_ago,
                marks=[f"{first}-{each}" for each in range(pads_in_test)] if given.marked else (),
                stand=stand.name,
                conditioning_cycles=given.conditioning_cycles,
                temperature_f=given.temperature_f,
            )
        )
    return found


@dataclass(frozen=True)
class Coverage:
    """Of so many yards: the share whose true pull lies below W, and what W keeps back.

    margin: median of 1 − W / true pull. least_margin: what would have to be kept back by somebody
    who knew how line pulls scatter about the true ones: 1 − the 5 % quantile of true / estimate.
    least_at_a_price: the same of somebody who knows the scatter alone and pays the same prices: by
    how much a lack is smaller than its price he knows no better than the yard.

    Where a lot was tested before, that somebody knows more than the variances: that all its tests
    are of one lot, which has not changed since. His estimate has every test in it, and no doubt
    of drift. Who knows the variances alone does not know that: he must hold the newest to the
    older, as the yard does, and lets go of them where they may hide a softer lot, which by chance
    they seem to do in nearly half of all lots that never changed. He then keeps back what the
    newest tests alone demand. With known variances in place of estimated ones, and the normal
    quantile of 1.645 in place of Student's t (1.70 at the 27 degrees of freedom there are then),
    he keeps back 8.5 % where the yard keeps back 8.6 % (four old tests that agree with a new one,
    1,500 yards). Held to him nearly any rule would pass, a timid one too, so the yard is held to
    the one who knows that nothing changed: what it costs not to know it counts as the yard's.
    """

    yards: int
    below: float
    margin: float
    least_margin: float
    least_at_a_price: float


def coverage(given: Situation, yards: int, seed: int) -> Coverage:
    draw = np.random.default_rng(seed)
    outcomes = [draw_unit(draw, given) for _ in range(yards)]
    below = sum(each.is_below for each in outcomes) / yards
    shares = [each.true_lbf / each.estimate_lbf for each in outcomes]
    lowest, middle = (float(np.quantile(shares, part)) for part in (0.05, 0.5))
    return Coverage(
        yards,
        below,
        float(np.median([each.margin for each in outcomes])),
        1.0 - lowest,
        1.0 - lowest / middle / middle,
    )


def anything_within(half_width: float) -> Callable[[np.random.Generator], float]:
    """Return a draw of the force in use over that on the bench: within ± half_width alike."""
    return lambda draw: 1.0 + draw.uniform(-half_width, half_width)


def always(ratio: float) -> Callable[[np.random.Generator], float]:
    """Return a draw that is always this force in use over that on the bench."""
    return lambda draw: ratio
