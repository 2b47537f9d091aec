"""The line with intercept against NIST Norris and the thermometer of GUM H.3.

NIST's data and certified values were taken from third-party copies; exact rational arithmetic
on the data gives the same values to 14 digits. GUM data and values: read in two public copies
that agree, unless said.
"""

from __future__ import annotations

import math
from random import Random

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ratings.mechanics.line_fit import Line, fit_line, zero_check

# fmt: off
NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5,
    666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1,
    887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5
]
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1,
    668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3,
    888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2
]
H3_T = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
H3_B = [
    -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160
]
# fmt: on


@pytest.fixture(scope="module")
def norris() -> Line:
    return fit_line(NORRIS_X, NORRIS_Y)


@pytest.fixture(scope="module")
def thermometer() -> Line:
    return fit_line([t - 20.0 for t in H3_T], H3_B)


@pytest.mark.parametrize(
    ("name", "certified"),
    [
        ("intercept", -0.262323073774029),
        ("slope", 1.00211681802045),
        ("intercept_standard_error", 0.232818234301152),
        ("slope_standard_error", 0.000429796848199937),
        ("residual_sd", 0.884796396144373),
    ],
)
def test_norris_has_its_certified_values(norris: Line, name: str, certified: float) -> None:
    assert getattr(norris, name) == pytest.approx(certified, rel=1e-11)


def test_norris_leaves_its_certified_sum_of_squares(norris: Line) -> None:
    assert norris.degrees_of_freedom == 34
    assert norris.residual_sd**2 * 34 == pytest.approx(26.6173985294224, rel=1e-11)


@pytest.mark.parametrize(
    ("name", "computed", "published", "decimals"),
    [
        ("intercept", -0.1712037901313, -0.1712, 4),
        ("slope", 0.0021826977398873, 0.00218, 5),
        ("intercept_standard_error", 0.0028775978352, 0.0029, 4),
        ("slope_standard_error", 0.0006679387732278, 0.00067, 5),
        ("correlation", -0.930429603093, -0.93, 2),
        ("residual_sd", 0.00349756396351, 0.0035, 4),
    ],
)
def test_gum_h3_thermometer(
    thermometer: Line, name: str, computed: float, published: float, decimals: int
) -> None:
    found = getattr(thermometer, name)
    assert found == pytest.approx(computed, rel=1e-9)
    assert round(found, decimals) == published


def test_gum_h3_correction_at_thirty_degrees(thermometer: Line) -> None:
    value, uncertainty = thermometer.predict(10.0)
    assert value == pytest.approx(-0.149376812732, rel=1e-10)
    assert uncertainty == pytest.approx(0.004138595752855, rel=1e-10)
    assert (round(value, 4), round(uncertainty, 4)) == (-0.1494, 0.0041)


def test_gum_h3_correction_takes_the_correlation_in(thermometer: Line) -> None:
    of_slope = 10.0 * thermometer.slope_standard_error
    of_intercept = thermometer.intercept_standard_error
    ignored = math.hypot(of_intercept, of_slope)
    assert ignored == pytest.approx(0.00727288043206, rel=1e-9)
    taken = ignored**2 + 2.0 * thermometer.correlation * of_intercept * of_slope
    assert thermometer.predict(10.0)[1] == pytest.approx(math.sqrt(taken), rel=1e-10)


def test_gum_h3_fitted_about_the_mean_predicts_the_same(thermometer: Line) -> None:
    # Computed: intercept −0.16245454545 with u = s/√11 = 0.001054555 and no correlation.
    mean = math.fsum(H3_T) / len(H3_T)
    assert mean == pytest.approx(24.008454545, rel=1e-10)
    centred = fit_line([t - mean for t in H3_T], H3_B)
    assert centred.intercept == pytest.approx(-0.16245454545, rel=1e-9)
    assert centred.intercept_standard_error == pytest.approx(0.00349756396351 / 11**0.5, rel=1e-9)
    assert centred.correlation == pytest.approx(0.0, abs=1e-12)
    assert centred.predict(30.0 - mean)[1] == pytest.approx(0.0041385957529, rel=1e-10)


