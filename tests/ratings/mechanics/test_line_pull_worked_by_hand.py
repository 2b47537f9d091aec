"""Line pull, its uncertainty and the working capacity, each worked by hand."""

from __future__ import annotations

import math

import pytest

from ratings.mechanics.linepull import (
    Limit,
    PadGroup,
    line_pull,
    pull_at,
)
from ratings.mechanics.load_curve import monotone_curve
from ratings.mechanics.uncertainty import coverage_factor


def test_pads_of_two_lots_add_their_pulls_and_rates() -> None:
    # By hand: (3·1000 + 2·800)·5 = 23,000.
    pull = line_pull([PadGroup(3, 1000.0, 6.0), PadGroup(2, 800.0, 7.0)], 5.0)
    assert pull.pull_lbf == 23_000.0
    assert pull.rate_lbf_in == 4_600.0
    assert [each.pull_lbf for each in pull.groups] == [15_000.0, 8_000.0]
    assert [each.force_per_pad_lbf for each in pull.groups] == [5_000.0, 4_000.0]


def test_pad_to_pad_scatter_adds_in_squares() -> None:
    # By hand: √(16 · (50·5)²) = 4·250 = 1,000, where a straight sum would be 4,000.
    pull = line_pull([PadGroup(16, 1000.0, 6.0, spread_lbf_in=50.0)], 5.0)
    assert pull.standard_uncertainty_lbf == pytest.approx(1_000.0, rel=1e-14)


def test_scatter_of_two_lots_adds_in_squares() -> None:
    # By hand: √(9·(10·5)² + 4·(40·5)²) = √(22,500 + 160,000).
    groups = [
        PadGroup(9, 1000.0, 6.0, spread_lbf_in=10.0),
        PadGroup(4, 800.0, 6.0, spread_lbf_in=40.0),
    ]
    assert line_pull(groups, 5.0).standard_uncertainty_lbf == pytest.approx(
        math.sqrt(182_500.0), rel=1e-14
    )


def test_the_error_pads_share_adds_straight() -> None:
    # By hand: 16·10·5 = 800, where squares would give 200.
    pull = line_pull([PadGroup(16, 1000.0, 6.0, standard_error_lbf_in=10.0)], 5.0)
    assert pull.standard_uncertainty_lbf == pytest.approx(800.0, rel=1e-14)


def test_the_error_two_lots_share_adds_straight() -> None:
    # By hand: 3·10·5 + 2·20·5 = 350.
    groups = [
        PadGroup(3, 1000.0, 6.0, standard_error_lbf_in=10.0),
        PadGroup(2, 800.0, 6.0, standard_error_lbf_in=20.0),
    ]
    assert line_pull(groups, 5.0).standard_uncertainty_lbf == pytest.approx(350.0, rel=1e-14)


def test_the_tape_gives_its_uncertainty_times_the_rate_of_all_pads() -> None:
    # By hand: K·u_s = 4,600·0.05 = 230.
    groups = [PadGroup(3, 1000.0, 6.0), PadGroup(2, 800.0, 6.0)]
    pull = line_pull(groups, 5.0, travel_uncertainty_in=0.05)
    assert pull.standard_uncertainty_lbf == pytest.approx(230.0, rel=1e-14)


def test_the_three_parts_add_in_squares() -> None:
    # By hand: own √4·(30·5) = 300; shared 4·20·5 = 400; tape 4,000·0.3 = 1,200; u = 1,300.
    group = PadGroup(4, 1000.0, 6.0, standard_error_lbf_in=20.0, spread_lbf_in=30.0)
    pull = line_pull([group], 5.0, travel_uncertainty_in=0.3)
    assert pull.standard_uncertainty_lbf == pytest.approx(1_300.0, rel=1e-14)
    assert pull.working_capacity_lbf == pytest.approx(20_000.0 - 1.6449 * 1_300.0, rel=1e-14)


@pytest.mark.parametrize(
    ("spread", "freedom"),
    [
        # By hand, shared 1·30·1 = 30 with 4 degrees: u = 30, (u/shared)⁴ = 1, so 4.
        pytest.param(0.0, 4.0, id="all shared"),
        # u = 50: 4·(50/30)⁴ = 30.86, truncated to 30.
        pytest.param(40.0, 30.0, id="truncated, not rounded"),
    ],
)
def test_degrees_of_freedom_are_those_of_welch_satterthwaite(spread: float, freedom: float) -> None:
    group = PadGroup(1, 1000.0, 6.0, 30.0, spread, degrees_of_freedom=4)
    assert line_pull([group], 1.0).degrees_of_freedom == freedom


def test_the_lot_known_worst_speaks_for_the_shared_error() -> None:
    groups = [PadGroup(1, 1000.0, 6.0, 15.0, 0.0, 9), PadGroup(1, 1000.0, 6.0, 15.0, 0.0, 4)]
    assert line_pull(groups, 1.0).degrees_of_freedom == 4.0


def test_a_lot_without_a_sound_pad_says_nothing_of_degrees_of_freedom() -> None:
    groups = [PadGroup(1, 1000.0, 6.0, 15.0, 0.0, 9), PadGroup(0, 1000.0, 6.0, 15.0, 0.0, 1)]
    assert line_pull(groups, 1.0).degrees_of_freedom == 9.0


def test_without_a_shared_error_degrees_of_freedom_are_infinite() -> None:
    pull = line_pull([PadGroup(4, 1000.0, 6.0, 0.0, 50.0, 3)], 5.0)
    assert pull.degrees_of_freedom == math.inf
    assert pull.coverage_factor == 1.6449


