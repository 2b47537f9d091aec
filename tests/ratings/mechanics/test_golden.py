"""Where a function with one peak is largest."""

from __future__ import annotations

import math

import pytest

from ratings.mechanics.golden import peak


@pytest.mark.parametrize("at", [0.0, 0.1, 1.0 / 3.0, 0.999, 1.0])
def test_a_peak_is_found_wherever_it_is(at: float) -> None:
    assert peak(lambda x: -((x - at) ** 2), 0.0, 1.0) == pytest.approx(at, abs=1e-5)
    assert peak(lambda x: -abs(x - at), 0.0, 1.0) == pytest.approx(at, abs=1e-5)


def test_a_peak_of_a_sine_is_a_quarter_turn() -> None:
    assert peak(math.sin, 0.0, 3.0) == pytest.approx(math.pi / 2.0, abs=1e-5)
