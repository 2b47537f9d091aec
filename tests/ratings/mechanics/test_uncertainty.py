"""How standard uncertainties add up, against the GUM's own examples."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.uncertainty import (
    Component,
    combine,
    coverage_factor,
    rectangular,
    resolution,
    two_sided_factor,
    whole_degrees_of_freedom,
)

components = st.lists(
    st.builds(
        Component,
        st.just("part"),
        st.floats(1e-3, 1e3),
        st.one_of(st.integers(1, 50), st.just(math.inf)),
    ),
    min_size=1,
    max_size=6,
)


def product_example() -> list[Component]:
    # GUM G.4.1 (inputs and published results from memory): relative uncertainties in percent
    # from 10, 5 and 15 readings.
    return [Component("x", 0.25, 9), Component("y", 0.57, 4), Component("z", 0.82, 14)]


def test_gum_g41_product_has_its_combined_uncertainty_and_nineteen_degrees_of_freedom() -> None:
    found = combine(product_example())
    # Computed with scipy; published 1.03 % and 19.0.
    assert found.standard == pytest.approx(1.029466, abs=5e-7)
    assert found.degrees_of_freedom == pytest.approx(18.9987, abs=5e-5)


def test_gum_g41_expanded_uncertainty_is_two_point_two_percent() -> None:
    # Computed: t95(19) = 2.093024, U = 2.1547 %. Published 2.09 and 2.2 %. The published 19.0
    # comes of rounding u to 1.03 first, which gives 19.04.
    factor = two_sided_factor(0.95, 19)
    assert factor == 2.0930
    assert factor * combine(product_example()).standard == pytest.approx(2.1547, abs=5e-5)


def test_numbers_of_readings_in_place_of_degrees_of_freedom_would_show() -> None:
    wrong = [Component("x", 0.25, 10), Component("y", 0.57, 5), Component("z", 0.82, 15)]
    assert combine(wrong).degrees_of_freedom == pytest.approx(21.7, abs=0.05)


def test_gum_h1_comparator_difference() -> None:
    # Inputs seen in a public worked copy of GUM H.1, nm; 25.6 degrees recalled, of u = 9.7.
    parts = [Component("a", 5.8, 24), Component("b", 3.9, 5), Component("c", 6.7, 8)]
    found = combine(parts)
    assert found.standard == pytest.approx(9.68194, abs=5e-6)
    assert found.degrees_of_freedom == pytest.approx(25.447, abs=5e-4)


def test_gum_h1_end_gauge() -> None:
    # Contributions as rounded there, nm: 25 (18), 9.7 (25.6), 2.9 (50), 16.6 (2).
    parts = [
        Component("standard", 25.0, 18),
        Component("difference", 9.7, 25.6),
        Component("expansion", 2.9, 50),
        Component("temperature", 16.6, 2),
    ]
    found = combine(parts)
    # Published 32 nm, 16.7 degrees (recalled), t99(16) = 2.92, U99 = 93 nm (recalled).
    assert found.standard == pytest.approx(31.671, abs=2e-3)
    assert found.degrees_of_freedom == pytest.approx(16.765, abs=5e-3)
    assert round(found.standard) == 32
    factor = two_sided_factor(0.99, whole_degrees_of_freedom(found.degrees_of_freedom))
    assert factor == pytest.approx(2.92078, abs=5e-5)
    assert int(factor * round(found.standard)) == 93


def test_half_widths_become_standard_uncertainties() -> None:
    # GUM H.1: thermal expansion, rectangular, 1e-6.
    assert rectangular(1e-6) == pytest.approx(0.57735026919e-6, rel=1e-10)
    assert resolution(0.125) == pytest.approx(rectangular(0.0625), rel=1e-15)


def test_nothing_combines_to_nothing_with_no_doubt_of_it() -> None:
    assert (combine([]).standard, combine([]).degrees_of_freedom) == (0.0, math.inf)
    assert combine([Component("none", 0.0, 3)]).degrees_of_freedom == math.inf


def test_parts_with_infinite_degrees_of_freedom_alone_leave_them_infinite() -> None:
    assert combine([Component("a", 3.0), Component("b", 4.0)]).degrees_of_freedom == math.inf
    assert combine([Component("a", 3.0), Component("b", 4.0)]).standard == 5.0


@given(components)
def test_the_combined_has_no_fewer_degrees_of_freedom_than_its_worst_and_no_more_than_all(
    parts: list[Component],
) -> None:
    freedom = combine(parts).degrees_of_freedom
    assert freedom >= min(part.degrees_of_freedom for part in parts) * (1 - 1e-12)
    assert freedom <= sum(part.degrees_of_freedom for part in parts) * (1 + 1e-12)


@given(components)
def test_the_combined_is_at_least_each_part_and_at_most_their_sum(parts: list[Component]) -> None:
    standard = combine(parts).standard
    assert standard >= max(part.standard for part in parts) * (1 - 1e-12)
    assert standard <= math.fsum(part.standard for part in parts) * (1 + 1e-12)


def test_a_factor_with_no_end_of_degrees_of_freedom_is_the_normal_one() -> None:
    assert two_sided_factor(0.95, math.inf) == 1.9600
    assert coverage_factor(0.95, math.inf) == 1.6449


def test_degrees_of_freedom_are_cut_to_a_whole_number_and_never_to_none() -> None:
    assert whole_degrees_of_freedom(16.765) == 16.0
    assert whole_degrees_of_freedom(0.4) == 1.0
    assert whole_degrees_of_freedom(math.inf) == math.inf


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: Component("gauge", -1.0), "standard of gauge is -1: give 0 or more"),
        (lambda: Component("gauge", math.nan), "standard of gauge is nan"),
        (lambda: Component("gauge", 1.0, 0), "degrees_of_freedom of gauge is 0"),
        (lambda: rectangular(-1.0), "half_width is -1"),
        (lambda: rectangular(math.inf), "half_width is inf"),
        (lambda: rectangular(-0.1), "half_width is -0.1"),
        (lambda: resolution(-0.1), "step is -0.1"),
        (lambda: two_sided_factor(1.0, 3), "confidence is 1: give more than 0"),
        (lambda: two_sided_factor(0.95, -2), "degrees_of_freedom is -2"),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
