"""What would bring a unit to its listing."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ratings.mechanics.load_curve import monotone_curve
from ratings.mechanics.shortcuts import Shortcut
from ratings.mechanics.standing import Standing
from ratings.mechanics.unit_rating import LotRate, Policy, Position, UnitInputs, rate_unit
from ratings.mechanics.what_if import (
    PadsToFit,
    lots_to_test_further,
    pads_to_fit,
    pads_to_swap,
    prices,
    travel_to_meet,
)


def lot(mark: str = "P1", rate: float = 1000.0, tested: float = 8.0, error: float = 0.0) -> LotRate:
    return LotRate(mark, rate, error, 9, 1.0, tested, ())


# No uncertainty at all, so that pull and working capacity are the same and easy by hand.
SURE = Policy(pad_spread_pct=0.0, tape_resolution_in=0.125, conditions_pct=0.0, gap_band_pct=0.0)


def housing(on_a: str, on_b: str, mark: str = "P1") -> tuple[Position, ...]:
    """Positions from letters: s sound, c cracked, m missing."""
    conditions = {"s": "sound", "c": "cracked", "m": "missing"}
    return tuple(
        Position(side, number, conditions[letter], None if letter == "m" else mark)
        for side, letters in (("A", on_a), ("B", on_b))
        for number, letter in enumerate(letters, start=1)
    )


def unit(on_a: str, on_b: str, listed: float | None, **changes: Any) -> UnitInputs:
    """A guided unit, whose pads all count wherever they are."""
    usual: dict[str, Any] = {
        "positions": housing(on_a, on_b),
        "lots": (lot(),),
        "travel_in": 5.0,
        "is_guided": True,
    }
    return UnitInputs(listed_lbf=listed, **(usual | changes))


def pads_fitted(inputs: UnitInputs, of: LotRate, most: int) -> PadsToFit:
    """What to fit, where there is something to fit."""
    found = pads_to_fit(inputs, of, most)
    assert found is not None
    return found


def places(found: PadsToFit) -> list[str]:
    return [f"{position.side}{position.number}" for position in found.positions]


def test_the_weaker_side_is_filled_first_and_the_sides_then_in_turn() -> None:
    found = pads_fitted(unit("ssmm", "sccm", 27_000.0), lot(), most=9)
    assert places(found) == ["B2", "A3", "B3"]
    assert found.meets_listing


def test_the_weaker_side_is_the_one_that_pulls_less_not_the_one_with_fewer_pads() -> None:
    # Three soft pads on A against two stiff ones on B.
    positions = housing("sssm", "", "SOFT") + housing("", "ssm", "STIFF")
    inputs = unit("", "", 30_000.0, positions=positions, lots=(lot("SOFT", 300.0), lot("STIFF")))
    assert places(pads_fitted(inputs, lot("STIFF"), most=1)) == ["A4"]


def test_pads_of_a_lot_that_is_not_fitted_yet_are_rated_with_it() -> None:
    inputs = unit("ssm", "ssm", 24_000.0, policy=SURE)
    found = pads_fitted(inputs, lot("P2", 1500.0), most=4)
    # 4·1000·5 = 20,000 and one of 7,500.
    assert (found.lot, found.count) == ("P2", 1)
    assert found.rating.pull_lbf == 27_500.0


def test_the_fewest_pads_that_do_are_given() -> None:
    inputs = unit("ssmmmm", "ssmmmm", 33_000.0)
    found = pads_fitted(inputs, lot(), most=8)
    assert found.meets_listing
    fewer = pads_fitted(inputs, lot(), most=found.count - 1)
    assert not fewer.meets_listing


@given(st.integers(0, 6), st.integers(0, 6), st.integers(0, 6), st.floats(1_000.0, 80_000.0))
def test_pads_fitted_are_no_more_than_there_are_and_one_fewer_would_not_do(
    sound_a: int, sound_b: int, most: int, listed: float
) -> None:
    inputs = unit("s" * sound_a + "m" * (6 - sound_a), "s" * sound_b + "c" * (6 - sound_b), listed)
    assume(rate_unit(inputs).standing is not Standing.MEETS_LISTING)
    found = pads_to_fit(inputs, lot(), most)
    free = 12 - sound_a - sound_b
    if most == 0 or free == 0:
        assert found is None
        return
    assert found is not None
    assert 1 <= found.count <= min(most, free)
    if found.meets_listing:
        # By count alone: where a pad goes doesn't change the pull of all.
        fewer = unit("s" * (sound_a + sound_b + found.count - 1), "c", listed)
        assert rate_unit(fewer).standing is not Standing.MEETS_LISTING
    else:
        assert found.count == min(most, free)


def test_where_no_number_does_the_most_that_can_be_had_is_given() -> None:
    found = pads_fitted(unit("ssm", "ssm", 90_000.0), lot(), most=9)
    assert not found.meets_listing
    assert found.count == 2
    assert found.rating.pull_lbf == 30_000.0


def test_no_free_place_gives_none() -> None:
    assert pads_to_fit(unit("ss", "ss", 90_000.0), lot(), most=9) is None


def test_no_pad_in_stock_gives_none() -> None:
    assert pads_to_fit(unit("ssm", "ssm", 90_000.0), lot(), most=0) is None


def test_a_lot_that_helps_nothing_gives_none() -> None:
    # Tested to 1 in only: it would hold every pad to that stretch.
    assert pads_to_fit(unit("ssm", "ssm", 24_000.0), lot("P2", tested=1.0), most=9) is None


def test_pads_that_leave_the_working_capacity_at_nothing_give_none() -> None:
    # So badly known that the lower bound of any number of them is 0.
    unsure = lot("P2", error=900.0)
    assert pads_to_fit(unit("mm", "mm", 24_000.0), unsure, most=4) is None


def test_a_unit_whose_travel_was_never_taped_gives_none() -> None:
    assert pads_to_fit(unit("ssm", "ssm", 24_000.0, travel_in=None), lot(), most=9) is None


def test_fitting_changes_nothing_of_the_pads_that_are_sound() -> None:
    inputs = unit("ssm", "scm", 90_000.0)
    found = pads_fitted(inputs, lot("P2"), most=9)
    assert places(found) == ["B2", "A3", "B3"]
    assert found.rating.sound_pads == 6
    assert [share.count for share in found.rating.lots] == [3, 3]


def test_the_travel_that_meets_a_listing_worked_by_hand() -> None:
    # 8·1000·s with u = 8,000·0.125/√12 = 288.675 lbf: 8,000·s − 1.6449·288.675 ≥ 30,000
    # from s = 3.8094 in, which is 3.875 on a tape read to 1/8 in.
    inputs = unit("ssss", "ssss", 30_000.0, policy=SURE)
    assert travel_to_meet(inputs) == 3.875


def test_a_listing_met_on_a_division_of_the_tape_is_met_there_and_not_one_further() -> None:
    inputs = unit("ssss", "ssss", None, policy=SURE)
    capacity = rate_unit(replace(inputs, travel_in=4.0)).working_capacity_lbf
    assert travel_to_meet(replace(inputs, listed_lbf=capacity)) == 4.0


@given(
    st.floats(1_000.0, 70_000.0),
    st.floats(1.0, 9.0),
    st.sampled_from([0.0625, 0.1, 0.125, 0.25]),
    st.integers(1, 12),
)
def test_the_travel_returned_meets_the_listing_and_one_division_less_does_not(
    listed: float, tested: float, resolution: float, pads: int
) -> None:
    policy = Policy(tape_resolution_in=resolution)
    inputs = unit("s" * pads, "c", listed, lots=(lot(tested=tested),), policy=policy)
    travel = travel_to_meet(inputs)
    if travel is None:
        best = rate_unit(replace(inputs, travel_in=tested))
        assert best.standing is not Standing.MEETS_LISTING
        return
    assert travel <= tested
    divisions = travel / resolution
    assert travel == tested or divisions == pytest.approx(round(divisions), abs=1e-9)
    assert rate_unit(replace(inputs, travel_in=travel)).standing is Standing.MEETS_LISTING
    less = (math.ceil(divisions - 1e-9) - 1) * resolution
    if less > 0.0:
        shorter = rate_unit(replace(inputs, travel_in=less))
        assert shorter.standing is not Standing.MEETS_LISTING


def test_a_travel_between_the_last_division_and_the_tested_stretch_is_the_tested_stretch() -> None:
    # 8,000·5.05 − 474.8 = 39,925; at 5 in only 39,525.
    inputs = unit("ssss", "ssss", 39_900.0, lots=(lot(tested=5.05),), policy=SURE)
    assert travel_to_meet(inputs) == 5.05


def test_a_lot_fitted_without_a_sound_pad_ends_no_travel() -> None:
    positions = (*housing("ssss", "ssss"), Position("B", 5, "cracked", "P2"))
    inputs = unit(
        "", "", 30_000.0, positions=positions, lots=(lot(), lot("P2", tested=3.0)), policy=SURE
    )
    assert travel_to_meet(inputs) == 3.875


def test_a_pad_goes_to_the_weaker_side_where_the_housing_is_not_guided() -> None:
    # Twice the two pads of B: 20,000; with one more on B twice three, and then A and B in turn.
    inputs = unit("ssssm", "ssmmm", 29_000.0, policy=SURE, is_guided=False)
    assert rate_unit(inputs).pull_lbf == 20_000.0
    found = pads_fitted(inputs, lot(), most=9)
    assert (places(found), found.rating.pull_lbf) == (["B3"], 30_000.0)
    found = pads_fitted(replace(inputs, listed_lbf=39_000.0), lot(), most=9)
    assert (places(found), found.rating.pull_lbf) == (["B3", "B4"], 40_000.0)


def test_testing_a_lot_to_the_full_travel_adds_what_its_pads_would_give_there() -> None:
    # 4·1,000·5 of LONG; SHORT, 1,000 lbf/in to 2 in, would add 4·1,000·5 on the same line.
    short = LotRate("SHORT", 1000.0, 0.0, 9, 0.0, 2.0, monotone_curve([2.0], [2000.0]).knots)
    positions = housing("ss", "ss", "LONG") + tuple(
        Position(side, number, "sound", "SHORT") for side in "AB" for number in (3, 4)
    )
    inputs = unit("", "", 20_000.0, positions=positions, lots=(lot("LONG"), short), policy=SURE)
    before = rate_unit(inputs)
    assert (before.pull_lbf, before.short_lots) == (20_000.0, ("SHORT",))
    (found,) = lots_to_test_further(inputs)
    assert (found.lot, found.tested_stretch_in) == ("SHORT", 2.0)
    assert found.rating.pull_lbf == 40_000.0
    # Of which the tape takes twice as much: 4,000·0.125/√12 times 1.6449 more.
    gain_lbf = 20_000.0 - 1.6449 * 4_000.0 * 0.125 / math.sqrt(12.0)
    assert found.gain_lbf == pytest.approx(gain_lbf, rel=1e-12)


def test_a_lot_tested_as_far_as_the_travel_has_nothing_to_add() -> None:
    assert lots_to_test_further(unit("ss", "ss", 9_000.0)) == ()
    assert lots_to_test_further(unit("ss", "ss", 9_000.0, travel_in=None)) == ()


def test_each_shortcut_has_its_price_in_pounds_the_dearest_first() -> None:
    # 4·1,000·5 = 20,000 with all read. Off for the first stretch 10 %, for the seals 3 %.
    quick = replace(lot(), not_conditioned_share=1.0, loading_only_share=1.0)
    policy = replace(SURE, tape_resolution_in=1e-6, seal_friction_pct=3.0)
    inputs = unit("ss", "ss", 9_000.0, lots=(quick,), policy=policy)
    found = prices(inputs)
    assert [price.shortcut for price in found] == [Shortcut.NOT_CONDITIONED, Shortcut.LOADING_ONLY]
    # What is off for the seals is in doubt by as much again: 3 %/√3 of the force, × 1.6449.
    kept = 1.0 - 0.03 * 1.6449 / math.sqrt(3.0)
    assert found[0].gain_lbf == pytest.approx(20_000.0 * 0.97 * 0.1 * kept, abs=0.1)
    assert found[1].gain_lbf == pytest.approx(18_000.0 * (1.0 - 0.97 * kept), abs=0.1)


def test_marks_are_worth_what_the_pads_tested_would_tell_by_them() -> None:
    # Two pads of 20,000 lbf together behind the mean, of which nothing told that they are two.
    policy = replace(SURE, tape_resolution_in=1e-6, pad_spread_pct=5.0)
    policy = replace(policy, pad_spread_degrees_of_freedom=1e8)
    one_pad, two_pads = (replace(lot(), pads_tested=pads) for pads in (1.0, 2.0))
    inputs = unit("ss", "ss", 9_000.0, lots=(one_pad,), policy=policy)
    (found,) = prices(inputs, [two_pads, lot("another lot")])
    assert found.shortcut is Shortcut.UNMARKED_PADS
    # u² = (5 % of 5,000)²·(4 + 16/n): n pads behind the mean of four fitted.
    spread_lbf = 0.05 * 5_000.0
    gain_lbf = 1.6449 * spread_lbf * (math.sqrt(4.0 + 16.0) - math.sqrt(4.0 + 16.0 / 2.0))
    assert found.gain_lbf == pytest.approx(gain_lbf, abs=0.1)


def test_a_test_that_left_out_nothing_has_no_price() -> None:
    assert prices(unit("ss", "ss", 9_000.0)) == ()


@pytest.mark.parametrize(
    "inputs",
    [
        pytest.param(unit("ssss", "ssss", None), id="no listing"),
        pytest.param(unit("ssss", "ssss", 90_000.0), id="too high a listing"),
        pytest.param(unit("cccc", "cccc", 1_000.0), id="no sound pad"),
        pytest.param(unit("ssss", "ssss", 1_000.0, lots=()), id="no rated lot"),
        pytest.param(
            unit("", "", 1_000.0, positions=(*housing("sss", ""), Position("B", 1, "", "P1"))),
            id="never counted",
        ),
    ],
)
def test_no_travel_is_given_where_none_would_do_or_a_fact_is_missing(inputs: UnitInputs) -> None:
    assert travel_to_meet(inputs) is None


def test_a_travel_never_taped_needs_no_travel() -> None:
    inputs = unit("ssss", "ssss", 30_000.0, policy=SURE)
    assert travel_to_meet(replace(inputs, travel_in=None)) == travel_to_meet(inputs)


def test_swapping_the_pads_that_limit_the_stretch_lifts_the_limit() -> None:
    long_lot = LotRate("LONG", 1000.0, 0.0, 5, 0.0, 8.0, ())
    short_lot = LotRate("SHORT", 1000.0, 0.0, 5, 0.0, 2.0, ())
    positions = tuple(
        Position(side, number, "sound", "SHORT" if (side, number) == ("A", 1) else "LONG")
        for side in ("A", "B")
        for number in (1, 2)
    )
    inputs = UnitInputs(positions, (long_lot, short_lot), 6.0, 20_000.0, is_guided=True)
    swapped = pads_to_swap(inputs, long_lot, 1)
    assert swapped is not None
    assert [(each.side, each.number) for each in swapped.positions] == [("A", 1)]
    assert swapped.rating.pull_lbf == 24_000.0
    assert pads_to_swap(inputs, long_lot, 0) is None
    assert pads_to_swap(inputs, short_lot, 1) is None
