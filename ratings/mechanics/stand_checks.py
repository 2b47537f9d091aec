"""A stand held to itself: a reference piece pulled again and again, and its control chart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean

from ratings.mechanics.agreement import disagree, e_n
from ratings.mechanics.bench import BenchSetUp, CycleReading, reduce_cycle
from ratings.mechanics.budget import Instruments, rate_budget
from ratings.mechanics.line_fit import fit_rate

# Mean range of two over the standard deviation, and how many of these a limit lies off the centre
# line: NIST/SEMATECH handbook 6.3.2.2, from memory.
D2, LIMIT_SIGMAS = 1.128, 3.0
# Fewer say too little of how the stand repeats.
LEAST_CHECKS = 4
# The first so many within limits set the chart: a stand that drifts must not take it along.
BASELINE_CHECKS = 10


@dataclass(frozen=True)
class CheckRate:
    """What a check of a reference piece came to, all lbf/in.

    own_lbf_in: standard uncertainty of what each check has for itself: the scatter of its
    readings and the rounding of gauge and tape. expanded_lbf_in: of the whole budget, 95 %.
    """

    rate_lbf_in: float
    own_lbf_in: float
    expanded_lbf_in: float


@dataclass(frozen=True)
class ControlLimits:
    """Centre line and limits of a chart of individual values, in their unit, and of how many."""

    centre: float
    lower: float
    upper: float
    checks: int

    def holds(self, value: float) -> bool:
        """Say whether a value lies within the limits, these included."""
        return self.lower <= value <= self.upper


@dataclass(frozen=True)
class JudgedCheck:
    """A check, the limits that those before it set, and whether it lies beyond them.

    limits: None where fewer than four came before; it is then held to the first by E_n.
    """

    check: CheckRate
    limits: ControlLimits | None
    is_out: bool


def check_rate(
    set_up: BenchSetUp, instruments: Instruments, readings: Sequence[CycleReading]
) -> CheckRate:
    """Return the rate of a reference piece by the reduction and the budget of a bench test.

    Raises ReadingError and ValueError as reduce_cycle, fit_rate and rate_budget do.
    """
    cycle = reduce_cycle(set_up, readings, instruments.gauge_resolution_psi)
    stretch_in = [stretch for stretch, _ in cycle.points]
    force_lbf = [force for _, force in cycle.points]
    fit = fit_rate(stretch_in, force_lbf)
    budget = rate_budget(fit, stretch_in, force_lbf, set_up, instruments)
    own = [
        line.contribution_lbf_in
        for line in budget.lines
        if line.kind == "A" or line.name.endswith("resolution")
    ]
    return CheckRate(fit.rate_lbf_in, math.hypot(*own), budget.expanded_lbf_in)


def control_limits(values: Sequence[float], least_sigma: float = 0.0) -> ControlLimits:
    """Return centre line and limits of individual values in the order they were found.

    Mean ± 3·(mean moving range)/1.128. least_sigma: the standard deviation is taken as no less,
    in the unit of the values: readings rounded alike would else leave no room at all.
    Raises ValueError for fewer than two values.
    """
    if len(values) < 2:
        raise ValueError(f"values has {len(values)}: give two or more")
    ranges = [abs(after - before) for before, after in pairwise(values)]
    sigma = max(fmean(ranges) / D2, least_sigma)
    centre = fmean(values)
    return ControlLimits(
        centre, centre - LIMIT_SIGMAS * sigma, centre + LIMIT_SIGMAS * sigma, len(values)
    )


def judge_checks(checks: Sequence[CheckRate]) -> tuple[JudgedCheck, ...]:
    """Return each check of one piece on one stand, in the order made, with its judgement.

    The limits of a check are those of the first ten before it that were within theirs, and no
    narrower than what a check has for itself. With fewer than four before it, it is out where it
    disagrees with the first by E_n, which is lenient: the two share the stand.
    """
    judged: list[JudgedCheck] = []
    baseline: list[CheckRate] = []
    for check in checks:
        limits = None
        if len(baseline) >= LEAST_CHECKS:
            own = fmean(each.own_lbf_in for each in baseline)
            limits = control_limits([each.rate_lbf_in for each in baseline], own)
        is_out = (
            not limits.holds(check.rate_lbf_in)
            if limits is not None
            else bool(baseline) and _disagree(check, baseline[0])
        )
        judged.append(JudgedCheck(check, limits, is_out))
        if not is_out and len(baseline) < BASELINE_CHECKS:
            baseline.append(check)
    return tuple(judged)


def _disagree(check: CheckRate, first: CheckRate) -> bool:
    if check.expanded_lbf_in == first.expanded_lbf_in == 0.0:
        return check.rate_lbf_in != first.rate_lbf_in
    return disagree(
        e_n(check.rate_lbf_in, check.expanded_lbf_in, first.rate_lbf_in, first.expanded_lbf_in)
    )
