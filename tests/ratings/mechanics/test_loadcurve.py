"""Load curves: straight, and monotone through the mean readings."""

from __future__ import annotations

import sys
from collections.abc import Callable
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.load_curve import (
    Knot,
    LinearCurve,
    MonotoneCurve,
    bend_pct,
    continued,
    forces_at_quarters,
    mean_curve,
    monotone_curve,
    rising_means,
)

# Invented curves A and B; expected values computed with scipy's PchipInterpolator by
# themselves, outside this project.
A_X = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
A_Y = [900.0, 1850.0, 2900.0, 4100.0, 5600.0, 7600.0]
A_SLOPES = [875, 924.3243243243, 997.5, 1120, 1333.3333333333, 1714.2857142857, 2250]
A_VALUES = [
    (0.25, 220.344172297297, 887.711148648649),
    (0.5, 443.834459459459, 900.168918918919),
    (1.5, 1365.853040540541, 944.543918918919),
    (2.5, 2359.6875, 1045.625),
    (3.7, 3715.36, 1235.733333333333),
    (4.5, 4802.380952380951, 1488.095238095238),
    (5.5, 6533.035714285715, 2008.928571428572),
    (5.75, 7051.450892857143, 2136.160714285714),
]
B_X = [0.5, 1.5, 2.0, 4.0, 5.0]
B_Y = [480.0, 1500.0, 1500.0, 4200.0, 6000.0]
B_SLOPES = [940, 985.7718120805, 0, 0, 1567.7419354839, 1950]
B_VALUES = [
    (0.25, 237.139261744966),
    (1.0, 1113.221476510067),
    (1.75, 1500.0),
    (3.0, 2458.064516129032),
    (4.5, 5052.217741935484),
]

# RPN14 of Fritsch and Carlson (1980), data from memory; values computed with scipy. Shifted
# here so that its first point is the origin.
RPN14_START = 7.99
RPN14_X = [8.09, 8.19, 8.7, 9.2, 10.0, 12.0, 15.0, 20.0]
RPN14_Y = [2.76429e-5, 4.37498e-2, 0.169183, 0.469428, 0.943740, 0.998636, 0.999919, 0.999994]
RPN14_VALUES = [
    (8.4, 0.09666880560766512),
    (9.0, 0.33753432684619816),
    (9.5, 0.6852179451108994),
    (11.0, 0.9860433625350502),
]


@st.composite
def rising_readings(draw: st.DrawFn) -> tuple[list[float], list[float]]:
    steps = draw(
        st.lists(
            st.tuples(st.floats(0.05, 3.0), st.one_of(st.just(0.0), st.floats(0.001, 5_000.0))),
            min_size=1,
            max_size=8,
        )
    )
    stretches, forces, x, f = [], [], 0.0, 0.0
    for dx, df in steps:
        x, f = x + dx, f + df
        stretches.append(x)
        forces.append(f)
    return stretches, forces


def rpn14() -> MonotoneCurve:
    return monotone_curve([x - RPN14_START for x in RPN14_X], RPN14_Y)


def test_curve_a_has_its_slopes_at_the_knots() -> None:
    slopes = [knot.slope_lbf_in for knot in monotone_curve(A_X, A_Y).knots]
    assert slopes == pytest.approx(A_SLOPES, rel=1e-12)


@pytest.mark.parametrize(("stretch", "force", "slope"), A_VALUES)
def test_curve_a_has_its_force_and_slope_between_the_knots(
    stretch: float, force: float, slope: float
) -> None:
    curve = monotone_curve(A_X, A_Y)
    assert curve.force_lbf(stretch) == pytest.approx(force, rel=1e-13)
    assert curve.slope_lbf_in(stretch) == pytest.approx(slope, rel=1e-12)


def test_curve_b_has_its_slopes_at_the_knots_and_none_on_its_flat_step() -> None:
    slopes = [knot.slope_lbf_in for knot in monotone_curve(B_X, B_Y).knots]
    assert slopes == pytest.approx(B_SLOPES, rel=1e-12)
    assert slopes[2:4] == [0.0, 0.0]


