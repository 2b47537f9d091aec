"""What improving a bench test would give a housing, all else that is not known left as it is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from ratings.bench.comparison import LotTests
from ratings.bench.reduction import Reduction
from ratings.bench.tested_pads import TestedPad
from ratings.mechanics.budget import Budget, curve_doubt, mean_scatter_freedom
from ratings.mechanics.load_curve import CurveDoubt
from ratings.mechanics.lot_rate import (
    PoolTest,
    bench_rate_of,
    lot_pool,
    lot_rate,
    lot_rate_if_marked,
    lot_rate_of,
)
from ratings.mechanics.mistakes import Lack
from ratings.mechanics.shortcuts import Shortcut
from ratings.mechanics.unit_rating import Policy, UnitInputs, rate_unit
from ratings.mechanics.what_if import Price, example_unit, prices
from ratings.models import BenchTest

# A smaller share of the working capacity is nothing that a yard would buy an instrument for.
LEAST_GAIN = 0.001
# The parts of a unit's uncertainty, as a reader knows them.
PARTS = {
    "scatter_lbf": "how one pad differs from another",
    "lots_lbf": "which pads were tested, and how their readings scatter",
    "shared_lbf": "what the stand puts on all pads",
    "conditions_lbf": "the conditions of use",
    "tape_lbf": "the taped travel",
}


@dataclass(frozen=True)
class CapacityGain:
    """What one thing to do adds to the working capacity of twenty such pads, level and guided.

    now_lbf: their working capacity without it. outweighed_by: the largest part of what is not
    known of their pull.
    """

    now_lbf: float
    gain_lbf: float
    outweighed_by: str

    @property
    def is_worth_it(self) -> bool:
        """Whether it adds anything to speak of."""
        return self.gain_lbf > 0.0 and self.gain_lbf >= LEAST_GAIN * self.now_lbf


def capacity_gain(test: BenchTest, reduction: Reduction, policy: Policy) -> CapacityGain | None:
    """Return what the thing to improve first would add, were units rated by this test alone.

    With pads that differ, conditions of use and taped travel by policy.
    None where nothing is to be improved.
    """
    better = reduction.improvement
    if better is None:
        return None
    now = rate_unit(_twenty_pads(test, reduction, policy, reduction.curve.doubt, reduction.budget))
    stretch_in, force_lbf = ([point[place] for point in reduction.points] for place in (0, 1))
    doubt = curve_doubt(stretch_in, force_lbf, test.set_up, test.instruments, better)
    lines = tuple(
        replace(line, contribution_lbf_in=line.contribution_lbf_in / 2.0)
        if line.name in better.halves
        else line
        for line in reduction.budget.lines
    )
    better_budget = replace(reduction.budget, lines=lines)
    after = rate_unit(_twenty_pads(test, reduction, policy, doubt, better_budget))
    now_lbf = now.working_capacity_lbf or 0.0
    largest = max(PARTS, key=lambda name: float(getattr(now, name) or 0.0))
    return CapacityGain(
        now_lbf=now_lbf,
        gain_lbf=(after.working_capacity_lbf or 0.0) - now_lbf,
        outweighed_by=PARTS[largest],
    )


def priced_lacks(
    test: BenchTest,
    reduction: Reduction,
    policy: Policy,
    of_lot: LotTests,
    pads: Sequence[TestedPad],
) -> list[tuple[Lack, float | None]]:
    """Return each shortcut a test took with what it costs twenty such pads, lbf, if anything.

    Of working capacity, were units rated by this test alone; of pads without marks beside the
    lot's other tests, since marks tell nothing but which pads are others than those.
    """
    twenty = _twenty_pads(test, reduction, policy, reduction.curve.doubt, reduction.budget)
    found = list(prices(twenty))
    if any(lack.shortcut is Shortcut.UNMARKED_PADS for lack in reduction.lacks):
        found += _price_of_marks(of_lot.pooled_with(test, reduction, pads), policy)
    gains = {each.shortcut: each.gain_lbf for each in found}
    return [(lack, gains.get(lack.shortcut)) for lack in reduction.lacks]


def _price_of_marks(tests: Sequence[PoolTest], policy: Policy) -> Iterator[Price]:
    """Yield what marks on the pads of the first of a lot's tests would add, if anything."""
    lenient = replace(policy, refused_shortcuts=())
    pool = lot_pool(tests, lenient)
    marked = lot_rate_if_marked("this", pool, lenient, only=tests[0].name)
    if marked is not None:
        twenty = example_unit(lot_rate("this", pool, lenient), lenient)
        for price in prices(twenty, [marked]):
            if price.shortcut is Shortcut.UNMARKED_PADS:
                yield price


def _twenty_pads(
    test: BenchTest, reduction: Reduction, policy: Policy, doubt: CurveDoubt, budget: Budget
) -> UnitInputs:
    """Return twenty pads as if the lot had this test alone, whatever the policy refuses."""
    stretch_in, force_lbf = ([point[place] for point in reduction.points] for place in (0, 1))
    marks = [pad.mark for pad in test.pads.all() if pad.mark] if test.pk else []
    alone = PoolTest(
        name="this",
        day=0.0,
        rate=bench_rate_of(reduction.fit, budget, test.pads_in_test, marks),
        curve=replace(reduction.curve, doubt=doubt),
        linearity_error_pct=reduction.fit.linearity_error_pct,
        scatter_degrees_of_freedom=mean_scatter_freedom(stretch_in, force_lbf),
        has_unloading=bool(reduction.cycle.pairs),
        conditioning_cycles=test.conditioning_cycles,
        temperature_f=test.rubber_temperature_f,
    )
    lenient = replace(policy, refused_shortcuts=())
    return example_unit(lot_rate_of("this", [alone], lenient), lenient)
