"""Figures the trade works with. Common practice, no published source, unless said."""

from __future__ import annotations

import math

import pytest

from fleet.quantities import LBF_PER_US_TON
from ratings.mechanics.bench import BenchSetUp, CycleReading, Cylinder, reduce_cycle
from ratings.mechanics.line_fit import SpringRate, fit_rate
from ratings.mechanics.linepull import Limit, PadGroup, line_pull
from ratings.mechanics.load_curve import MonotoneCurve, monotone_curve

TRADE_BORE_IN = 5.13
TRADE_AREA_IN2 = 20.66
TRADE_RATE_LBF_IN = 1033.0


def bench_fit() -> SpringRate:
    set_up = BenchSetUp(Cylinder(TRADE_BORE_IN), "blind", pads_in_test=2, tape_datum_in=0.0)
    shown = ((1.0, 100.0), (2.0, 200.0), (3.0, 300.0), (5.0, 500.0))
    cycle = reduce_cycle(set_up, [CycleReading(tape, gauge) for tape, gauge in shown])
    stretches, forces = zip(*cycle.points, strict=True)
    return fit_rate(stretches, forces)


def trade_pads(tested_stretch_in: float, count: int = 24) -> PadGroup:
    return PadGroup(count, TRADE_RATE_LBF_IN, tested_stretch_in)


def test_a_bore_of_5_13_in_has_20_66_in2_as_the_trade_truncates_it() -> None:
    # Common practice, no published source. π/4·5.13² is 20.669 in².
    area_in2 = Cylinder(TRADE_BORE_IN).area_in2("blind")
    assert area_in2 == pytest.approx(20.669, abs=5e-4)
    assert math.floor(area_in2 * 100.0) / 100.0 == TRADE_AREA_IN2


def test_two_pads_that_share_100_psi_an_inch_come_to_1033_lbf_in_each() -> None:
    # Common practice, no published source: worked with the truncated area.
    rate_lbf_in = bench_fit().rate_lbf_in
    truncation = TRADE_AREA_IN2 / Cylinder(TRADE_BORE_IN).area_in2("blind")
    assert rate_lbf_in * truncation == pytest.approx(TRADE_RATE_LBF_IN, rel=1e-12)
    # The exact area gives half a pound more.
    assert rate_lbf_in == pytest.approx(1033.46, abs=0.005)


def test_that_test_is_linear_to_5_in() -> None:
    # Common practice, no published source.
    fit = bench_fit()
    assert fit.is_linear
    assert fit.linearity_error_pct < 1e-10
    assert fit.tested_stretch_in == 5.0


def test_24_such_pads_give_24792_lbf_per_inch() -> None:
    # Common practice, no published source: worked from the rounded 1,033 lbf/in.
    pull = line_pull([trade_pads(9.0)], 1.0)
    assert pull.rate_lbf_in == 24792.0
    assert pull.pull_lbf == 24792.0


def test_24_such_pads_give_12_396_us_tons_per_inch() -> None:
    # Common practice, no published source.
    pull = line_pull([trade_pads(9.0)], 1.0)
    assert pull.rate_lbf_in / LBF_PER_US_TON == 12.396


@pytest.mark.parametrize(
    ("travel_in", "pull_lbf"),
    [
        # Common practice, no published source: 9 in on older housings ...
        (9.0, 223128.0),
        # ... and 5 to 6 in where a bumper stands in the stop.
        (5.0, 123960.0),
        (6.0, 148752.0),
    ],
)
def test_line_pull_at_a_usual_travel_is_pads_times_rate_times_travel(
    travel_in: float, pull_lbf: float
) -> None:
    pull = line_pull([trade_pads(9.0)], travel_in)
    assert pull.pull_lbf == pull_lbf
    assert pull.limited_by is Limit.TRAVEL


def test_a_9_in_housing_is_rated_no_further_than_a_5_in_test() -> None:
    # Common practice, no published source, for the 9 in.
    pull = line_pull([trade_pads(5.0)], 9.0)
    assert pull.pull_lbf == 123960.0
    assert pull.limited_by is Limit.TESTED_STRETCH


def test_the_monotone_curve_of_straight_readings_is_straight_too() -> None:
    curve = monotone_curve([1.0, 2.0, 3.0, 5.0], [1033.0, 2066.0, 3099.0, 5165.0])
    assert isinstance(curve, MonotoneCurve)
    assert curve.force_lbf(4.0) == pytest.approx(4132.0, rel=1e-12)
    assert curve.slope_lbf_in(4.0) == pytest.approx(TRADE_RATE_LBF_IN, rel=1e-12)
