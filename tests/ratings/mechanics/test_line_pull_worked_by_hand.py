"""Line pull, its uncertainty and the working capacity, each worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from ratings.mechanics.linepull import (
    Limit,
    PadGroup,
    line_pull,
    pull_at,
)
from ratings.mechanics.load_curve import Knot, MonotoneCurve, monotone_curve
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
        # u = 50: 4·(50/30)⁴ = 30.864, and no part of it is cut off.
        pytest.param(40.0, 4.0 * (5.0 / 3.0) ** 4, id="a fraction"),
    ],
)
def test_degrees_of_freedom_are_those_of_welch_satterthwaite(spread: float, freedom: float) -> None:
    group = PadGroup(1, 1000.0, 6.0, 30.0, spread, degrees_of_freedom=4)
    assert line_pull([group], 1.0).degrees_of_freedom == pytest.approx(freedom, rel=1e-12)


def test_shared_errors_that_add_straight_weigh_by_how_well_each_is_known() -> None:
    # By hand: S = 30; ν = S²/Σ(c²/ν) = 900/(225/9 + 225/4) = 900/81.25 = 11.0769.
    groups = [PadGroup(1, 1000.0, 6.0, 15.0, 0.0, 9), PadGroup(1, 1000.0, 6.0, 15.0, 0.0, 4)]
    assert line_pull(groups, 1.0).degrees_of_freedom == pytest.approx(900.0 / 81.25, rel=1e-12)


def test_each_groups_spread_and_each_shared_part_has_its_own_degrees_of_freedom() -> None:
    # By hand, at 1 in: spread 4·30² = 3,600 with 9; a mean of four pads 16·30²/4 = 3,600 of the
    # same estimate, so 7,200 with 9; between 4·(0.02·1,000) = 80, 6,400 with 2; shared
    # 4·15 = 60, 3,600 with 12; use 4·0.03·1,000 = 120, 14,400 known for sure. u² = 31,600.
    group = PadGroup(
        4,
        1000.0,
        6.0,
        15.0,
        30.0,
        12,
        spread_degrees_of_freedom=9,
        pads_tested=4,
        between_share=0.02,
        between_degrees_of_freedom=2,
        conditions_share=0.03,
    )
    found = line_pull([group], 1.0)
    assert found.standard_uncertainty_lbf == pytest.approx(math.sqrt(31_600.0), rel=1e-12)
    by_hand = 31_600.0**2 / (7_200.0**2 / 9 + 6_400.0**2 / 2 + 3_600.0**2 / 12)
    assert found.degrees_of_freedom == pytest.approx(by_hand, rel=1e-12)
    parts = (found.scatter_lbf, found.lots_lbf, found.shared_lbf, found.conditions_lbf)
    # Scatter √3,600; the lot's own √(3,600 + 6,400); shared; use.
    assert parts == pytest.approx((60.0, 100.0, 60.0, 120.0), rel=1e-12)
    assert found.tape_lbf == 0.0


def test_a_lot_without_a_sound_pad_says_nothing_of_degrees_of_freedom() -> None:
    groups = [PadGroup(1, 1000.0, 6.0, 15.0, 0.0, 9), PadGroup(0, 1000.0, 6.0, 15.0, 0.0, 1)]
    assert line_pull(groups, 1.0).degrees_of_freedom == 9.0


def test_pads_that_differ_alone_have_the_degrees_of_freedom_of_their_spread() -> None:
    pull = line_pull([PadGroup(4, 1000.0, 6.0, 0.0, 50.0, spread_degrees_of_freedom=8)], 5.0)
    # Student's table, one-sided 95 %, 8 degrees: 1.8595.
    assert pull.degrees_of_freedom == pytest.approx(8.0, rel=1e-12)
    assert pull.coverage_factor == 1.8595


def test_without_any_estimate_degrees_of_freedom_are_infinite() -> None:
    pull = line_pull([PadGroup(4, 1000.0, 6.0, 0.0, 50.0)], 5.0)
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
    # 5,000 lbf, of which 6.3138·4,500 is in doubt.
    pull = line_pull([PadGroup(1, 1000.0, 6.0, 900.0, 0.0, 1)], 5.0)
    assert (pull.pull_lbf, pull.working_capacity_lbf) == (5_000.0, 0.0)


def test_a_lot_in_great_doubt_takes_nothing_from_the_others() -> None:
    sure, unsure = PadGroup(4, 1000.0, 6.0), PadGroup(4, 1000.0, 6.0, 900.0, 0.0, 1)
    pull = line_pull([sure, unsure], 5.0)
    assert pull.working_capacity_lbf == pull.pull_lbf == 20_000.0
    assert [each.counted for each in pull.groups] == [4, 0]


# Known for sure: 20,000 lbf less what scatter of 1,000 leaves. Hardly known: 20,000 of which 80 %
# of the force is in doubt, 1.6449·16,000 = 26,318.
SURE = PadGroup(4, 1000.0, 6.0, spread_lbf_in=100.0)
UNSURE = PadGroup(4, 1000.0, 6.0, between_share=0.8)


def test_a_lot_in_more_doubt_than_it_pulls_counts_at_the_share_that_adds_most() -> None:
    # By hand: 20,000·(1 + c) − 1.6449·√(1,000² + (16,000·c)²) is largest at
    # c = 20,000·1,000/(16,000·√(26,318.4² − 20,000²)) = 0.0731, and there
    # 20,000 − 1,000·√(1.6449² − 1.25²) = 18,930.8, against 18,355.1 without that lot.
    pull = line_pull([SURE, UNSURE], 5.0)
    assert pull.groups[0].share == 1.0
    assert pull.groups[1].share == pytest.approx(0.0731, abs=1e-4)
    assert pull.working_capacity_lbf == pytest.approx(18_930.8, abs=0.1)
    assert [each.counted for each in pull.groups] == [4, 4]
    assert pull.groups[1].pull_lbf == pytest.approx(20_000.0 * pull.groups[1].share, rel=1e-12)
    assert pull.pull_lbf == math.fsum(each.pull_lbf for each in pull.groups)


def test_such_a_lot_made_larger_counts_at_a_smaller_share_and_to_the_same_end() -> None:
    # As reading the unloading does, which gives back 3 % of force and of doubt alike.
    less = line_pull([SURE, replace(UNSURE, kept_share=0.97)], 5.0)
    more = line_pull([SURE, UNSURE], 5.0)
    assert more.groups[1].share == pytest.approx(0.97 * less.groups[1].share, rel=1e-4)
    assert more.working_capacity_lbf == pytest.approx(less.working_capacity_lbf, abs=1e-3)


def test_of_several_such_lots_the_one_that_adds_most_counts() -> None:
    worse = replace(UNSURE, between_share=0.9)
    pull = line_pull([worse, SURE, UNSURE], 5.0)
    assert [each.counted for each in pull.groups] == [0, 4, 4]
    assert pull.working_capacity_lbf == line_pull([SURE, UNSURE], 5.0).working_capacity_lbf


def test_a_lot_proven_to_carry_a_little_by_itself_counts_whole() -> None:
    # 20,000 − 1.6449·12,000 = 261: 60 % in doubt.
    pull = line_pull([SURE, replace(UNSURE, between_share=0.6)], 5.0)
    assert [each.share for each in pull.groups] == [1.0, 1.0]
    by_hand = 40_000.0 - 1.6449 * math.hypot(1_000.0, 12_000.0)
    assert pull.working_capacity_lbf == pytest.approx(by_hand, rel=1e-12)


def test_what_a_stand_has_wrong_with_a_lot_known_worst_is_in_no_more_doubt_than_all_it_has() -> (
    None
):
    # By hand: of 200 lbf together ν = 200²/(100²/1000 + 100²/1) = 4.0, and t·u some 426; of the
    # second alone 6.3138·100 = 631.4. Less doubt of the first may not lower what is proven.
    known, hardly = PadGroup(1, 1e4, 6.0, 100.0, 0.0, 1_000), PadGroup(1, 1e4, 6.0, 100.0, 0.0, 1)
    both = line_pull([known, hardly], 1.0)
    assert both.working_capacity_lbf == pytest.approx(20_000.0 - 631.38, abs=1e-6)
    surer = line_pull([replace(known, standard_error_lbf_in=0.0), hardly], 1.0)
    assert surer.working_capacity_lbf == pytest.approx(both.working_capacity_lbf, abs=1e-6)


def test_pads_each_in_great_doubt_of_their_own_are_proven_together() -> None:
    # One alone: 1,000 − 1.6449·700 is below nothing. Sixteen: 16,000 − 1.6449·4·700.
    pull = line_pull([PadGroup(16, 1000.0, 6.0, spread_lbf_in=700.0)], 1.0)
    assert pull.working_capacity_lbf == pytest.approx(16_000.0 - 1.6449 * 2_800.0, rel=1e-12)


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
def test_usable_travel_ends_where_lots_that_carry_much_were_tested_to(
    travel: float, usable: float, limit: Limit
) -> None:
    # At 6 in 48,000 lbf of both; at 6.5 in 26,000 of the second alone.
    pull = line_pull([PadGroup(4, 1000.0, 6.0), PadGroup(4, 1000.0, 8.0)], travel)
    assert pull.usable_travel_in == usable
    assert pull.limited_by is limit


def test_one_pad_of_a_lot_tested_a_little_way_ends_no_travel() -> None:
    # 24 pads of 1,000 lbf/in at 5.5 in carry 132,000; with one of a lot tested to 2.5 in too
    # they would carry 25·2,500 there. It adds nothing, and takes nothing.
    far, short = PadGroup(24, 1000.0, 6.0), PadGroup(1, 1000.0, 2.5)
    pull = line_pull([far, short], 5.5)
    assert (pull.usable_travel_in, pull.pull_lbf) == (5.5, 132_000.0)
    assert [each.counted for each in pull.groups] == [24, 0]
    assert pull.groups[1].force_per_pad_lbf == 0.0


def test_travel_ends_where_a_stiffening_curve_and_the_tape_leave_most() -> None:
    # Invented: 1,000 lbf at 2 in, then 40 lbf more to 2.1 in, so steep that 0.3 in of tape
    # leaves less: 4·1,040 − 1.6449·4·(400·0.3) against 4·1,000 with no slope at 2 in.
    knots = (Knot(0.0, 0.0, 500.0), Knot(2.0, 1000.0, 0.0), Knot(2.1, 1040.0, 400.0))
    group = PadGroup(4, 500.0, 2.1, curve=MonotoneCurve(knots))
    pull = line_pull([group], 2.1, travel_uncertainty_in=0.3)
    assert (pull.usable_travel_in, pull.limited_by) == (2.0, Limit.CAPACITY)
    assert pull.working_capacity_lbf == 4_000.0


def test_travel_ends_between_readings_where_the_tape_leaves_most_there() -> None:
    # Invented, known but for the tape: W(s) = 4·(f − 1.6449·0.6·f′), against the largest of
    # 40,000 stretches up to the travel.
    curve = MonotoneCurve((Knot(0.0, 0.0, 1_000.0), Knot(2.0, 1_000.0, 1_000.0)))
    tape_in = 0.6
    for travel_in in (1.0, 1.5, 2.0):
        pull = line_pull([PadGroup(4, 500.0, 2.0, curve=curve)], travel_in, tape_in)
        by_grid = max(
            4.0 * (curve.force_lbf(s) - 1.6449 * tape_in * curve.slope_lbf_in(s))
            for s in (travel_in * step / 40_000 for step in range(1, 40_001))
        )
        assert pull.working_capacity_lbf == pytest.approx(by_grid, abs=0.01)


def test_a_lot_fitted_without_a_sound_pad_limits_nothing() -> None:
    pull = line_pull([PadGroup(4, 1000.0, 8.0), PadGroup(0, 900.0, 3.0)], 5.0)
    assert (pull.usable_travel_in, pull.limited_by) == (5.0, Limit.TRAVEL)
    assert pull.pull_lbf == 20_000.0


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


def test_a_lot_carries_nothing_beyond_its_tested_stretch_though_the_curve_goes_further() -> None:
    group = PadGroup(1, 1000.0, 1.0, curve=monotone_curve([1.0, 2.0], [1000.0, 2100.0]))
    assert pull_at([group], 1.0) == 1000.0
    assert pull_at([group], 1.5) == 0.0
    assert line_pull([group], 1.5).pull_lbf == 1000.0


def test_no_part_is_in_more_doubt_than_the_whole() -> None:
    # By hand: shared 500 with 1 degree, t 6.3138, comes to 3,156.9, W = 1,843.1. Scatter of 325
    # known for sure makes u = 596.34 and ν = (596.34/500)⁴ = 2.023, of which t is about 2.9 and
    # t·u some 1,730, less than the shared error alone: W stays what that leaves.
    alone = line_pull([PadGroup(1, 1000.0, 6.0, 100.0, 0.0, 1)], 5.0)
    scattered = line_pull([PadGroup(1, 1000.0, 6.0, 100.0, 65.0, 1)], 5.0)
    assert alone.working_capacity_lbf == pytest.approx(1_843.1, abs=0.01)
    assert scattered.working_capacity_lbf == pytest.approx(1_843.1, abs=0.01)
    u = math.hypot(500.0, 325.0)
    assert scattered.standard_uncertainty_lbf == pytest.approx(u, rel=1e-12)
    assert scattered.coverage_factor == pytest.approx(3_156.9 / u, rel=1e-6)
    # Student's t is as large at so few degrees of freedom.
    assert coverage_factor(0.95, scattered.degrees_of_freedom) == pytest.approx(
        scattered.coverage_factor, rel=0.005
    )


def test_one_pad_of_a_lot_known_by_two_singles_raises_no_factor() -> None:
    # Spread of 5 % assumed with 8 degrees; two singles make that 9 for the lot they belong to.
    # By hand, at 1 in: 24·50² = 60,000 with 8, so t(8) = 1.8595; with one pad in place of a 25th
    # 2,500 more with 9: ν = 62,500²/(60,000²/8 + 2,500²/9) = 8.668.
    known = PadGroup(24, 1000.0, 6.0, spread_lbf_in=50.0, spread_degrees_of_freedom=8)
    single = PadGroup(1, 1000.0, 6.0, spread_lbf_in=50.0, spread_degrees_of_freedom=9)
    before, after = line_pull([known], 1.0), line_pull([known, single], 1.0)
    assert before.coverage_factor == 1.8595
    by_hand = 62_500.0**2 / (60_000.0**2 / 8 + 2_500.0**2 / 9)
    assert after.degrees_of_freedom == pytest.approx(by_hand, rel=1e-12)
    assert after.coverage_factor < before.coverage_factor


def test_lots_not_tested_so_far_add_nothing_at_a_stretch() -> None:
    # 2·800·6.5 of the second alone.
    assert pull_at([PadGroup(3, 1000.0, 6.0), PadGroup(2, 800.0, 7.0)], 6.5) == 10_400.0


def test_twice_the_weaker_side_where_the_housing_is_not_guided() -> None:
    # By hand: side A 10·5,000 = 50,000, side B 6·5,000 = 30,000, so 60,000, not 80,000.
    group = PadGroup(16, 1000.0, 6.0, sides=(10, 6))
    pull = line_pull([group], 5.0)
    assert (pull.pull_lbf, pull.weaker_side) == (60_000.0, "B")
    assert (pull.groups[0].counted, pull.rate_lbf_in) == (12, 12_000.0)
    assert pull_at([group], 5.0) == 60_000.0
    guided = line_pull([replace(group, sides=None)], 5.0)
    assert (guided.pull_lbf, guided.weaker_side) == (80_000.0, "")


def test_the_weaker_side_is_the_one_that_pulls_less() -> None:
    # A: four of 1,000 and none of 3,000; B: two of 3,000.
    groups = [PadGroup(4, 1000.0, 6.0, sides=(4, 0)), PadGroup(2, 3000.0, 6.0, sides=(0, 2))]
    pull = line_pull(groups, 5.0)
    assert (pull.pull_lbf, pull.weaker_side) == (40_000.0, "A")


def test_the_scatter_of_two_sides_counts_twice_and_what_they_share_once() -> None:
    # By hand, a side of eight at 5 in: scatter 2·8·(50·5)² = 1,000,000, so 1,000; shared
    # 8·10·5 = 400; tape 8,000·0.05 = 400; u = √1,320,000 = 1,148.9; the housing twice that.
    group = PadGroup(16, 1000.0, 6.0, 10.0, 50.0, sides=(8, 8))
    pull = line_pull([group], 5.0, travel_uncertainty_in=0.05)
    u = 2.0 * math.sqrt(1_320_000.0)
    assert pull.standard_uncertainty_lbf == pytest.approx(u, rel=1e-12)
    assert (pull.scatter_lbf, pull.shared_lbf, pull.tape_lbf) == pytest.approx(
        (2_000.0, 800.0, 800.0), rel=1e-12
    )
    assert pull.working_capacity_lbf == pytest.approx(80_000.0 - 1.6449 * u, rel=1e-12)


def test_pads_on_one_side_alone_hold_nothing_up() -> None:
    pull = line_pull([PadGroup(24, 1000.0, 6.0, sides=(24, 0))], 5.0)
    assert (pull.pull_lbf, pull.working_capacity_lbf, pull.weaker_side) == (0.0, 0.0, "B")


def test_what_shortcuts_cost_is_off_the_curve_and_its_doubt() -> None:
    # By hand: 0.97·0.9 = 0.873 of 4·1,000·5; spread √4·250·0.873.
    pull = line_pull([PadGroup(4, 1000.0, 6.0, spread_lbf_in=50.0, kept_share=0.873)], 5.0)
    assert pull.pull_lbf == pytest.approx(17_460.0, rel=1e-12)
    assert pull.standard_uncertainty_lbf == pytest.approx(436.5, rel=1e-12)


def test_half_way_between_two_readings_the_rise_between_them_is_in_doubt() -> None:
    # By hand: readings at 1 and 3 in, 2,000 lbf apart; half-way 0.03·2,000 = 60 a pad, of four
    # 240; a quarter of the way 4·¼·¾ = 0.75 of it; at a reading none.
    curve = monotone_curve([1.0, 3.0], [1000.0, 3000.0])
    group = PadGroup(4, 1000.0, 3.0, curve=curve, gap_share=0.03)
    assert line_pull([group], 2.0).standard_uncertainty_lbf == pytest.approx(240.0, rel=1e-12)
    assert line_pull([group], 1.5).standard_uncertainty_lbf == pytest.approx(180.0, rel=1e-12)
    assert line_pull([group], 3.0).standard_uncertainty_lbf == 0.0


def test_the_mean_of_few_pads_tested_leaves_every_pad_in_the_same_doubt() -> None:
    # By hand: 16·(50·5)² = 1,000,000 of the pads fitted; 16²·250²/2 = 8,000,000 of two tested.
    group = PadGroup(16, 1000.0, 6.0, spread_lbf_in=50.0, pads_tested=2.0)
    pull = line_pull([group], 5.0)
    assert pull.standard_uncertainty_lbf == pytest.approx(3_000.0, rel=1e-12)
    assert pull.scatter_lbf == pytest.approx(1_000.0, rel=1e-12)
