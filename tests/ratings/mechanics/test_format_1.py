"""The first method of rating, as entries of its time are recomputed: by hand, and for ever."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from ratings.mechanics import format_1
from ratings.mechanics.linepull import Limit, PadGroup
from ratings.mechanics.load_curve import MonotoneCurve, monotone_curve
from ratings.mechanics.record import results_of_format
from ratings.mechanics.unit_rating import LotRate, Policy, Position, UnitInputs

# Invented: 2,900 lbf and 1,120 lbf/in at 3 in.
CURVE = monotone_curve(
    [1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [900.0, 1850.0, 2900.0, 4100.0, 5600.0, 7600.0]
)


def lot(mark: str = "P1", tested: float = 8.0, **changes: Any) -> LotRate:
    usual: dict[str, Any] = {
        "rate_lbf_in": 1000.0,
        "standard_error_lbf_in": 5.0,
        "degrees_of_freedom": 9,
        "linearity_error_pct": 1.0,
        "curve": (),
    }
    return LotRate(lot=mark, tested_stretch_in=tested, **(usual | changes))


def unit(on_a: int = 4, on_b: int = 4, **changes: Any) -> UnitInputs:
    positions = tuple(
        Position(side, number, "sound", "P1")
        for side, count in (("A", on_a), ("B", on_b))
        for number in range(1, count + 1)
    )
    usual: dict[str, Any] = {
        "positions": positions,
        "lots": (lot(),),
        "travel_in": 5.0,
        "listed_lbf": 30_000.0,
    }
    return UnitInputs(**(usual | changes))


def test_a_whole_unit_worked_by_hand() -> None:
    # 8·1000·5 = 40,000; own √8·(50·5); shared 8·5·5 = 200; tape 8,000·0.125/√12.
    found = format_1.results(unit())
    u = math.sqrt(8 * 250.0**2 + 200.0**2 + (8_000.0 * 0.125) ** 2 / 12.0)
    assert found["pull_lbf"] == 40_000.0
    assert found["standard_uncertainty_lbf"] == pytest.approx(u, rel=1e-13)
    assert found["degrees_of_freedom"] == float(int(9 * (u / 200.0) ** 4))
    assert found["working_capacity_lbf"] == pytest.approx(
        40_000.0 - found["coverage_factor"] * u, rel=1e-13
    )
    assert found["standing"] == "meets listing"
    assert (found["side_a_lbf"], found["side_b_lbf"]) == (20_000.0, 20_000.0)


def test_the_two_sides_were_added_up() -> None:
    assert format_1.results(unit(8, 0))["pull_lbf"] == 40_000.0
    assert format_1.results(unit(8, 0, is_guided=True))["pull_lbf"] == 40_000.0


def test_no_price_and_no_condition_of_use_was_taken_off() -> None:
    dear = lot(loading_only_share=1.0, not_conditioned_share=1.0, temperature_unknown_share=1.0)
    policy = Policy(conditions_pct=50.0, seal_friction_pct=50.0)
    found = format_1.results(unit(lots=(dear,), policy=policy))
    assert found == format_1.results(unit())


def test_a_lot_within_the_limit_was_rated_by_its_rate_and_beyond_it_by_its_curve() -> None:
    bent = lot(tested=6.0, curve=CURVE.knots, linearity_error_pct=5.0)
    found = format_1.results(unit(lots=(bent,), travel_in=3.0))
    assert (found["pull_lbf"], found["lots"][0]["is_linear"]) == (24_000.0, True)
    bent = replace(bent, linearity_error_pct=5.01)
    found = format_1.results(unit(lots=(bent,), travel_in=3.0))
    assert (found["pull_lbf"], found["lots"][0]["is_linear"]) == (8 * 2_900.0, False)


def test_the_least_tested_lot_fitted_ended_the_stretch_sound_or_not() -> None:
    positions = (*unit().positions, Position("B", 5, "cracked", "P3"))
    found = format_1.results(unit(positions=positions, lots=(lot(), lot("P3", tested=3.0))))
    assert (found["usable_travel_in"], found["pull_lbf"]) == (3.0, 24_000.0)
    assert (found["limited_by"], found["limiting_lots"]) == ("tested stretch", ("P3",))


def test_results_have_the_names_they_had() -> None:
    found = results_of_format(1, unit())
    assert set(found) == {
        "standing",
        "missing",
        "sound_pads",
        "positions",
        "unrated_pads",
        "listed_lbf",
        "stale_lots",
        "is_assumed_spread",
        "pull_lbf",
        "working_capacity_lbf",
        "usable_travel_in",
        "limited_by",
        "limiting_lots",
        "rate_lbf_in",
        "standard_uncertainty_lbf",
        "degrees_of_freedom",
        "coverage_factor",
        "lots",
        "side_a_lbf",
        "side_b_lbf",
        "is_out_of_balance",
    }
    assert set(found["lots"][0]) == {
        "lot",
        "count",
        "force_per_pad_lbf",
        "slope_lbf_in",
        "pull_lbf",
        "is_linear",
    }


def test_a_format_not_known_is_refused() -> None:
    with pytest.raises(ValueError, match="format is 5: give 1 to 4"):
        results_of_format(5, unit())


@pytest.mark.parametrize(
    ("spread", "freedom"),
    [
        # By hand, shared 1·30·1 = 30 with 4 degrees: u = 30, (u/shared)⁴ = 1, so 4.
        pytest.param(0.0, 4.0, id="all shared"),
        # u = 50: 4·(50/30)⁴ = 30.86, truncated to 30.
        pytest.param(40.0, 30.0, id="truncated, not rounded"),
    ],
)
def test_degrees_of_freedom_were_truncated(spread: float, freedom: float) -> None:
    group = PadGroup(1, 1000.0, 6.0, 30.0, spread, degrees_of_freedom=4)
    assert format_1.line_pull([group], 1.0).degrees_of_freedom == freedom


def test_the_lot_known_worst_spoke_for_the_shared_error() -> None:
    groups = [PadGroup(1, 1000.0, 6.0, 15.0, 0.0, 9), PadGroup(1, 1000.0, 6.0, 15.0, 0.0, 4)]
    assert format_1.line_pull(groups, 1.0).degrees_of_freedom == 4.0


def test_a_measured_spread_bounded_the_degrees_of_freedom() -> None:
    group = PadGroup(24, 1000.0, 6.0, 1.0, 50.0, 9, spread_degrees_of_freedom=1)
    assert format_1.line_pull([group], 1.0).degrees_of_freedom == 1.0


def test_scatter_beside_a_shared_error_known_from_two_readings_lowered_the_factor() -> None:
    # By hand, shared 500 with 1 degree, t 6.3138, W = 1,843.1; with scatter 325, u = 596.34,
    # 1·(596.34/500)⁴ = 2.02, so 2, t 2.92.
    alone = format_1.line_pull([PadGroup(1, 1000.0, 6.0, 100.0, 0.0, 1)], 5.0)
    scattered = format_1.line_pull([PadGroup(1, 1000.0, 6.0, 100.0, 65.0, 1)], 5.0)
    assert alone.working_capacity_lbf == pytest.approx(1_843.1, abs=0.01)
    assert (alone.coverage_factor, scattered.coverage_factor) == (6.3138, 2.92)


def test_a_pad_in_great_doubt_counted_all_the_same() -> None:
    pull = format_1.line_pull([PadGroup(1, 1000.0, 6.0, 900.0, 0.0, 1)], 5.0)
    assert (pull.pull_lbf, pull.working_capacity_lbf) == (5_000.0, 0.0)


def test_the_tested_stretch_ended_the_travel() -> None:
    pull = format_1.line_pull([PadGroup(4, 1000.0, 6.0), PadGroup(4, 1000.0, 8.0)], 6.5)
    assert (pull.usable_travel_in, pull.limited_by) == (6.0, Limit.TESTED_STRETCH)


def test_a_curve_was_as_unsure_as_all_its_doubts_together() -> None:
    # 30; 1,120·0.05 = 56; 0.01·2,900 = 29; 20, of eight pads alike.
    curve = MonotoneCurve(CURVE.knots, replace(CURVE.doubt, force_lbf=30.0, stretch_in=0.05))
    curve = replace(curve, doubt=replace(curve.doubt, share=0.01, scatter_lbf=20.0))
    found = format_1.line_pull([PadGroup(8, 1000.0, 6.0, 2.0, 0.0, 9, curve)], 3.0)
    by_hand = 8.0 * math.sqrt(30.0**2 + 56.0**2 + 29.0**2 + 20.0**2)
    assert found.standard_uncertainty_lbf == pytest.approx(by_hand, rel=1e-12)
    assert found.degrees_of_freedom == 9.0


def test_capacity_at_a_stretch_beyond_a_test_is_refused() -> None:
    with pytest.raises(ValueError, match=r"stretch_in is 6\.5: .*tested stretch of 6 in"):
        format_1.capacity_at([PadGroup(3, 1000.0, 6.0), PadGroup(2, 800.0, 7.0)], 6.5)
    # 23,000 lbf at 5 in, without any doubt.
    groups = [PadGroup(3, 1000.0, 6.0), PadGroup(2, 800.0, 7.0)]
    assert format_1.capacity_at(groups, 5.0) == 23_000.0
