"""Rating a unit from what is fitted in its housing."""

from __future__ import annotations

import math
from dataclasses import replace
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.load_curve import monotone_curve
from ratings.mechanics.standing import Standing
from ratings.mechanics.unit_rating import (
    LotRate,
    Policy,
    Position,
    UnitInputs,
    UnratedPads,
    load_line,
    pad_groups,
    rate_unit,
)

CURVE = monotone_curve(
    [1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [900.0, 1850.0, 2900.0, 4100.0, 5600.0, 7600.0]
)


EXACT = Policy(conditions_pct=0.0, gap_band_pct=0.0)


def lot(mark: str = "P1", rate: float = 1000.0, tested: float = 8.0, **changes: Any) -> LotRate:
    usual: dict[str, Any] = {
        "standard_error_lbf_in": 5.0,
        "degrees_of_freedom": 9,
        "linearity_error_pct": 1.0,
        "curve": (),
    }
    return LotRate(lot=mark, rate_lbf_in=rate, tested_stretch_in=tested, **(usual | changes))


def side(name: str, *pads: tuple[str, str | None]) -> tuple[Position, ...]:
    return tuple(
        Position(name, number, condition, mark)
        for number, (condition, mark) in enumerate(pads, start=1)
    )


def sound(name: str, count: int, mark: str | None = "P1") -> tuple[Position, ...]:
    return side(name, *[("sound", mark)] * count)


def unit(**changes: Any) -> UnitInputs:
    # Conditions of use known for sure, so that each part is easy by hand.
    usual: dict[str, Any] = {
        "positions": sound("A", 4) + sound("B", 4),
        "lots": (lot(),),
        "travel_in": 5.0,
        "listed_lbf": 30_000.0,
        "policy": EXACT,
    }
    return UnitInputs(**(usual | changes))


def test_a_whole_unit_worked_by_hand() -> None:
    # 8·1000·5 = 40,000. Of a side of four: scatter of two sides alike, 2·4·(50·5)² = 500,000;
    # shared 4·5·5 = 100; use 5 % of 20,000/√3 = 577.35; tape 4,000·0.125/√12 = 144.34. Twice it.
    rating = rate_unit(unit(policy=Policy(gap_band_pct=0.0)))
    scatter, shared = 500_000.0, 10_000.0
    use, tape = 1_000.0**2 / 3.0, (4_000.0 * 0.125) ** 2 / 12.0
    u = 2.0 * math.sqrt(scatter + shared + use + tape)
    assert rating.pull_lbf == 40_000.0
    assert rating.standard_uncertainty_lbf == pytest.approx(u, rel=1e-13)
    # The spread is an assumption worth 8 degrees, the shared part has 9.
    freedom = (u / 2.0) ** 4 / (scatter**2 / 8.0 + shared**2 / 9.0)
    assert rating.degrees_of_freedom == pytest.approx(freedom, rel=1e-12)
    assert rating.coverage_factor is not None
    assert rating.working_capacity_lbf == pytest.approx(
        40_000.0 - rating.coverage_factor * u, rel=1e-13
    )
    assert rating.standing is Standing.MEETS_LISTING
    assert (rating.sound_pads, rating.positions, rating.missing) == (8, 8, ())
    assert (rating.side_a_lbf, rating.side_b_lbf) == (20_000.0, 20_000.0)
    parts = (rating.scatter_lbf, rating.lots_lbf, rating.shared_lbf, rating.conditions_lbf)
    by_hand = (2.0 * math.sqrt(scatter), 0.0, 200.0, 2.0 * math.sqrt(use))
    assert parts == pytest.approx(by_hand, rel=1e-12)
    assert rating.tape_lbf == pytest.approx(2.0 * math.sqrt(tape), rel=1e-12)


@pytest.mark.parametrize(
    ("listed", "standing"),
    [
        (40_000.0, Standing.NOT_PROVEN),
        (40_000.5, Standing.BELOW_LISTING),
        (36_500.0, Standing.MEETS_LISTING),
    ],
)
def test_standing_follows_the_listing(listed: float, standing: Standing) -> None:
    assert rate_unit(unit(listed_lbf=listed)).standing is standing


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        pytest.param({"positions": ()}, "a pad count", id="no positions"),
        pytest.param(
            {"positions": (*sound("A", 3), Position("B", 1, "", "P1"))},
            "a pad count",
            id="a position never counted",
        ),
        pytest.param({"travel_in": None}, "a taped travel", id="no travel"),
        pytest.param(
            {"lots": ()},
            "an approved rate of any lot that has a sound pad fitted",
            id="no rated lot",
        ),
        pytest.param(
            {"lots": (lot("P2"),)},
            "an approved rate of any lot that has a sound pad fitted",
            id="another lot rated",
        ),
    ],
)
def test_a_fact_missing_for_the_pull_is_named_and_leaves_no_figure(
    changes: dict[str, Any], named: str
) -> None:
    rating = rate_unit(unit(**changes))
    assert rating.missing == (named,)
    assert rating.standing is Standing.UNRATED
    assert (rating.pull_lbf, rating.working_capacity_lbf) == (None, None)


