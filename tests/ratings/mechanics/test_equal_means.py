"""Means that are equal but for rounding are not said to fall."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.bench import (
    BenchSetUp,
    CycleReading,
    Cylinder,
    ReadingError,
    reduce_cycle,
)
from ratings.mechanics.load_curve import MonotoneCurve, falls, monotone_curve

SET_UP = BenchSetUp(Cylinder(5.13), "blind", pads_in_test=2, tape_datum_in=12.0)


def curve_of(shown: list[tuple[float, float]]) -> MonotoneCurve:
    cycle = reduce_cycle(SET_UP, [CycleReading(tape, gauge) for tape, gauge in shown])
    return monotone_curve(*zip(*cycle.points, strict=True))


def test_a_pressure_repeated_at_a_larger_stretch_has_not_fallen() -> None:
    # The mean of six readings of 90.6 is a bit short of 90.6.
    curve = curve_of([(13.0, 90.6)] + [(14.0, 90.6)] * 6)
    assert curve.knots[2].force_lbf == curve.knots[1].force_lbf


def test_a_force_repeated_as_a_mean_has_not_fallen() -> None:
    # 355 and 369 psi come to 362 psi, their forces to a bit more than the force of 362 psi.
    curve = curve_of([(13.0, 355.0), (13.0, 369.0), (14.0, 362.0)])
    assert curve.knots[2].force_lbf == curve.knots[1].force_lbf
    assert curve.knots[2].slope_lbf_in == 0.0


@given(
    st.integers(500, 5_000),
    st.lists(st.integers(0, 400), min_size=1, max_size=4),
    st.integers(1, 7),
)
def test_readings_the_bench_accepts_always_make_a_curve(
    tenths: int, gaps: list[int], repeats: int
) -> None:
    around = [(13.0, (tenths + sign * gap) / 10.0) for gap in gaps for sign in (-1, 1)]
    curve = curve_of(around + [(14.0, tenths / 10.0)] * repeats)
    assert curve.knots[2].force_lbf >= curve.knots[1].force_lbf


def test_a_fall_that_any_gauge_could_show_is_refused_on_bench_and_curve_alike() -> None:
    with pytest.raises(ReadingError, match=r"reading 2: pressure falls from 362 psi to 361\.999"):
        curve_of([(13.0, 362.0), (14.0, 361.999)])
    with pytest.raises(ValueError, match=r"force_lbf falls"):
        monotone_curve([1.0, 2.0], [3741.0, 3740.999])


def test_steps_down_too_small_to_see_do_not_add_up_unseen() -> None:
    forces = [1_000.0 * (1.0 - step * 0.6e-9) for step in range(4)]
    assert not any(falls(a, b) for a, b in pairwise(forces))
    with pytest.raises(ValueError, match=r"force_lbf falls from .* at 3 in"):
        monotone_curve([1.0, 2.0, 3.0, 4.0], forces)
