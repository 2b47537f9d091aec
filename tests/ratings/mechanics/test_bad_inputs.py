"""Numbers that can't be are refused by name and value."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from ratings.mechanics.bench import (
    BenchSetUp,
    CycleReading,
    Cylinder,
    ReadingError,
    reduce_cycle,
)
from ratings.mechanics.line_fit import fit_rate
from ratings.mechanics.linepull import PadGroup, ProofFactor, line_pull, pull_at
from ratings.mechanics.load_curve import Knot, LinearCurve, MonotoneCurve, monotone_curve
from ratings.mechanics.standing import judge
from ratings.mechanics.uncertainty import coverage_factor
from ratings.mechanics.unit_rating import (
    LotRate,
    LotRubber,
    Policy,
    Position,
    UnitInputs,
    rate_unit,
)
from ratings.mechanics.what_if import pads_to_fit, travel_to_meet

# What no number may be, and how a message writes it.
NEVER: list[tuple[object, str]] = [
    (-1.0, "-1"),
    ("5", "'5'"),
    (math.nan, "nan"),
    (math.inf, "inf"),
    (1e308, "1e+308"),
    (10**400, "1000"),
    (True, "True"),
    (None, "None"),
]
ZERO: tuple[object, str] = (0.0, "0")

SET_UP = BenchSetUp(Cylinder(5.13), "blind", 2, 0.0)
GROUP = PadGroup(4, 1000.0, 6.0)
LINE = LinearCurve(1000.0, 6.0)
CURVE = monotone_curve([1.0, 2.0], [1000.0, 2000.0])
LOT = LotRate("P1", 1000.0, 5.0, 9, 1.0, 6.0, ())
UNIT = UnitInputs(
    (Position("A", 1, "sound", "P1"),),
    (LOT,),
    5.0,
    90_000.0,
    rubber=(LotRubber("P1", 2.5),),
)


def with_lot(**changes: Any) -> UnitInputs:
    return replace(UNIT, lots=(replace(LOT, **changes),))


def with_policy(**changes: Any) -> UnitInputs:
    return replace(UNIT, policy=Policy(**changes))


def knots(**changes: Any) -> MonotoneCurve:
    return MonotoneCurve((Knot(0.0, 0.0, 1.0), replace(Knot(1.0, 1.0, 1.0), **changes)))


# argument as its message names it, a call that gives it a value, whether zero is refused too
ARGUMENTS: list[tuple[str, Callable[[Any], object], bool]] = [
    ("bore_in", lambda v: Cylinder(v), True),
    ("rod_in", lambda v: Cylinder(5.0, v), False),
    ("pressure_psi", lambda v: Cylinder(5.0).force_lbf(v), False),
    ("pads_in_test", lambda v: BenchSetUp(Cylinder(5.0), "blind", v, 0.0), True),
    ("tape_datum_in", lambda v: BenchSetUp(Cylinder(5.0), "blind", 2, v), False),
    ("gauge_zero_psi", lambda v: BenchSetUp(Cylinder(5.0), "blind", 2, 0.0, v), False),
    ("tape_in", lambda v: reduce_cycle(SET_UP, [CycleReading(v, 1.0)]), False),
    ("gauge_psi", lambda v: reduce_cycle(SET_UP, [CycleReading(1.0, v)]), False),
    ("stretch_in reading 2", lambda v: fit_rate([1.0, v], [1.0, 2.0]), False),
    ("force_lbf reading 2", lambda v: fit_rate([1.0, 2.0], [1.0, v]), False),
    ("linearity_limit_pct", lambda v: fit_rate([1.0, 2.0], [1.0, 2.0], v), True),
    ("stretch_in reading 1", lambda v: monotone_curve([v, 2.0], [1.0, 2.0]), False),
    ("force_lbf reading 1", lambda v: monotone_curve([1.0, 2.0], [v, 2.0]), False),
    ("rate_lbf_in", lambda v: LinearCurve(v, 6.0), False),
    ("tested_stretch_in", lambda v: LinearCurve(1000.0, v), True),
    ("standard_error_lbf_in", lambda v: LinearCurve(1000.0, 6.0, v), False),
    ("stretch_in", lambda v: LINE.force_lbf(v), False),
    ("stretch_in", lambda v: LINE.slope_lbf_in(v), False),
    ("stretch_in", lambda v: CURVE.force_lbf(v), False),
    ("stretch_in", lambda v: CURVE.slope_lbf_in(v), False),
    ("knots stretch", lambda v: knots(stretch_in=v), False),
    ("knots force", lambda v: knots(force_lbf=v), False),
    ("knots slope", lambda v: knots(slope_lbf_in=v), False),
    ("count", lambda v: PadGroup(v, 1000.0, 6.0), False),
    ("rate_lbf_in", lambda v: PadGroup(4, v, 6.0), True),
    ("tested_stretch_in", lambda v: PadGroup(4, 1000.0, v), True),
    ("standard_error_lbf_in", lambda v: PadGroup(4, 1000.0, 6.0, v), False),
    ("spread_lbf_in", lambda v: PadGroup(4, 1000.0, 6.0, 0.0, v), False),
    ("travel_in", lambda v: line_pull([GROUP], v), True),
    ("travel_uncertainty_in", lambda v: line_pull([GROUP], 5.0, v), False),
    ("confidence", lambda v: line_pull([GROUP], 5.0, 0.0, v), True),
    ("confidence", lambda v: coverage_factor(v, 4.0), True),
    ("stretch_in", lambda v: pull_at([GROUP], v), False),
    ("confidence", lambda v: rate_unit(with_policy(confidence=v)), True),
    ("rate_lbf_in", lambda v: rate_unit(with_lot(rate_lbf_in=v)), True),
    ("tested_stretch_in", lambda v: rate_unit(with_lot(tested_stretch_in=v)), True),
    ("standard_error_lbf_in", lambda v: rate_unit(with_lot(standard_error_lbf_in=v)), False),
    ("between_share", lambda v: PadGroup(4, 1000.0, 6.0, between_share=v), False),
    ("conditions_share", lambda v: PadGroup(4, 1000.0, 6.0, conditions_share=v), False),
    ("gap_share", lambda v: PadGroup(4, 1000.0, 6.0, gap_share=v), False),
    ("kept_share", lambda v: PadGroup(4, 1000.0, 6.0, kept_share=v), False),
    ("between_share", lambda v: rate_unit(with_lot(between_share=v)), False),
    ("loading_only_share", lambda v: rate_unit(with_lot(loading_only_share=v)), False),
    ("not_conditioned_share", lambda v: rate_unit(with_lot(not_conditioned_share=v)), False),
    (
        "temperature_unknown_share",
        lambda v: rate_unit(with_lot(temperature_unknown_share=v)),
        False,
    ),
    ("conditions_pct", lambda v: rate_unit(with_policy(conditions_pct=v)), False),
    (
        "unknown_temperature_pct",
        lambda v: rate_unit(with_policy(unknown_temperature_pct=v)),
        False,
    ),
    ("seal_friction_pct", lambda v: rate_unit(with_policy(seal_friction_pct=v)), False),
    ("first_stretch_pct", lambda v: rate_unit(with_policy(first_stretch_pct=v)), False),
    ("gap_band_pct", lambda v: rate_unit(with_policy(gap_band_pct=v)), False),
    (
        "pad_spread_degrees_of_freedom",
        lambda v: rate_unit(with_policy(pad_spread_degrees_of_freedom=v)),
        True,
    ),
    ("ratio", lambda v: ProofFactor(v, "2026-03-01"), True),
    ("standard_share", lambda v: ProofFactor(0.9, "2026-03-01", v), False),
    ("pad_spread_pct", lambda v: rate_unit(with_policy(pad_spread_pct=v)), False),
    ("tape_resolution_in", lambda v: rate_unit(with_policy(tape_resolution_in=v)), False),
    ("most", lambda v: pads_to_fit(UNIT, LOT, v), False),
]
# Unknown (None) is a value these take.
MAY_BE_UNKNOWN: list[tuple[str, Callable[[Any], object], bool]] = [
    # None is infinitely many.
    ("degrees_of_freedom", lambda v: rate_unit(with_lot(degrees_of_freedom=v)), True),
    ("degrees_of_freedom", lambda v: rate_unit(with_lot(pads_tested=v)), True),
    ("conditions_pct", lambda v: rate_unit(with_lot(conditions_pct=v)), False),
    ("largest_strain_pct", lambda v: rate_unit(with_policy(largest_strain_pct=v)), True),
    ("pull_lbf", lambda v: judge(v, 0.0, 1.0), False),
    ("working_capacity_lbf", lambda v: judge(1.0, v, 1.0), False),
    ("listed_lbf", lambda v: judge(1.0, 1.0, v), False),
    ("travel_in", lambda v: rate_unit(replace(UNIT, travel_in=v)), True),
    ("listed_lbf", lambda v: rate_unit(replace(UNIT, listed_lbf=v)), False),
]
# These take infinity.
MAY_BE_INFINITE: list[tuple[str, Callable[[Any], object], bool]] = [
    ("degrees_of_freedom", lambda v: PadGroup(4, 1000.0, 6.0, 0.0, 0.0, v), True),
    (
        "spread_degrees_of_freedom",
        lambda v: PadGroup(4, 1000.0, 6.0, spread_degrees_of_freedom=v),
        True,
    ),
    (
        "scatter_degrees_of_freedom",
        lambda v: PadGroup(4, 1000.0, 6.0, scatter_degrees_of_freedom=v),
        True,
    ),
    (
        "between_degrees_of_freedom",
        lambda v: PadGroup(4, 1000.0, 6.0, between_degrees_of_freedom=v),
        True,
    ),
    ("pads_tested", lambda v: PadGroup(4, 1000.0, 6.0, pads_tested=v), True),
    ("degrees_of_freedom", lambda v: coverage_factor(0.95, v), True),
]


def cases() -> list[Any]:
    found = []
    for arguments, taken in (
        (ARGUMENTS, ()),
        (MAY_BE_UNKNOWN, (None,)),
        (MAY_BE_INFINITE, (math.inf,)),
    ):
        for name, call, zero_refused in arguments:
            for value, written in [*NEVER, *([ZERO] if zero_refused else [])]:
                if value not in taken:
                    label = f"{name} {str(value)[:6]}"
                    found.append(pytest.param(name, call, value, written, id=label))
    return found


@pytest.mark.parametrize(("name", "call", "value", "written"), cases())
def test_a_value_that_cannot_be_is_refused_by_name_and_value(
    name: str, call: Callable[[Any], object], value: object, written: str
) -> None:
    with pytest.raises(ValueError, match=rf"{re.escape(name)} is {re.escape(written)}"):
        call(value)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: PadGroup(4, 1000.0, 6.0, sides=(3, 2)), "sides is (3, 2): give the pads on"),
        (lambda: PadGroup(4, 1000.0, 6.0, sides=(4,)), "sides is (4,): give the pads on"),  # type: ignore[arg-type]
        (lambda: PadGroup(4, 1000.0, 6.0, sides=(5, -1)), "sides is -1: give a whole number"),
        (
            lambda: PadGroup(4, 1000.0, 6.0, kept_share=1.1),
            "kept_share is 1.1: give no more than 1",
        ),
        (
            lambda: rate_unit(with_lot(loading_only_share=1.1)),
            "loading_only_share is 1.1: give no more than 1",
        ),
        (
            lambda: rate_unit(with_policy(first_stretch_pct=100.5)),
            "first_stretch_pct is 100.5: give no more than 100 %",
        ),
        (lambda: Policy(refused_shortcuts=("haste",)), "'haste' is not a valid Shortcut"),
        (lambda: PadGroup(2.5, 1000.0, 6.0), "count is 2.5: give a whole number"),  # type: ignore[arg-type]
        (lambda: BenchSetUp(Cylinder(5.0), "blind", 1.5, 0.0), "pads_in_test is 1.5"),  # type: ignore[arg-type]
        (lambda: pads_to_fit(UNIT, LOT, 1.5), "most is 1.5"),  # type: ignore[arg-type]
        (lambda: coverage_factor(0.5, 4.0), "confidence is 0.5"),
        (lambda: coverage_factor(1.0, 4.0), "confidence is 1"),
        (lambda: fit_rate([1.0, 2.0], [1.0]), "stretch_in has 2 readings and force_lbf 1"),
        (lambda: monotone_curve([1.0], [1.0, 2.0]), "stretch_in has 1 readings and force_lbf 2"),
        (lambda: fit_rate([1.0], [1.0]), "stretch_in has 1 readings: give two or more"),
        (lambda: fit_rate([], []), "stretch_in has 0 readings: give two or more"),
        (lambda: fit_rate([0.0, 0.0], [1.0, 2.0]), "stretch_in is 0 in every reading"),
        (lambda: fit_rate([1.0, 2.0], [0.0, 0.0]), "force_lbf is 0 in every reading"),
        (
            lambda: fit_rate([0.0, 1.0], [5.0, 0.0]),
            "force_lbf is 0 in every reading with stretch: give at least one with force",
        ),
        (lambda: fit_rate(5.0, [1.0]), "stretch_in is 5.0: give a list of numbers"),  # type: ignore[arg-type]
        (lambda: fit_rate([1.0], None), "force_lbf is None: give a list of numbers"),  # type: ignore[arg-type]
        (lambda: monotone_curve("12", [1.0]), "stretch_in is '12': give a list of numbers"),  # type: ignore[arg-type]
        (lambda: monotone_curve([1.0], True), "force_lbf is True: give a list of numbers"),  # type: ignore[arg-type]
        (lambda: monotone_curve([0.0, 0.0], [1.0, 2.0]), "stretch_in is 0 in every reading"),
        (lambda: monotone_curve([], []), "stretch_in is 0 in every reading"),
        (lambda: Cylinder(5.0, 5.0), "rod_in is 5: give a rod narrower than the bore of 5 in"),
        (lambda: MonotoneCurve((Knot(0.0, 0.0, 1.0),)), "knots has 1 knots: give two or more"),
        (lambda: MonotoneCurve((Knot(0.5, 0.0, 1.0), Knot(1.0, 1.0, 1.0))), "knots begins at"),
        (lambda: knots(stretch_in=0.0), "give rising stretch"),
        (
            lambda: MonotoneCurve((*knots().knots, Knot(2.0, 0.5, 0.0))),
            "force must not fall",
        ),
        (
            lambda: travel_to_meet(
                replace(
                    UNIT, listed_lbf=1_000.0, policy=Policy(tape_resolution_in=0.0), is_guided=True
                )
            ),
            "tape_resolution_in is 0",
        ),
    ],
)
def test_arguments_that_do_not_go_together_are_refused(
    call: Callable[[], object], message: str
) -> None:
    with pytest.raises(ValueError, match=re.escape(message)):
        call()


def test_a_reading_that_is_no_number_is_refused_by_its_place() -> None:
    readings = [CycleReading(1.0, 100.0), CycleReading(2.0, math.nan)]
    with pytest.raises(ReadingError, match=r"reading 2: gauge_psi is nan") as caught:
        reduce_cycle(SET_UP, readings)
    assert (caught.value.index, caught.value.field) == (1, "gauge_psi")


def test_whole_numbers_pass_for_numbers() -> None:
    assert line_pull([PadGroup(4, 1000, 6)], 5).pull_lbf == 20_000.0


def test_infinite_degrees_of_freedom_are_taken() -> None:
    assert PadGroup(4, 1000.0, 6.0, degrees_of_freedom=math.inf).degrees_of_freedom == math.inf