def test_a_line_worked_by_hand() -> None:
    # x̄ = 2, ȳ = 220, Sxx = 2, b = 115, a = −10; residuals 5, −10, 5; s² = 150.
    line = fit_line([1.0, 2.0, 3.0], [110.0, 210.0, 340.0])
    assert (line.slope, line.intercept) == (115.0, -10.0)
    assert line.residual_sd == pytest.approx(math.sqrt(150.0), rel=1e-15)
    assert line.slope_standard_error == pytest.approx(math.sqrt(75.0), rel=1e-15)
    # s²·Σx²/(n·Sxx) = 150·14/6.
    assert line.intercept_standard_error == pytest.approx(math.sqrt(350.0), rel=1e-15)
    assert line.degrees_of_freedom == 1


def test_a_datum_an_eighth_short_is_found_with_its_size() -> None:
    # True stretch 0.875 in where 1 in was read: the datum should be an eighth higher.
    xs = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
    noise = [3.0, -4.0, 2.0, 1.0, -3.0, 1.0]
    ys = [1000.0 * (x - 0.125) + each for x, each in zip(xs, noise, strict=True)]
    found = zero_check(fit_line(xs, ys))
    assert found.is_significant
    assert found.t < -found.critical_t
    assert found.critical_t == 2.7764  # t of 0.975 and 4 degrees, any printed table
    assert found.datum_off_in == pytest.approx(0.125, abs=0.005)


def test_a_zero_that_is_right_raises_no_alarm() -> None:
    found = zero_check(fit_line([1.0, 2.0, 3.0, 4.0], [1004.0, 1995.0, 2998.0, 4003.0]))
    assert not found.is_significant


@given(st.lists(st.floats(0.25, 12.0), min_size=3, max_size=12), st.floats(50.0, 5_000.0))
def test_rounding_alone_is_no_intercept(stretches: list[float], rate: float) -> None:
    # Spread enough that the digits of the spread itself aren't what is tested.
    assume(max(stretches) - min(stretches) > 0.1)
    assert not zero_check(
        fit_line(stretches, [rate * stretch for stretch in stretches])
    ).is_significant


def test_an_intercept_with_no_scatter_at_all_is_significant() -> None:
    found = zero_check(fit_line([1.0, 2.0, 3.0], [15.0, 25.0, 35.0]))
    assert found.is_significant
    assert found.datum_off_in == -0.5


def test_a_line_that_does_not_rise_says_nothing_of_the_datum() -> None:
    assert zero_check(fit_line([1.0, 2.0, 3.0], [10.0, 10.0, 10.0])).datum_off_in is None


@given(
    st.lists(st.tuples(st.floats(0.0, 12.0), st.floats(0.0, 2e4)), min_size=3, max_size=12),
    st.randoms(use_true_random=False),
)
def test_the_order_of_readings_changes_no_digit(
    pairs: list[tuple[float, float]], random: Random
) -> None:
    assume(max(x for x, _ in pairs) - min(x for x, _ in pairs) > 0.01)
    shuffled = list(pairs)
    random.shuffle(shuffled)
    assert fit_line(*zip(*shuffled, strict=True)) == fit_line(*zip(*pairs, strict=True))


@pytest.mark.parametrize(
    ("x", "y", "message"),
    [
        ([1.0, 2.0], [1.0, 2.0], "x has 2 readings: give three or more"),
        ([], [], "x has 0 readings: give three or more"),
        ([1.0, 2.0, 3.0], [1.0, 2.0], "x has 3 readings and y 2"),
        ([2.0, 2.0, 2.0], [1.0, 2.0, 3.0], "x is 2 in every reading"),
        ([0.1, 0.1, 0.1], [1.0, 2.0, 3.0], "x is 0.1 in every reading"),
        ([1.0, math.nan, 3.0], [1.0, 2.0, 3.0], "x reading 2 is nan"),
        ([1.0, 2.0, 3.0], [1.0, 2.0, "3"], "y reading 3 is '3'"),
    ],
)
def test_readings_no_line_can_be_fitted_to_are_refused(
    x: list[float], y: list[float], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        fit_line(x, y)


def test_a_prediction_at_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="x is nan"):
        fit_line([1.0, 2.0, 3.0], [1.0, 2.0, 3.5]).predict(math.nan)
