"""Inputs survive their record, and give the same results to the last digit."""

from __future__ import annotations

import json
from dataclasses import replace
from random import Random
from typing import Any

import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.linepull import ProofFactor
from ratings.mechanics.load_curve import monotone_curve
from ratings.mechanics.record import (
    FORMAT,
    inputs_record,
    read_inputs,
    results_of_format,
    results_record,
)
from ratings.mechanics.unit_rating import (
    LotRate,
    LotRubber,
    Policy,
    Position,
    UnitInputs,
    rate_unit,
)

MARKS = ["P1", "P2", "Lot 3/é", "P4"]
CONDITIONS = ["sound", "cracked", "debonded", "swollen", "missing"]


SPREADS: list[dict[str, Any]] = [{}, {"spread_lbf_in": 31.25, "spread_degrees_of_freedom": 4.0}]


@st.composite
def lot_rates(draw: st.DrawFn, mark: str) -> LotRate:
    # As a bench test leaves them: many digits, and a curve that ends at the tested stretch.
    steps = draw(
        st.lists(st.tuples(st.floats(0.1, 3.0), st.floats(1.0, 3_000.0)), min_size=2, max_size=5)
    )
    stretches = [sum(dx for dx, _ in steps[: n + 1]) for n in range(len(steps))]
    forces = [sum(df for _, df in steps[: n + 1]) for n in range(len(steps))]
    return LotRate(
        lot=mark,
        rate_lbf_in=draw(st.floats(50.0, 5_000.0)),
        standard_error_lbf_in=draw(st.one_of(st.just(0.0), st.floats(0.01, 200.0))),
        degrees_of_freedom=draw(st.one_of(st.none(), st.floats(0.5, 40.0))),
        linearity_error_pct=draw(st.floats(0.0, 12.0)),
        tested_stretch_in=stretches[-1],
        curve=monotone_curve(stretches, forces).knots,
        stale=draw(st.sampled_from(["", "too old"])),
        pads_tested=draw(st.one_of(st.none(), st.floats(1.0, 9.0))),
        scatter_degrees_of_freedom=draw(st.one_of(st.none(), st.floats(1.0, 9.0))),
        between_share=draw(st.sampled_from([0.0, 0.013])),
        between_degrees_of_freedom=draw(st.one_of(st.none(), st.floats(1.0, 9.0))),
        loading_only_share=draw(st.floats(0.0, 1.0)),
        not_conditioned_share=draw(st.floats(0.0, 1.0)),
        temperature_unknown_share=draw(st.floats(0.0, 1.0)),
        conditions_pct=draw(st.one_of(st.none(), st.floats(0.0, 5.0))),
        **draw(st.sampled_from(SPREADS)),
    )


@st.composite
def units(draw: st.DrawFn) -> UnitInputs:
    marks = draw(st.lists(st.sampled_from(MARKS), unique=True, max_size=3))
    places = [("A", n) for n in range(1, 7)] + [("B", n) for n in range(1, 7)]
    counted = st.sampled_from(CONDITIONS * 4 + [""])
    return UnitInputs(
        positions=tuple(
            Position(side, number, draw(counted), draw(st.sampled_from([*MARKS, None])))
            for side, number in draw(st.lists(st.sampled_from(places), unique=True))
        ),
        lots=tuple(draw(lot_rates(mark)) for mark in marks),
        travel_in=draw(st.one_of(st.none(), st.integers(1, 9), st.floats(0.5, 12.0))),
        listed_lbf=draw(st.one_of(st.none(), st.integers(0, 80_000), st.floats(0.0, 9e4))),
        policy=Policy(
            confidence=draw(st.sampled_from([0.9, 0.95, 0.99])),
            pad_spread_pct=draw(st.floats(0.0, 20.0)),
            linearity_limit_pct=draw(st.floats(0.5, 10.0)),
            tape_resolution_in=draw(st.sampled_from([0.0625, 0.125, 0.1])),
            stale_rates=draw(st.sampled_from(["keep", "drop"])),
            largest_strain_pct=draw(st.one_of(st.none(), st.floats(50.0, 400.0))),
            refused_shortcuts=draw(st.sampled_from([(), SOME])),
        ),
        is_guided=draw(st.booleans()),
        rubber=tuple(LotRubber(mark, 2.5) for mark in marks if draw(st.booleans())),
        proof=draw(st.sampled_from([None, ProofFactor(0.91, "2026-03-01", 0.02, 5.5)])),
    )


SOME = ("not conditioned", "no unloading read")
FIRST = UnitInputs(
    positions=(
        *(Position("A", number, "sound", "P1") for number in (1, 2, 3)),
        Position("B", 1, "sound", "P1"),
    ),
    lots=(LotRate("P1", 1000.0, 5.0, 9, 1.5, 1.0, monotone_curve([1.0], [1000.0]).knots),),
    travel_in=1.0,
    listed_lbf=None,
)
NEW_OF_LOTS = (
    "pads_tested",
    "scatter_degrees_of_freedom",
    "between_share",
    "between_degrees_of_freedom",
    "loading_only_share",
    "not_conditioned_share",
    "temperature_unknown_share",
    "conditions_pct",
)
NEW_OF_POLICIES = (
    "pad_spread_degrees_of_freedom",
    "conditions_pct",
    "unknown_temperature_pct",
    "seal_friction_pct",
    "first_stretch_pct",
    "conditioning_cycles",
    "gap_band_pct",
    "largest_strain_pct",
    "refused_shortcuts",
)


def canonical(value: Any) -> str:
    return rfc8785.dumps(value).decode()