def test_a_missing_listing_is_named_and_leaves_the_pull() -> None:
    rating = rate_unit(unit(listed_lbf=None))
    assert rating.missing == ("a listed rating",)
    assert rating.standing is Standing.UNRATED
    assert rating.pull_lbf == 40_000.0


def test_all_that_is_missing_is_named_together() -> None:
    rating = rate_unit(UnitInputs((), (), None, None))
    assert rating.missing == ("a pad count", "a taped travel", "a listed rating")


def test_sound_pads_of_an_unrated_or_unknown_lot_add_nothing_and_are_named() -> None:
    positions = sound("A", 4) + side("B", ("sound", "P9"), ("sound", None), ("sound", "P9"))
    rating = rate_unit(unit(positions=positions, is_guided=True))
    assert rating.pull_lbf == 20_000.0
    assert rating.unrated_pads == (UnratedPads(None, 1), UnratedPads("P9", 2))
    assert rating.sound_pads == 7
    assert rating.side_b_lbf == 0.0
    # Not guided, the side of the untested pads is the weaker one and holds nothing proven.
    assert rate_unit(unit(positions=positions)).pull_lbf == 0.0


def test_unsound_pads_of_an_unrated_lot_are_not_named() -> None:
    positions = sound("A", 4) + side("B", ("cracked", "P9"), ("missing", None))
    assert rate_unit(unit(positions=positions)).unrated_pads == ()


@pytest.mark.parametrize("condition", ["cracked", "debonded", "swollen", "missing"])
def test_only_sound_pads_count(condition: str) -> None:
    positions = sound("A", 4) + side("B", (condition, "P1"), ("sound", "P1"))
    rating = rate_unit(unit(positions=positions, is_guided=True))
    assert rating.pull_lbf == 25_000.0
    assert rating.sound_pads == 5
    # Twice the one pad of side B.
    rating = rate_unit(unit(positions=positions))
    assert (rating.pull_lbf, rating.weaker_side) == (10_000.0, "B")


def test_no_sound_pad_at_all_pulls_nothing_and_is_below_its_listing() -> None:
    positions = side("A", ("cracked", "P1")) + side("B", ("missing", None))
    rating = rate_unit(unit(positions=positions))
    assert rating.missing == ()
    assert (rating.pull_lbf, rating.working_capacity_lbf) == (0.0, 0.0)
    assert rating.standing is Standing.BELOW_LISTING
    assert not rating.is_out_of_balance


@given(st.integers(1, 14), st.integers(1, 14), st.floats(100.0, 4_000.0), st.floats(0.5, 8.0))
def test_sides_are_out_of_balance_only_beyond_one_pads_worth(
    on_a: int, on_b: int, rate: float, travel: float
) -> None:
    positions = sound("A", on_a) + sound("B", on_b)
    rating = rate_unit(unit(positions=positions, lots=(lot(rate=rate),), travel_in=travel))
    assert rating.is_out_of_balance is (abs(on_a - on_b) > 1)


def test_a_lot_with_no_sound_pad_is_no_measure_of_balance() -> None:
    # A stiff lot all cracked: one pad's worth is that of the pads that carry.
    positions = (*sound("A", 4, "P1"), *sound("B", 2, "P1"), Position("B", 3, "cracked", "STIFF"))
    rating = rate_unit(unit(positions=positions, lots=(lot(), lot("STIFF", 5000.0))))
    assert (rating.side_a_lbf, rating.side_b_lbf) == (20_000.0, 10_000.0)
    assert rating.is_out_of_balance


@pytest.mark.parametrize("linearity_error_pct", [0.0, 4.99, 5.01, 20.0])
def test_every_lot_pulls_by_its_measured_curve_however_it_is_called(
    linearity_error_pct: float,
) -> None:
    bent = lot(tested=6.0, curve=CURVE.knots, linearity_error_pct=linearity_error_pct)
    rating = rate_unit(unit(lots=(bent,), travel_in=3.0))
    assert rating.pull_lbf == 8 * 2_900.0
    assert rating.rate_lbf_in == pytest.approx(8 * 1_120.0, rel=1e-12)


