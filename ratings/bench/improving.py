"""What improving a bench test would give a housing, all else that is not known left as it is."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from ratings.bench.reduction import Reduction
from ratings.mechanics.budget import BudgetLine, curve_doubt
from ratings.mechanics.load_curve import CurveDoubt
from ratings.mechanics.mistakes import Lack
from ratings.mechanics.unit_rating import LotRate, Policy, UnitInputs, rate_unit
from ratings.mechanics.what_if import example_unit, prices
from ratings.models import BenchTest

# Less is nothing that a yard would buy an instrument for.
LEAST_GAIN_LBF = 1.0
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
        return self.gain_lbf >= LEAST_GAIN_LBF


def capacity_gain(test: BenchTest, reduction: Reduction, policy: Policy) -> CapacityGain | None:
    """Return what the thing to improve first would add, were units rated by this test alone.

    With pads that differ, conditions of use and taped travel by policy.
    None where nothing is to be improved.
    """
    better = reduction.improvement
    if better is None:
        return None
    now = rate_unit(
        _twenty_pads(test, reduction, policy, reduction.curve.doubt, reduction.budget.lines)
    )
    stretch_in, force_lbf = ([point[place] for point in reduction.points] for place in (0, 1))
    doubt = curve_doubt(stretch_in, force_lbf, test.set_up, test.instruments, better)
    lines = tuple(
        replace(line, contribution_lbf_in=line.contribution_lbf_in / 2.0)
        if line.name in better.halves
        else line
        for line in reduction.budget.lines
    )
    after = rate_unit(_twenty_pads(test, reduction, policy, doubt, lines))
    now_lbf = now.working_capacity_lbf or 0.0
    largest = max(PARTS, key=lambda name: float(getattr(now, name) or 0.0))
    return CapacityGain(
        now_lbf=now_lbf,
        gain_lbf=(after.working_capacity_lbf or 0.0) - now_lbf,
        outweighed_by=PARTS[largest],
    )


def priced_lacks(
    test: BenchTest, reduction: Reduction, policy: Policy
) -> list[tuple[Lack, float | None]]:
    """Return each shortcut a test took with what it costs twenty such pads, lbf, if anything.

    Of working capacity, were units rated by this test alone.
    """
    twenty = _twenty_pads(test, reduction, policy, reduction.curve.doubt, reduction.budget.lines)
    gains = {each.shortcut: each.gain_lbf for each in prices(twenty)}
    return [(lack, gains.get(lack.shortcut)) for lack in reduction.lacks]


def _twenty_pads(
    test: BenchTest,
    reduction: Reduction,
    policy: Policy,
    doubt: CurveDoubt,
    lines: tuple[BudgetLine, ...],
) -> UnitInputs:
    fit = reduction.fit
    common = math.hypot(*(line.contribution_lbf_in for line in lines if line.kind == "B"))
    is_conditioned = test.conditioning_cycles >= policy.conditioning_cycles
    rate = LotRate(
        lot="this",
        rate_lbf_in=fit.rate_lbf_in,
        standard_error_lbf_in=common,
        degrees_of_freedom=None,
        linearity_error_pct=fit.linearity_error_pct,
        tested_stretch_in=fit.tested_stretch_in,
        curve=reduction.curve.knots,
        curve_doubt=doubt,
        pads_tested=float(test.pads_in_test),
        scatter_degrees_of_freedom=float(fit.degrees_of_freedom) or None,
        loading_only_share=0.0 if reduction.cycle.pairs else 1.0,
        not_conditioned_share=0.0 if is_conditioned else 1.0,
        temperature_unknown_share=1.0 if test.rubber_temperature_f is None else 0.0,
    )
    return example_unit(rate, policy)
