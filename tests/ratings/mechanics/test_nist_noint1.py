"""Through-origin fit against NIST Statistical Reference Datasets, linear regression, NoInt1.

The data and certified values were taken from third-party copies, not NIST's own pages; exact
rational arithmetic on the data gives the same values to 14 digits.
"""

from __future__ import annotations

import math

import pytest

from ratings.mechanics.line_fit import SpringRate, fit_rate

X = [60.0, 61.0, 62.0, 63.0, 64.0, 65.0, 66.0, 67.0, 68.0, 69.0, 70.0]
Y = [130.0, 131.0, 132.0, 133.0, 134.0, 135.0, 136.0, 137.0, 138.0, 139.0, 140.0]

# Certified values, NIST StRD NoInt1.
CERTIFIED_B1 = 2.07438016528926
CERTIFIED_SD_OF_B1 = 0.0165289256198347
CERTIFIED_RESIDUAL_SD = 3.56753034006338
CERTIFIED_R_SQUARED = 0.999365492298663
CERTIFIED_SUM_OF_SQUARES = 127.272727272727

# Not certified: what a total centred on the mean of y would give (exact arithmetic).
CENTRED_R_SQUARED = -0.157024793388429


@pytest.fixture(scope="module")
def fit() -> SpringRate:
    return fit_rate(X, Y)


def test_the_rate_is_the_certified_slope(fit: SpringRate) -> None:
    assert fit.rate_lbf_in == pytest.approx(CERTIFIED_B1, rel=1e-12)


def test_the_standard_error_is_the_certified_one(fit: SpringRate) -> None:
    assert fit.standard_error_lbf_in == pytest.approx(CERTIFIED_SD_OF_B1, rel=1e-10)


def test_the_residual_sd_is_the_certified_one(fit: SpringRate) -> None:
    assert fit.residual_sd_lbf == pytest.approx(CERTIFIED_RESIDUAL_SD, rel=1e-10)


def test_ten_degrees_of_freedom_give_the_certified_sum_of_squares(fit: SpringRate) -> None:
    assert fit.degrees_of_freedom == 10
    sum_of_squares = fit.residual_sd_lbf**2 * fit.degrees_of_freedom
    assert sum_of_squares == pytest.approx(CERTIFIED_SUM_OF_SQUARES, rel=1e-10)


def test_r_squared_is_the_certified_one(fit: SpringRate) -> None:
    assert fit.r_squared == pytest.approx(CERTIFIED_R_SQUARED, rel=1e-12)


def test_r_squared_is_not_taken_against_a_centred_total(fit: SpringRate) -> None:
    mean = math.fsum(Y) / len(Y)
    centred_total = math.fsum((y - mean) ** 2 for y in Y)
    residual = fit.residual_sd_lbf**2 * fit.degrees_of_freedom
    assert 1.0 - residual / centred_total == pytest.approx(CENTRED_R_SQUARED, rel=1e-9)
    assert fit.r_squared > 0.999


def test_the_worst_reading_is_the_first_at_three_and_a_bit_percent_of_full_scale(
    fit: SpringRate,
) -> None:
    # By hand: 130 − 60·2.07438… = 5.53719…, of 140.
    assert fit.linearity_error_pct == pytest.approx(100.0 * 5.5371900826444 / 140.0, rel=1e-10)
    assert fit.is_linear
    assert not fit_rate(X, Y, linearity_limit_pct=3.9).is_linear
