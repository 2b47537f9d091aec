"""From a lot's bench tests to what units are rated by: window, agreement, pool and load curve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

from ratings.mechanics.arguments import number, set_checked
from ratings.mechanics.bench import BenchSetUp, CycleReading, reduce_cycle
from ratings.mechanics.budget import (
    Budget,
    Instruments,
    curve_doubt,
    mean_scatter_freedom,
    rate_budget,
)
from ratings.mechanics.line_fit import SpringRate, fit_rate
from ratings.mechanics.load_curve import (
    CurveDoubt,
    MonotoneCurve,
    continued,
    mean_curve,
    monotone_curve,
)
from ratings.mechanics.lot_agreement import Agreement, Counts, DatedRate, Spreading, agree
from ratings.mechanics.pooling import BenchRate, PooledRate, pad_weights, pool, weights_of
from ratings.mechanics.shortcuts import ENOUGH_STRETCHES, Shortcut
from ratings.mechanics.uncertainty import Component, combine
from ratings.mechanics.unit_rating import LotRate, Policy

# Two tests this far apart in temperature tell what it does, °F.
TEMPERATURES_APART_F = 15.0
# Dwell and rate of pull leave this of the conditions of use, ± %, however well temperature is
# known.
DWELL_AND_RATE_PCT = 2.0
# A window that no test is ever too old for.
ALWAYS_DAYS = 10**6


@dataclass(frozen=True)
class PoolTest:
    """One bench test of a lot, as it is pooled.

    name: what the test goes by. day: on any calendar of days.
    rate, curve: as fitted to its readings, and through their means, with its doubt.
    linearity_error_pct: departure from the fitted line, % of full scale.
    scatter_degrees_of_freedom: of the scatter in the curve's doubt.
    stand: whose errors it shares with others, by name.
    has_unloading: whether both branches were read. conditioning_cycles: before the first reading.
    temperature_f: of the rubber, None where not read.
    """

    name: str
    day: float
    rate: BenchRate
    curve: MonotoneCurve
    linearity_error_pct: float = 0.0
    scatter_degrees_of_freedom: float = math.inf
    stand: str = ""
    has_unloading: bool = True
    conditioning_cycles: int = 0
    temperature_f: float | None = None

    def __post_init__(self) -> None:
        set_checked(self, day=number("day", self.day))

    def shortcuts(self, policy: Policy) -> tuple[Shortcut, ...]:
        """Return what this test left out."""
        is_left_out = {
            Shortcut.LOADING_ONLY: not self.has_unloading,
            Shortcut.NOT_CONDITIONED: self.conditioning_cycles < policy.conditioning_cycles,
            Shortcut.FEW_STRETCHES: len(self.curve.knots) - 1 < ENOUGH_STRETCHES,
            Shortcut.TEMPERATURE_UNKNOWN: self.temperature_f is None,
            Shortcut.UNMARKED_PADS: len(self.rate.marks) < self.rate.pads_in_test,
        }
        return tuple(each for each in Shortcut if is_left_out[each])


def pool_test(
    set_up: BenchSetUp,
    instruments: Instruments,
    readings: Sequence[CycleReading],
    *,
    name: str,
    day: float,
    marks: Sequence[str] = (),
    stand: str = "",
    conditioning_cycles: int = 0,
    temperature_f: float | None = None,
) -> PoolTest:
    """Return a bench test as it is pooled, from its readings. Raises ValueError as they say."""
    cycle = reduce_cycle(set_up, readings, instruments.gauge_resolution_psi)
    stretch_in = [stretch for stretch, _ in cycle.points]
    force_lbf = [force for _, force in cycle.points]
    fit = fit_rate(stretch_in, force_lbf)
    budget = rate_budget(fit, stretch_in, force_lbf, set_up, instruments)
    return PoolTest(
        name=name,
        day=day,
        rate=bench_rate_of(fit, budget, set_up.pads_in_test, marks),
        curve=replace(
            monotone_curve(stretch_in, force_lbf),
            doubt=curve_doubt(stretch_in, force_lbf, set_up, instruments),
        ),
        linearity_error_pct=fit.linearity_error_pct,
        scatter_degrees_of_freedom=mean_scatter_freedom(stretch_in, force_lbf),
        stand=stand,
        has_unloading=bool(cycle.pairs),
        conditioning_cycles=conditioning_cycles,
        temperature_f=temperature_f,
    )


def bench_rate_of(
    fit: SpringRate, budget: Budget, pads_in_test: int, marks: Sequence[str] = ()
) -> BenchRate:
    """Return a test's rate with what is its own, type A, apart from what its stand puts on all."""
    own, common = (
        math.hypot(*(line.contribution_lbf_in for line in budget.lines if line.kind == kind))
        for kind in "AB"
    )
    return BenchRate(
        rate_lbf_in=fit.rate_lbf_in,
        own_lbf_in=own,
        common_lbf_in=common,
        pads_in_test=pads_in_test,
        degrees_of_freedom=float(fit.degrees_of_freedom),
        marks=tuple(marks),
    )