@pytest.mark.parametrize(
    ("freedom", "factor"),
    # One-sided 95 %, standard t table.
    [(math.inf, 1.6449), (4.0, 2.1318), (1.0, 6.3138)],
)
def test_the_one_sided_factor_is_the_tables(freedom: float, factor: float) -> None:
    assert coverage_factor(0.95, freedom) == factor


def test_working_capacity_is_pull_less_factor_times_uncertainty() -> None:
    # By hand: 10·1000·5 = 50,000; shared 10·8·5 = 400; 4 degrees, 2.1318.
    pull = line_pull([PadGroup(10, 1000.0, 6.0, 8.0, 0.0, 4)], 5.0)
    assert pull.coverage_factor == 2.1318
    assert pull.working_capacity_lbf == pytest.approx(50_000.0 - 2.1318 * 400.0, rel=1e-14)


def test_working_capacity_is_never_below_nothing() -> None:
    pull = line_pull([PadGroup(1, 1000.0, 6.0, 900.0, 0.0, 1)], 5.0)
    assert pull.working_capacity_lbf == 0.0
    assert pull.pull_lbf == 5_000.0


def test_a_higher_confidence_gives_a_lower_working_capacity() -> None:
    groups = [PadGroup(10, 1000.0, 6.0, spread_lbf_in=50.0)]
    # Normal table: 2.3263 at 99 %, one-sided.
    sure = line_pull(groups, 5.0, confidence=0.99)
    assert sure.coverage_factor == 2.3263
    assert sure.working_capacity_lbf < line_pull(groups, 5.0).working_capacity_lbf


@pytest.mark.parametrize(
    ("travel", "usable", "limit"),
    [
        (5.0, 5.0, Limit.TRAVEL),
        (6.0, 6.0, Limit.TRAVEL),
        (6.5, 6.0, Limit.TESTED_STRETCH),
    ],
    ids=["short of the test", "a tie is the travel", "beyond the test"],
)
def test_usable_travel_is_the_smaller_of_travel_and_tested_stretch(
    travel: float, usable: float, limit: Limit
) -> None:
    pull = line_pull([PadGroup(4, 1000.0, 6.0), PadGroup(4, 1000.0, 8.0)], travel)
    assert pull.usable_travel_in == usable
    assert pull.limited_by is limit


def test_a_lot_fitted_without_a_sound_pad_still_limits_the_stretch() -> None:
    pull = line_pull([PadGroup(4, 1000.0, 8.0), PadGroup(0, 900.0, 3.0)], 5.0)
    assert pull.usable_travel_in == 3.0
    assert pull.limited_by is Limit.TESTED_STRETCH
    assert pull.pull_lbf == 12_000.0


def test_no_groups_at_all_pull_nothing() -> None:
    pull = line_pull([], 5.0, travel_uncertainty_in=0.1)
    assert (pull.pull_lbf, pull.working_capacity_lbf, pull.rate_lbf_in) == (0.0, 0.0, 0.0)
    assert pull.standard_uncertainty_lbf == 0.0
    assert pull.usable_travel_in == 5.0
    assert pull.limited_by is Limit.TRAVEL
    assert pull.groups == ()


def test_a_lot_that_is_not_linear_pulls_along_its_curve() -> None:
    # Invented curve: 2,900 lbf and 1,120 lbf/in at 3 in; scatter as a share of that force.
    curve = monotone_curve(
        [1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [900.0, 1850.0, 2900.0, 4100.0, 5600.0, 7600.0]
    )
    pull = line_pull([PadGroup(4, 1000.0, 6.0, spread_lbf_in=50.0, curve=curve)], 3.0)
    assert pull.pull_lbf == 4 * 2_900.0
    assert pull.rate_lbf_in == pytest.approx(4 * 1_120.0, rel=1e-12)
    assert pull.standard_uncertainty_lbf == pytest.approx(2 * 0.05 * 2_900.0, rel=1e-12)


def test_pull_at_a_stretch_is_the_sum_over_pads() -> None:
    groups = [PadGroup(3, 1000.0, 6.0), PadGroup(2, 800.0, 7.0)]
    assert pull_at(groups, 2.5) == 11_500.0


def test_pull_beyond_a_tested_stretch_is_refused_though_the_curve_goes_further() -> None:
    group = PadGroup(1, 1000.0, 1.0, curve=monotone_curve([1.0, 2.0], [1000.0, 2100.0]))
    assert pull_at([group], 1.0) == 1000.0
    with pytest.raises(ValueError, match=r"stretch_in is 1\.5: .*tested stretch of 1 in"):
        pull_at([group], 1.5)


def test_scatter_that_outweighs_a_shared_error_known_from_two_readings_lowers_the_factor() -> None:
    # Welch–Satterthwaite as it is, not as one would wish: by hand, shared 500 with 1 degree,
    # t 6.3138, W = 1,843.1; with scatter 325, u = 596.34, 1·(596.34/500)⁴ = 2.02, so 2, t 2.92.
    alone = line_pull([PadGroup(1, 1000.0, 6.0, 100.0, 0.0, 1)], 5.0)
    scattered = line_pull([PadGroup(1, 1000.0, 6.0, 100.0, 65.0, 1)], 5.0)
    assert alone.working_capacity_lbf == pytest.approx(1_843.1, abs=0.01)
    assert (alone.coverage_factor, scattered.coverage_factor) == (6.3138, 2.92)
    assert scattered.standard_uncertainty_lbf > alone.standard_uncertainty_lbf
    assert scattered.working_capacity_lbf > alone.working_capacity_lbf


def test_pull_beyond_a_tested_stretch_is_refused() -> None:
    with pytest.raises(ValueError, match=r"stretch_in is 6\.5: .*tested stretch of 6 in"):
        pull_at([PadGroup(3, 1000.0, 6.0), PadGroup(2, 800.0, 7.0)], 6.5)