@pytest.mark.parametrize(("stretch", "force"), B_VALUES)
def test_curve_b_has_its_force_between_the_knots(stretch: float, force: float) -> None:
    assert monotone_curve(B_X, B_Y).force_lbf(stretch) == pytest.approx(force, rel=1e-13)


@pytest.mark.parametrize(("x", "y"), RPN14_VALUES)
def test_rpn14_has_its_value_between_the_knots(x: float, y: float) -> None:
    assert rpn14().force_lbf(x - RPN14_START) == pytest.approx(y, rel=1e-11)


def test_rpn14_never_rises_above_its_last_value() -> None:
    # A not-a-knot cubic spline overshoots to 1.16903 here.
    curve = rpn14()
    highest = max(curve.force_lbf(curve.tested_stretch_in * i / 500) for i in range(500))
    assert highest <= 0.999994


def test_a_stored_curve_gives_the_same_digits_without_scipy(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fresh = monotone_curve(A_X, A_Y)
    expected = [(fresh.force_lbf(x), fresh.slope_lbf_in(x)) for x, _, _ in A_VALUES]
    stored = [(knot.stretch_in, knot.force_lbf, knot.slope_lbf_in) for knot in fresh.knots]
    monkeypatch.setitem(sys.modules, "scipy", None)
    monkeypatch.setitem(sys.modules, "scipy.interpolate", None)
    with pytest.raises(ImportError):
        monotone_curve(A_X, A_Y)
    again = MonotoneCurve(tuple(Knot(*numbers) for numbers in stored))
    assert [(again.force_lbf(x), again.slope_lbf_in(x)) for x, _, _ in A_VALUES] == expected


@pytest.mark.parametrize("curve", [LinearCurve(1033.0, 5.0), monotone_curve(B_X, B_Y)])
def test_a_curve_holds_to_its_tested_stretch_and_no_further(
    curve: LinearCurve | MonotoneCurve,
) -> None:
    assert curve.tested_stretch_in == 5.0
    assert curve.force_lbf(5.0) > 0.0
    with pytest.raises(ValueError, match=r"stretch_in is 5\.001: .*tested stretch of 5 in"):
        curve.force_lbf(5.001)
    with pytest.raises(ValueError, match=r"stretch_in is 5\.001: .*tested stretch of 5 in"):
        curve.slope_lbf_in(5.001)


def test_a_straight_curve_is_rate_times_stretch() -> None:
    curve = LinearCurve(1033.0, 5.0)
    assert curve.force_lbf(3.0) == 3099.0
    assert curve.slope_lbf_in(3.0) == 1033.0
    assert curve.force_lbf(0.0) == 0.0


def test_one_stretch_gives_a_straight_line_to_it() -> None:
    curve = monotone_curve([2.0, 2.0], [1900.0, 2100.0])
    assert curve.knots == (Knot(0.0, 0.0, 1000.0), Knot(2.0, 2000.0, 1000.0))
    assert curve.force_lbf(0.5) == pytest.approx(500.0, rel=1e-15)


def test_readings_at_one_stretch_are_taken_at_their_mean() -> None:
    # A loading and an unloading branch.
    curve = monotone_curve([1.0, 2.0, 2.0, 1.0], [950.0, 2050.0, 1950.0, 850.0])
    assert [(knot.stretch_in, knot.force_lbf) for knot in curve.knots] == [
        (0.0, 0.0),
        (1.0, 900.0),
        (2.0, 2000.0),
    ]


def test_a_reading_at_rest_is_the_origin_whatever_the_gauge_showed() -> None:
    assert monotone_curve([0.0, *A_X], [30.0, *A_Y]) == monotone_curve(A_X, A_Y)


def test_forces_that_fall_are_refused() -> None:
    with pytest.raises(ValueError, match=r"force_lbf falls from 900 at 1 in to 850 at 2 in"):
        monotone_curve([1.0, 2.0], [900.0, 850.0])


@given(rising_readings())
def test_a_curve_passes_through_its_knots(readings: tuple[list[float], list[float]]) -> None:
    curve = monotone_curve(*readings)
    assert [curve.force_lbf(x) for x in readings[0]] == readings[1]


@given(rising_readings(), st.floats(0.0, 1.0))
def test_a_curve_never_overshoots_the_knots_on_either_side(
    readings: tuple[list[float], list[float]], share: float
) -> None:
    curve = monotone_curve(*readings)
    for left, right in zip(curve.knots, curve.knots[1:], strict=False):
        at = min(left.stretch_in + share * (right.stretch_in - left.stretch_in), right.stretch_in)
        assert left.force_lbf <= curve.force_lbf(at) <= right.force_lbf


@given(rising_readings(), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_a_curve_never_falls(
    readings: tuple[list[float], list[float]], one: float, other: float
) -> None:
    curve = monotone_curve(*readings)
    near, far = (share * curve.tested_stretch_in for share in sorted((one, other)))
    # Rounding leaves the last bits open.
    leave = 1e-12 * readings[1][-1]
    assert curve.force_lbf(near) <= curve.force_lbf(far) + leave
    assert curve.slope_lbf_in(near) >= 0.0


@given(rising_readings(), st.floats(0.01, 0.99))
def test_the_slope_is_the_derivative_of_the_force(
    readings: tuple[list[float], list[float]], share: float
) -> None:
    curve = monotone_curve(*readings)
    for left, right in zip(curve.knots, curve.knots[1:], strict=False):
        width = right.stretch_in - left.stretch_in
        at, step = left.stretch_in + share * width, 1e-5 * width
        measured = (curve.force_lbf(at + step) - curve.force_lbf(at - step)) / (2.0 * step)
        scale = (readings[1][-1] + 1e-9) / width
        assert curve.slope_lbf_in(at) == pytest.approx(measured, rel=1e-4, abs=1e-5 * scale)


@given(rising_readings(), st.randoms(use_true_random=False))
def test_the_order_of_readings_changes_no_digit_of_a_curve(
    readings: tuple[list[float], list[float]], random: Random
) -> None:
    pairs = list(zip(*readings, strict=True))
    random.shuffle(pairs)
    assert monotone_curve([x for x, _ in pairs], [f for _, f in pairs]) == monotone_curve(*readings)


def test_means_that_fall_are_pooled_by_how_many_readings_they_hold() -> None:
    # At 2 in one reading of 800, at 1 in two of 950 on average: (2·950 + 800)/3 = 900 for both.
    stretches, forces = rising_means([3.0, 1.0, 2.0, 1.0], [1_500.0, 900.0, 800.0, 1_000.0])
    assert stretches == [1.0, 2.0, 3.0]
    assert forces == pytest.approx([900.0, 900.0, 1_500.0], rel=1e-14)


def test_means_that_rise_stay_as_they_are() -> None:
    assert rising_means([1.0, 2.0], [900.0, 1_900.0]) == ([1.0, 2.0], [900.0, 1_900.0])


def test_no_readings_have_no_means() -> None:
    assert rising_means([], []) == ([], [])


def test_the_mean_of_one_curve_is_that_curve() -> None:
    curve = monotone_curve([1.0, 2.0, 4.0], [900.0, 1900.0, 4100.0])
    assert mean_curve([curve], [0.3]) == curve
    assert mean_curve([curve, curve], [1.0, 3.0]) == curve


def test_the_mean_of_curves_is_weighted_at_the_stretches_of_both() -> None:
    one, other = monotone_curve([2.0, 4.0], [2000.0, 4000.0]), monotone_curve([4.0], [3000.0])
    found = mean_curve([one, other], [3.0, 1.0])
    assert [knot.stretch_in for knot in found.knots] == [0.0, 2.0, 4.0]
    assert found.force_lbf(4.0) == pytest.approx(3750.0, rel=1e-12)
    assert found.force_lbf(2.0) == pytest.approx(1875.0, rel=1e-12)


def test_a_curve_that_ends_goes_on_by_the_shape_of_those_that_do_not() -> None:
    # The stiffer pads rise by half from 2 to 3 in, and so the softer are taken to.
    long, short = monotone_curve([2.0, 3.0], [2000.0, 3000.0]), monotone_curve([2.0], [1600.0])
    assert continued(short, long).force_lbf(3.0) == pytest.approx(2400.0, rel=1e-12)
    assert mean_curve([long, short], [1.0, 1.0]).force_lbf(3.0) == pytest.approx(2700.0, rel=1e-12)


@given(st.lists(st.lists(st.floats(100.0, 1500.0), min_size=1, max_size=6), min_size=1, max_size=4))
def test_a_mean_of_curves_never_falls_and_lies_among_them(rises: list[list[float]]) -> None:
    curves = [
        monotone_curve(
            [1.0 + place for place in range(len(each))],
            [sum(each[: place + 1]) for place in range(len(each))],
        )
        for each in rises
    ]
    found = mean_curve(curves, [1.0] * len(curves))
    assert found.tested_stretch_in == max(curve.tested_stretch_in for curve in curves)
    forces = [knot.force_lbf for knot in found.knots]
    assert forces == sorted(forces)
    at_one = [curve.force_lbf(1.0) for curve in curves]
    assert min(at_one) * (1 - 1e-9) <= found.force_lbf(1.0) <= max(at_one) * (1 + 1e-9)


def test_stretches_read_a_hair_apart_are_one() -> None:
    found = mean_curve(
        [monotone_curve([2.0, 4.0], [2.0, 4.0]), monotone_curve([2.005, 4.0], [2.005, 4.0])],
        [1.0, 1.0],
    )
    assert len(found.knots) == 3


def test_the_bend_is_a_share_of_the_force_there() -> None:
    # 5 % of full scale, and a third of the force at a quarter of the way.
    curve = monotone_curve([1.0, 2.0, 4.0], [750.0, 1900.0, 4000.0])
    assert bend_pct(curve, 1000.0, 4.0) == pytest.approx(100.0 * 250.0 / 750.0, rel=1e-12)
    assert bend_pct(LinearCurve(1000.0, 4.0), 1000.0, 4.0) == 0.0
    assert forces_at_quarters(curve)[3] == (4.0, 4000.0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: mean_curve([], []), "of 0 curves"),
        (lambda: mean_curve([monotone_curve([1.0], [1.0])], [1.0, 1.0]), "weights has 2 of 1"),
        (lambda: mean_curve([monotone_curve([1.0], [1.0])], [0.0]), "weights is 0"),
        (lambda: bend_pct(monotone_curve([1.0], [1.0]), 0.0, 1.0), "rate_lbf_in is 0"),
        (lambda: bend_pct(monotone_curve([1.0], [1.0]), 1.0, 2.0), "no more than the tested"),
    ],
)
def test_curves_that_cannot_be_averaged_are_refused(
    call: Callable[[], object], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        call()


def test_how_fast_a_curve_steepens_is_the_difference_of_its_slopes() -> None:
    curve = monotone_curve([1.0, 2.0, 4.0], [900.0, 2_500.0, 7_000.0])
    step = 1e-6
    for at in (0.3, 1.0, 1.7, 2.0, 3.1, 4.0):
        before = at - step
        by_difference = (curve.slope_lbf_in(at - step) - curve.slope_lbf_in(before - step)) / step
        assert curve.steepens_lbf_in2(at) == pytest.approx(by_difference, abs=0.1)
        gaps = curve.gap_lbf(at - step) - curve.gap_lbf(before - step)
        assert curve.gap_slope_lbf_in(at) == pytest.approx(gaps / step, abs=0.1)