@given(units())
def test_results_of_inputs_read_back_are_the_same_to_the_last_digit(inputs: UnitInputs) -> None:
    text = canonical(inputs_record(inputs))
    again = read_inputs(json.loads(text))
    first, second = results_record(rate_unit(inputs)), results_record(rate_unit(again))
    assert second == first
    assert canonical(second) == canonical(first)


@given(units())
def test_inputs_read_back_are_recorded_in_the_same_text(inputs: UnitInputs) -> None:
    text = canonical(inputs_record(inputs))
    assert canonical(inputs_record(read_inputs(json.loads(text)))) == text


@given(units(), st.randoms(use_true_random=False))
def test_the_order_of_positions_and_lots_is_not_in_the_record(
    inputs: UnitInputs, random: Random
) -> None:
    positions, lots = list(inputs.positions), list(inputs.lots)
    random.shuffle(positions)
    random.shuffle(lots)
    shuffled = replace(inputs, positions=tuple(positions), lots=tuple(lots))
    assert canonical(inputs_record(shuffled)) == canonical(inputs_record(inputs))


def test_every_input_is_in_the_record() -> None:
    curve = monotone_curve([1.0], [1000.0]).knots
    rate = LotRate(
        lot="P1",
        rate_lbf_in=1000.0,
        standard_error_lbf_in=5.0,
        degrees_of_freedom=9,
        linearity_error_pct=1.5,
        tested_stretch_in=1.0,
        curve=curve,
        spread_lbf_in=30.0,
        spread_degrees_of_freedom=3.0,
        stale="too old",
        pads_tested=2.5,
        scatter_degrees_of_freedom=7.0,
        between_share=0.01,
        between_degrees_of_freedom=2.0,
        loading_only_share=0.25,
        not_conditioned_share=0.5,
        temperature_unknown_share=0.75,
        conditions_pct=2.0,
    )
    inputs = UnitInputs(
        positions=(Position("B", 2, "sound", "P1"), Position("A", 1, "missing", None)),
        lots=(rate,),
        travel_in=5.0,
        listed_lbf=None,
        policy=Policy(0.9, 4.0, 3.0, 0.0625, 365, 35.0, 95.0, "drop", 6.0, refused_shortcuts=SOME),
        is_guided=True,
        rubber=(LotRubber("P2", 3.0), LotRubber("P1", 2.5)),
        proof=ProofFactor(0.9, "2026-03-01", 0.02, 12.0),
    )
    assert inputs_record(inputs) == {
        "positions": [
            {"side": "A", "number": 1, "condition": "missing", "lot": None},
            {"side": "B", "number": 2, "condition": "sound", "lot": "P1"},
        ],
        "lots": [
            {
                "lot": "P1",
                "rate_lbf_in": 1000.0,
                "standard_error_lbf_in": 5.0,
                "degrees_of_freedom": 9,
                "linearity_error_pct": 1.5,
                "tested_stretch_in": 1.0,
                "curve": [[0.0, 0.0, 1000.0], [1.0, 1000.0, 1000.0]],
                "curve_doubt": {
                    "force_lbf": 0.0,
                    "stretch_in": 0.0,
                    "share": 0.0,
                    "scatter_lbf": 0.0,
                },
                "spread_lbf_in": 30.0,
                "spread_degrees_of_freedom": 3.0,
                "stale": "too old",
                "pads_tested": 2.5,
                "scatter_degrees_of_freedom": 7.0,
                "between_share": 0.01,
                "between_degrees_of_freedom": 2.0,
                "loading_only_share": 0.25,
                "not_conditioned_share": 0.5,
                "temperature_unknown_share": 0.75,
                "conditions_pct": 2.0,
            }
        ],
        "travel_in": 5.0,
        "listed_lbf": None,
        "policy": {
            "confidence": 0.9,
            "pad_spread_pct": 4.0,
            "linearity_limit_pct": 3.0,
            "tape_resolution_in": 0.0625,
            "rate_valid_days": 365,
            "coldest_f": 35.0,
            "warmest_f": 95.0,
            "stale_rates": "drop",
            "pad_spread_degrees_of_freedom": 6.0,
            "conditions_pct": 5.0,
            "unknown_temperature_pct": 3.0,
            "seal_friction_pct": 3.0,
            "first_stretch_pct": 10.0,
            "conditioning_cycles": 3,
            "gap_band_pct": 5.0,
            "largest_strain_pct": None,
            "refused_shortcuts": ("no unloading read", "not conditioned"),
        },
        "is_guided": True,
        "rubber": [{"lot": "P1", "thickness_in": 2.5}, {"lot": "P2", "thickness_in": 3.0}],
        "proof": {
            "ratio": 0.9,
            "pulled_on": "2026-03-01",
            "standard_share": 0.02,
            "degrees_of_freedom": 12.0,
        },
    }


def test_inputs_of_the_first_format_are_read_and_calculated_by_their_method() -> None:
    # As entries of then have them: they say nothing of guides, rubber or proof pulls.
    record = json.loads(canonical(inputs_record(FIRST)))
    for name in ("is_guided", "rubber", "proof"):
        del record[name]
    for name in NEW_OF_LOTS:
        del record["lots"][0][name]
    for name in NEW_OF_POLICIES:
        del record["policy"][name]
    again = read_inputs(record)
    assert again == FIRST
    # 4·1,000·1 in by the first method, all pads; twice the one pad of side B by the second.
    assert results_of_format(1, again)["pull_lbf"] == 4_000.0
    assert results_of_format(FORMAT, again)["pull_lbf"] == 2_000.0


def test_results_say_their_standing_in_words() -> None:
    assert results_record(rate_unit(UnitInputs((), (), None, None)))["standing"] == "unrated"