@dataclass(frozen=True)
class LeftOut:
    """A test that does not count, by its name, and why."""

    name: str
    why: str


@dataclass(frozen=True)
class LotPool:
    """What a lot's tests come to, and which of them count.

    tests: those that count, in the order of their days; rates: of each, over the stretch of the
    furthest; pooled: their mean, weights in that order. left_out: the others. curve: the mean
    load curve, with its doubt.
    agreement: of the tests inside the window with one another; considered: these, by name;
    newest: those of the newest occasion. conditions_pct: as in LotRate.
    """

    tests: tuple[PoolTest, ...]
    rates: tuple[BenchRate, ...]
    pooled: PooledRate
    curve: MonotoneCurve
    scatter_degrees_of_freedom: float
    left_out: tuple[LeftOut, ...]
    agreement: Agreement
    considered: tuple[str, ...]
    newest: tuple[str, ...]
    conditions_pct: float | None

    @property
    def day(self) -> float:
        """From which the rating ages: that of the newest test that counts."""
        return max(test.day for test in self.tests)

    def share_without(self, shortcut: Shortcut, policy: Policy) -> float:
        """Return the weight of the tests that took a shortcut, 0 to 1."""
        share = math.fsum(
            weight
            for test, weight in zip(self.tests, self.pooled.weights, strict=True)
            if shortcut in test.shortcuts(policy)
        )
        # Rounded each for itself, the weights of all may come to a little more than the whole.
        return min(share, 1.0)


@dataclass(frozen=True)
class Decision:
    """A person's word on tests that disagree: what counts, of which tests, by name."""

    counts: Counts
    tests: frozenset[str]


def lot_rate_of(
    lot: str,
    tests: Sequence[PoolTest],
    policy: Policy,
    at_day: float | None = None,
    decision: Decision | None = None,
) -> LotRate:
    """Return what units are rated by, of a lot's tests. Raises ValueError as lot_pool does."""
    return lot_rate(lot, lot_pool(tests, policy, at_day, decision), policy)


def lot_pool(
    tests: Sequence[PoolTest],
    policy: Policy,
    at_day: float | None = None,
    decision: Decision | None = None,
) -> LotPool:
    """Pool a lot's tests.

    Those that took a shortcut the policy refuses rate nothing. Of the others count those within
    the policy's rate_valid_days of at_day, or, where none is, of the newest. These are held to
    one another, see agree; a decision holds while it was about these very tests.
    Raises ValueError where no test may rate.
    """
    left_out: list[LeftOut] = []
    able = []
    for test in sorted(tests, key=lambda each: (each.day, each.name)):
        refused = [each for each in test.shortcuts(policy) if each in policy.refused_shortcuts]
        if refused:
            words = ", ".join(refused)
            left_out.append(LeftOut(test.name, f"{words}: the policy lets no such test rate"))
        else:
            able.append(test)
    if not able:
        raise ValueError("tests has none in it that may rate: give one test or more")
    inside = _window(able, policy, at_day)
    out_of_window = f"older than the {policy.rate_valid_days:,} days a rate holds"
    left_out += [LeftOut(test.name, out_of_window) for test in able if test not in inside]
    rates = _over_one_stretch(inside, policy)
    names = tuple(test.name for test in inside)
    is_decided = decision is not None and decision.tests == frozenset(names)
    agreement = agree(
        [DatedRate(test.day, rate, test.stand) for test, rate in zip(inside, rates, strict=True)],
        Spreading(policy.pad_spread_pct, policy.pad_spread_degrees_of_freedom),
        decision.counts if decision is not None and is_decided else None,
    )
    counted = agreement.counted
    left_out += [
        LeftOut(test.name, agreement.why)
        for place, test in enumerate(inside)
        if place not in counted
    ]
    chosen = [inside[place] for place in counted]
    over_one_stretch = tuple(rates[place] for place in counted)
    pooled = pool(
        over_one_stretch,
        policy.pad_spread_pct,
        policy.pad_spread_degrees_of_freedom,
    )
    doubt, freedom = _doubt(chosen, pooled.weights)
    curve = replace(mean_curve([test.curve for test in chosen], pooled.weights), doubt=doubt)
    return LotPool(
        tests=tuple(chosen),
        rates=over_one_stretch,
        pooled=pooled,
        curve=curve,
        scatter_degrees_of_freedom=freedom,
        left_out=tuple(left_out),
        agreement=agreement,
        considered=names,
        newest=tuple(names[place] for place in agreement.newest),
        conditions_pct=_conditions_pct(chosen, over_one_stretch, pooled, policy),
    )


