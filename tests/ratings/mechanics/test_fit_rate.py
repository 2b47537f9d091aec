"""What a through-origin fit must hold to, whatever the readings."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ratings.mechanics.line_fit import fit_rate

readings = st.lists(
    st.tuples(st.floats(0.25, 12.0), st.floats(10.0, 20_000.0)), min_size=2, max_size=12
)


def split(pairs: list[tuple[float, float]]) -> tuple[list[float], list[float]]:
    return [x for x, _ in pairs], [f for _, f in pairs]


@given(readings, st.floats(0.01, 100.0))
def test_forces_scaled_scale_the_rate_and_its_error(
    pairs: list[tuple[float, float]], scale: float
) -> None:
    stretches, forces = split(pairs)
    plain = fit_rate(stretches, forces)
    scaled = fit_rate(stretches, [scale * force for force in forces])
    assert scaled.rate_lbf_in == pytest.approx(scale * plain.rate_lbf_in, rel=1e-12)
    # Readings nearly on the line leave residuals of rounding only, hence the absolute part.
    assert scaled.standard_error_lbf_in == pytest.approx(
        scale * plain.standard_error_lbf_in, rel=1e-9, abs=1e-12 * scaled.rate_lbf_in
    )
    assert scaled.linearity_error_pct == pytest.approx(
        plain.linearity_error_pct, rel=1e-9, abs=1e-9
    )


@given(readings, st.floats(0.01, 100.0))
def test_stretches_scaled_scale_the_rate_the_other_way(
    pairs: list[tuple[float, float]], scale: float
) -> None:
    stretches, forces = split(pairs)
    plain = fit_rate(stretches, forces)
    scaled = fit_rate([scale * stretch for stretch in stretches], forces)
    assert scaled.rate_lbf_in == pytest.approx(plain.rate_lbf_in / scale, rel=1e-12)
    assert scaled.tested_stretch_in == scale * plain.tested_stretch_in


@given(readings, st.randoms(use_true_random=False))
def test_the_order_of_readings_changes_no_digit(
    pairs: list[tuple[float, float]], random: Random
) -> None:
    shuffled = list(pairs)
    random.shuffle(shuffled)
    assert fit_rate(*split(shuffled)) == fit_rate(*split(pairs))


@given(
    st.lists(st.floats(0.25, 12.0), min_size=2, max_size=12),
    st.floats(50.0, 5_000.0),
)
def test_exactly_proportional_readings_give_the_rate_with_next_to_no_error(
    stretches: list[float], rate: float
) -> None:
    fit = fit_rate(stretches, [rate * stretch for stretch in stretches])
    assert fit.rate_lbf_in == pytest.approx(rate, rel=1e-14)
    assert fit.standard_error_lbf_in < 1e-12 * rate
    assert fit.r_squared == pytest.approx(1.0, abs=1e-14)
    assert fit.is_linear


@given(readings)
def test_the_rate_lies_between_the_least_and_the_greatest_of_the_readings(
    pairs: list[tuple[float, float]],
) -> None:
    rates = [force / stretch for stretch, force in pairs]
    rate = fit_rate(*split(pairs)).rate_lbf_in
    assert min(rates) * (1 - 1e-12) <= rate <= max(rates) * (1 + 1e-12)


@given(readings)
def test_no_other_rate_leaves_smaller_residuals(pairs: list[tuple[float, float]]) -> None:
    fit = fit_rate(*split(pairs))
    assume(fit.residual_sd_lbf > 1e-6)

    def squares(rate: float) -> float:
        return sum((force - rate * stretch) ** 2 for stretch, force in pairs)

    least = squares(fit.rate_lbf_in)
    assert squares(fit.rate_lbf_in * 1.001) >= least
    assert squares(fit.rate_lbf_in * 0.999) >= least


def test_a_fit_worked_by_hand() -> None:
    # Σx² = 5, Σxf = 100 + 2·220 = 540, k = 108; residuals −8 and 4; s² = 80; se = √(80/5) = 4.
    fit = fit_rate([1.0, 2.0], [100.0, 220.0])
    assert fit.rate_lbf_in == 108.0
    assert fit.residual_sd_lbf == pytest.approx(80.0**0.5, rel=1e-15)
    assert fit.standard_error_lbf_in == pytest.approx(4.0, rel=1e-15)
    assert fit.degrees_of_freedom == 1
    assert fit.linearity_error_pct == pytest.approx(800.0 / 220.0, rel=1e-15)


def test_a_lot_at_its_linearity_limit_is_still_linear() -> None:
    # By hand: k = 90, residuals 10 and −5, of 175... the limit given is the error itself.
    error_pct = fit_rate([1.0, 2.0], [100.0, 175.0]).linearity_error_pct
    assert fit_rate([1.0, 2.0], [100.0, 175.0], error_pct).is_linear
    assert not fit_rate([1.0, 2.0], [100.0, 175.0], error_pct * 0.999).is_linear


@pytest.mark.parametrize("at_rest_lbf", [0.0, 35.0])
def test_readings_at_rest_are_no_evidence_of_fit(at_rest_lbf: float) -> None:
    plain = fit_rate([1.0, 2.0], [100.0, 220.0])
    rested = fit_rate([0.0, 1.0, 2.0, 0.0], [0.0, 100.0, 220.0, at_rest_lbf])
    assert rested == plain


def test_one_reading_with_stretch_is_no_two_however_often_rest_was_read() -> None:
    with pytest.raises(ValueError, match="1 reading with stretch: give two or more"):
        fit_rate([0.0, 0.0, 2.0], [0.0, 0.0, 200.0])