@pytest.mark.parametrize(
    ("changes", "kept"),
    [
        # Defaults of the policy: 3 % for the seals, 10 % for the first stretch.
        pytest.param({"loading_only_share": 1.0}, 0.97, id="loading only"),
        pytest.param({"not_conditioned_share": 1.0}, 0.9, id="not conditioned"),
        pytest.param(
            {"loading_only_share": 1.0, "not_conditioned_share": 1.0}, 0.873, id="neither"
        ),
        pytest.param({"loading_only_share": 0.25}, 0.9925, id="one test of four"),
        pytest.param({"temperature_unknown_share": 1.0}, 1.0, id="temperature not read"),
    ],
)
def test_what_a_lots_tests_left_out_is_off_its_curve(changes: dict[str, Any], kept: float) -> None:
    rating = rate_unit(unit(lots=(lot(**changes),)))
    assert rating.pull_lbf == pytest.approx(kept * 40_000.0, rel=1e-12)


@pytest.mark.parametrize(
    ("changes", "half_width_pct"),
    [
        pytest.param({}, 5.0, id="policy"),
        pytest.param({"temperature_unknown_share": 1.0}, 8.0, id="temperature not read"),
        pytest.param({"temperature_unknown_share": 0.5}, 6.5, id="not read in half"),
        pytest.param({"conditions_pct": 2.0}, 2.0, id="measured"),
    ],
)
def test_how_far_use_may_lie_from_the_bench_is_a_part_of_the_doubt(
    changes: dict[str, Any], half_width_pct: float
) -> None:
    rating = rate_unit(unit(lots=(lot(**changes),), policy=Policy()))
    by_hand = 40_000.0 * half_width_pct / 100.0 / math.sqrt(3.0)
    assert rating.conditions_lbf == pytest.approx(by_hand, rel=1e-12)


def test_what_is_off_for_the_seals_is_in_doubt_as_well() -> None:
    # 0.97·40,000 = 38,800; 5 % and 3 % of it, each rectangular: √34 %/√3.
    rating = rate_unit(unit(lots=(lot(loading_only_share=1.0),), policy=Policy()))
    assert rating.conditions_lbf == pytest.approx(388.0 * math.sqrt(34.0 / 3.0), rel=1e-12)


@pytest.mark.parametrize(
    ("spread_lbf_in", "freedom", "by_hand_lbf_in"),
    [
        # Assumed 50 with 8 degrees; √((8·50² + ν·s²)/(8 + ν)).
        pytest.param(None, None, 50.0, id="assumed"),
        pytest.param(0.0, 1.0, math.sqrt(20_000.0 / 9.0), id="two equal singles"),
        pytest.param(20.0, 4.0, math.sqrt(21_600.0 / 12.0), id="five singles"),
        # No less than the singles themselves show.
        pytest.param(90.0, 4.0, 90.0, id="uneven singles"),
    ],
)
def test_the_spread_assumed_is_brought_up_to_date_by_single_pads(
    spread_lbf_in: float | None, freedom: float | None, by_hand_lbf_in: float
) -> None:
    tested = lot(spread_lbf_in=spread_lbf_in, spread_degrees_of_freedom=freedom)
    (group,) = pad_groups(unit(lots=(tested,)))
    assert group.spread_lbf_in == pytest.approx(by_hand_lbf_in, rel=1e-12)
    assert group.spread_degrees_of_freedom == 8.0 + (freedom or 0.0)


def test_pads_on_one_side_alone_never_meet_a_listing() -> None:
    rating = rate_unit(unit(positions=sound("A", 24), listed_lbf=1.0))
    assert (rating.pull_lbf, rating.working_capacity_lbf) == (0.0, 0.0)
    assert rating.standing is Standing.BELOW_LISTING
    assert rating.weaker_side == "B"


def test_a_guided_housing_carries_by_all_its_pads() -> None:
    positions = sound("A", 6) + sound("B", 2)
    guided = rate_unit(unit(positions=positions, is_guided=True))
    assert (guided.pull_lbf, guided.weaker_side) == (40_000.0, "")
    loose = rate_unit(unit(positions=positions))
    assert (loose.pull_lbf, loose.weaker_side) == (20_000.0, "B")
    assert [share.counted for share in loose.lots] == [4]


def test_one_pad_of_a_lot_tested_a_little_way_among_24_lowers_nothing() -> None:
    whole = unit(positions=sound("A", 12) + sound("B", 12), travel_in=5.5)
    mixed = replace(
        whole,
        positions=(*sound("A", 11), Position("A", 12, "sound", "SHORT"), *sound("B", 12)),
        lots=(lot(), lot("SHORT", tested=2.5)),
    )
    never_tested = rate_unit(replace(mixed, lots=(lot(),)))
    rating = rate_unit(mixed)
    assert rating.working_capacity_lbf == never_tested.working_capacity_lbf
    assert (rating.usable_travel_in, rating.short_lots) == (5.5, ("SHORT",))
    assert [share.counted for share in rating.lots] == [22, 0]