def lot_rate(lot: str, found: LotPool, policy: Policy) -> LotRate:
    """Return what units are rated by, of what a lot's tests came to."""
    pooled, spread = found.pooled, found.pooled.spread
    return LotRate(
        lot=lot,
        rate_lbf_in=pooled.rate_lbf_in,
        standard_error_lbf_in=pooled.common_lbf_in,
        degrees_of_freedom=None,
        linearity_error_pct=max(test.linearity_error_pct for test in found.tests),
        tested_stretch_in=found.curve.tested_stretch_in,
        curve=found.curve.knots,
        spread_lbf_in=spread.measured_lbf_in,
        spread_degrees_of_freedom=spread.measured_degrees_of_freedom,
        curve_doubt=found.curve.doubt,
        pads_tested=pooled.pads_tested,
        scatter_degrees_of_freedom=_finite(found.scatter_degrees_of_freedom),
        between_share=pooled.between_of_mean_lbf_in / pooled.rate_lbf_in,
        between_degrees_of_freedom=_finite(pooled.between_degrees_of_freedom),
        loading_only_share=found.share_without(Shortcut.LOADING_ONLY, policy),
        not_conditioned_share=found.share_without(Shortcut.NOT_CONDITIONED, policy),
        temperature_unknown_share=found.share_without(Shortcut.TEMPERATURE_UNKNOWN, policy),
        conditions_pct=found.conditions_pct,
    )


def lot_rate_if_marked(
    lot: str, found: LotPool, policy: Policy, only: str | None = None
) -> LotRate | None:
    """Return what a lot's tests that count would rate by, had every pad in them borne a mark.

    only: the test whose pads it is asked of, by name; of all tests where None. Each pad without
    one is taken for a pad of its own. None where all bear one.
    """
    marked = [
        _all_marked(test) if only is None or test.name == only else test for test in found.tests
    ]
    if marked == list(found.tests):
        return None
    everything = Decision(Counts.ALL, frozenset(test.name for test in marked))
    lenient = replace(policy, rate_valid_days=ALWAYS_DAYS, refused_shortcuts=())
    return lot_rate(lot, lot_pool(marked, lenient, decision=everything), policy)


def _all_marked(test: PoolTest) -> PoolTest:
    rate = test.rate
    bare = range(rate.pads_in_test - len(rate.marks))
    marks = (*rate.marks, *(f"unmarked {place} of {test.name}" for place in bare))
    return replace(test, rate=replace(rate, marks=marks))


def _finite(value: float) -> float | None:
    return None if math.isinf(value) else value


def _window(tests: Sequence[PoolTest], policy: Policy, at_day: float | None) -> list[PoolTest]:
    newest = max(test.day for test in tests)
    end = newest if at_day is None else max(newest, at_day)
    inside = [test for test in tests if end - test.day <= policy.rate_valid_days]
    # A lot of old tests alone keeps its figure; that it is stale is said elsewhere.
    return inside or [test for test in tests if newest - test.day <= policy.rate_valid_days]