def test_lots_that_limit_the_stretch_are_named() -> None:
    positions = (*sound("A", 2, "P1"), *sound("B", 1, "P2"), Position("B", 2, "cracked", "P3"))
    lots = (lot("P3", tested=3.0), lot("P2", tested=6.0), lot("P1", tested=3.0))
    rating = rate_unit(unit(positions=positions, lots=lots))
    assert rating.limiting_lots == ("P1", "P3")
    assert rating.limited_by == "tested stretch"
    assert rating.usable_travel_in == 3.0


def test_no_lot_is_named_where_travel_is_the_limit() -> None:
    rating = rate_unit(unit(travel_in=8.0))
    assert rating.limiting_lots == ()
    assert rating.limited_by == "travel"


def test_a_rated_lot_that_is_not_fitted_limits_nothing() -> None:
    assert rate_unit(unit(lots=(lot(), lot("P2", tested=2.0)))).usable_travel_in == 5.0


def test_infinite_degrees_of_freedom_are_left_out() -> None:
    even = replace(EXACT, pad_spread_pct=0.0)
    rating = rate_unit(unit(lots=(lot(standard_error_lbf_in=0.0),), policy=even))
    assert rating.degrees_of_freedom is None
    assert rating.coverage_factor == 1.6449


@given(st.randoms(use_true_random=False))
def test_the_order_of_positions_and_lots_changes_nothing(random: Random) -> None:
    positions = [
        *side("A", ("sound", "P1"), ("sound", "P2"), ("cracked", "P3"), ("sound", None)),
        *side("B", ("sound", "P2"), ("sound", "P1"), ("sound", "P8"), ("sound", "P9")),
    ]
    lots = [
        lot("P1", 1033.1, 6.1),
        lot("P2", 987.3, 5.7, degrees_of_freedom=3),
        lot("P3", 1101.7, 5.3),
    ]
    before = rate_unit(unit(positions=tuple(positions), lots=tuple(lots), travel_in=7.0))
    random.shuffle(positions)
    random.shuffle(lots)
    after = rate_unit(unit(positions=tuple(positions), lots=tuple(lots), travel_in=7.0))
    assert after == before


@given(st.lists(st.sampled_from(["P1", "P2", "P9", None]), min_size=2, max_size=16), st.data())
def test_a_sound_pad_turned_unsound_but_present_never_raises_the_pull(
    marks: list[str | None], data: st.DataObject
) -> None:
    positions = sound("A", 1) + tuple(
        Position("B", number, "sound", mark) for number, mark in enumerate(marks, start=1)
    )
    lots = (lot("P1", 1033.1, 6.1), lot("P2", 987.3, 5.7))
    before = rate_unit(unit(positions=positions, lots=lots, travel_in=7.0))
    place = data.draw(st.integers(1, len(positions) - 1))
    condition = data.draw(st.sampled_from(["cracked", "debonded", "swollen"]))
    spoilt = (
        *positions[:place],
        replace(positions[place], condition=condition),
        *positions[place + 1 :],
    )
    after = rate_unit(unit(positions=spoilt, lots=lots, travel_in=7.0))
    assert after.pull_lbf is not None
    assert before.pull_lbf is not None
    assert after.pull_lbf <= before.pull_lbf
    assert after.sound_pads == before.sound_pads - 1


def test_a_load_line_goes_from_rest_to_the_usable_travel() -> None:
    line = load_line(unit(), 5.0)
    assert (line[0], line[-1]) == ((0.0, 0.0), (5.0, 40_000.0))
    # Straight: every point on rate × stretch.
    assert all(pull == pytest.approx(8_000.0 * at, abs=1e-9) for at, pull in line)


@given(st.floats(0.5, 12.0))
def test_a_bent_load_line_ends_at_the_usable_travel_whatever_its_last_bit(tested: float) -> None:
    curve = monotone_curve([tested / 2.0, tested], [1_000.0, 3_000.0])
    bent = lot(tested=tested, curve=curve.knots, linearity_error_pct=20.0)
    line = load_line(unit(lots=(bent,)), tested)
    assert line[0] == (0.0, 0.0)
    assert line[-1][0] == pytest.approx(tested, rel=1e-15)
    assert line[-1][1] == pytest.approx(24_000.0, rel=1e-12)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"positions": (Position("C", 1, "sound", "P1"),)}, r"positions has side 'C'"),
        ({"positions": sound("A", 2) + sound("A", 1)}, r"positions has 'A1' twice"),
        ({"lots": (lot(), lot(rate=900.0))}, r"lots has 'P1' twice"),
    ],
)
def test_inputs_that_would_count_a_thing_twice_or_not_at_all_are_refused(
    changes: dict[str, Any], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        unit(**changes)