def _over_one_stretch(tests: Sequence[PoolTest], policy: Policy) -> list[BenchRate]:
    """Return each test's rate as it would be over the stretch of the furthest, by its curve.

    A bent lot has another rate over 2 in than over 6 in; neither is a sign that pads differ.
    """
    rates = [test.rate for test in tests]
    plain = math.fsum(rate.rate_lbf_in for rate in rates) / len(rates)
    weights = weights_of(rates, plain * policy.pad_spread_pct / 100.0)
    mean = mean_curve([test.curve for test in tests], weights)
    found = []
    for test, rate in zip(tests, rates, strict=True):
        ratio = _through_rest(continued(test.curve, mean)) / _through_rest(test.curve)
        found.append(
            replace(
                rate,
                rate_lbf_in=ratio * rate.rate_lbf_in,
                own_lbf_in=ratio * rate.own_lbf_in,
                common_lbf_in=ratio * rate.common_lbf_in,
            )
        )
    return found


def _through_rest(curve: MonotoneCurve) -> float:
    knots = curve.knots
    return math.fsum(k.stretch_in * k.force_lbf for k in knots) / math.fsum(
        k.stretch_in * k.stretch_in for k in knots
    )


def _doubt(tests: Sequence[PoolTest], weights: Sequence[float]) -> tuple[CurveDoubt, float]:
    """The largest of each kind of the stands' doubt, and the scatter of the weighted mean.

    No test makes another's stand surer; readings do scatter each for themselves. The degrees of
    freedom of that scatter are given beside it.
    """
    doubts = [test.curve.doubt for test in tests]
    largest = {
        field.name: max(getattr(doubt, field.name) for doubt in doubts)
        for field in fields(CurveDoubt)
    }
    scatter = combine(
        Component(f"test {test.name}", w * test.curve.doubt.scatter_lbf, freedom)
        for w, test in zip(weights, tests, strict=True)
        for freedom in [test.scatter_degrees_of_freedom]
    )
    doubt = CurveDoubt(**largest | {"scatter_lbf": scatter.standard})
    return doubt, scatter.degrees_of_freedom


def _conditions_pct(
    tests: Sequence[PoolTest], rates: Sequence[BenchRate], pooled: PooledRate, policy: Policy
) -> float | None:
    """Return the conditions of use, ± %, where tests show what temperature does; else None.

    The slope of ln k over temperature by least squares with the weights of the pool, and its
    standard uncertainty from the tests' own, the pads that were not stretched at both, and the
    scatter between tests. Then ± √(2² + (|slope| + 2u)²·d²), d the way from the mean temperature
    of the tests to the further end of what the policy lets rubber be. None unless narrower than
    the policy's.
    """
    known = [i for i, test in enumerate(tests) if test.temperature_f is not None]
    temperatures = [float(tests[i].temperature_f or 0.0) for i in known]
    if len(known) < 2 or max(temperatures) - min(temperatures) < TEMPERATURES_APART_F:
        return None
    weights = [pooled.weights[i] for i in known]
    whole = math.fsum(weights)
    middle = math.fsum(w * t for w, t in zip(weights, temperatures, strict=True)) / whole
    off = [each - middle for each in temperatures]
    sum_tt = math.fsum(w * dt * dt for w, dt in zip(weights, off, strict=True))
    slopes = [w * dt / sum_tt for w, dt in zip(weights, off, strict=True)]
    at = [rates[i] for i in known]
    slope = math.fsum(c * math.log(each.rate_lbf_in) for c, each in zip(slopes, at, strict=True))
    rate = pooled.rate_lbf_in
    shares = pad_weights(at, slopes, are_unmarked_alike=False)
    variance = (
        math.fsum((c * each.own_lbf_in / rate) ** 2 for c, each in zip(slopes, at, strict=True))
        + (pooled.spread_lbf_in / rate) ** 2 * math.fsum(share * share for share in shares)
        + (pooled.between_lbf_in / rate) ** 2 * math.fsum(c * c for c in slopes)
    )
    way = max(abs(policy.warmest_f - middle), abs(middle - policy.coldest_f))
    of_temperature_pct = 100.0 * (abs(slope) + 2.0 * math.sqrt(variance)) * way
    pct = math.hypot(DWELL_AND_RATE_PCT, of_temperature_pct)
    return pct if pct < policy.conditions_pct else None
