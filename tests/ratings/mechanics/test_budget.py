"""The budget of one bench test, worked by hand, by Monte Carlo and by what must always hold."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from ratings.mechanics.bench import BenchSetUp, CycleReading, Cylinder, reduce_cycle
from ratings.mechanics.budget import (
    BETTER_GAUGE,
    FINER_GAUGE,
    FINER_TAPE,
    MORE_READINGS,
    Budget,
    BudgetLine,
    Instruments,
    improve_first,
    rate_budget,
    total,
)
from ratings.mechanics.gauge import Grade
from ratings.mechanics.line_fit import fit_rate
from ratings.remarks import remark_words

# 10 in² and two pads: 5 lbf per pad and psi.
SET_UP = BenchSetUp(Cylinder(math.sqrt(40.0 / math.pi)), "blind", 2, 12.0)
ROD_SET_UP = BenchSetUp(Cylinder(5.0, 3.0), "rod", 2, 12.0)
STRETCHES = [1.0, 2.0, 3.0, 4.0]
FORCES = [1010.0, 1990.0, 3005.0, 3998.0]
INSTRUMENTS = Instruments("1A", 1500.0, 10.0, 0.125, 0.1, 0.01)

stretches_and_forces = st.lists(
    st.tuples(st.floats(0.5, 8.0), st.floats(0.8, 1.2)), min_size=2, max_size=10
).map(lambda pairs: ([x for x, _ in pairs], [900.0 * x * share for x, share in pairs]))


Readings = tuple[list[float], list[float]]


def budget(
    stretches: list[float] = STRETCHES,
    forces: list[float] = FORCES,
    set_up: BenchSetUp = SET_UP,
    *,
    instruments: Instruments = INSTRUMENTS,
    confidence: float = 0.95,
) -> Budget:
    fit = fit_rate(stretches, forces)
    return rate_budget(fit, stretches, forces, set_up, instruments, confidence)


def line(found: Budget, name: str) -> BudgetLine:
    (one,) = (each for each in found.lines if each.name == name)
    return one


def test_each_line_worked_by_hand() -> None:
    # Σx = 10, Σx² = 30, A/n = 5 in²; k = Σxf/Σx² = (1,010 + 3,980 + 9,015 + 15,992)/30.
    k = 29_997.0 / 30.0
    found = budget()
    root_3, root_30 = math.sqrt(3.0), math.sqrt(30.0)
    by_hand = {
        "scatter of the readings": fit_rate(STRETCHES, FORCES).standard_error_lbf_in,
        # 1 % of 1,500 psi.
        "gauge accuracy": 15.0 / root_3 * 5.0 * 10.0 / 30.0,
        "gauge resolution": 10.0 / math.sqrt(12.0) * 5.0 / root_30,
        "tape datum": 0.1 / root_3 * k * 10.0 / 30.0,
        "tape resolution": 0.125 / math.sqrt(12.0) * k / root_30,
        "bore": 0.01 / root_3 * 2.0 * k / math.sqrt(40.0 / math.pi),
    }
    assert {each.name for each in found.lines} == set(by_hand)
    for name, value in by_hand.items():
        assert line(found, name).contribution_lbf_in == pytest.approx(value, rel=1e-12)
    whole = math.sqrt(sum(value * value for value in by_hand.values()))
    assert found.standard_lbf_in == pytest.approx(whole, rel=1e-12)


def test_a_line_says_what_it_rests_on() -> None:
    gauge = line(budget(), "gauge accuracy")
    assert (gauge.kind, gauge.distribution, gauge.symbol) == ("B", "rectangular", "psi")
    assert gauge.half_width == 15.0
    assert remark_words(gauge.source, "us") == "grade 1A of 1,500 psi"
    scatter = line(budget(), "scatter of the readings")
    assert (scatter.kind, scatter.distribution, scatter.half_width) == ("A", "normal", None)
    assert scatter.degrees_of_freedom == 3


def test_lines_come_largest_first_and_their_shares_make_the_whole() -> None:
    found = budget()
    sizes = [each.contribution_lbf_in for each in found.lines]
    assert sizes == sorted(sizes, reverse=True)
    assert math.fsum(each.share for each in found.lines) == pytest.approx(1.0, rel=1e-14)


def test_degrees_of_freedom_and_coverage_are_those_of_the_gum() -> None:
    found = budget()
    scatter = line(found, "scatter of the readings").contribution_lbf_in
    freedom = 3.0 * (found.standard_lbf_in / scatter) ** 4
    assert found.degrees_of_freedom == pytest.approx(freedom, rel=1e-12)
    assert found.coverage_factor == pytest.approx(1.96, abs=5e-3)
    assert found.expanded_lbf_in == found.coverage_factor * found.standard_lbf_in


def test_a_test_with_nothing_but_scatter_has_its_degrees_of_freedom() -> None:
    sure = Instruments("4A", 1500.0, 0.0, 0.0)
    # Grade 4A isn't nothing; its line is left out to see the scatter alone.
    scatter = [line(budget(instruments=sure), "scatter of the readings")]
    found = total(scatter)
    assert (found.degrees_of_freedom, found.coverage_factor) == (3.0, 3.1824)


def test_the_datum_is_as_good_as_the_tape_unless_said() -> None:
    found = budget(instruments=replace(INSTRUMENTS, datum_half_width_in=None))
    assert line(found, "tape datum").half_width == 0.0625


def test_the_rod_end_has_a_line_for_the_rod_and_the_blind_end_none() -> None:
    rod_end = budget(set_up=ROD_SET_UP, instruments=replace(INSTRUMENTS, rod_tolerance_in=0.02))
    k = 29_997.0 / 30.0
    # 2kD/(D² − d²) = 10k/16 and 2kd/(D² − d²) = 6k/16.
    assert line(rod_end, "bore").sensitivity == pytest.approx(10.0 * k / 16.0, rel=1e-12)
    assert line(rod_end, "rod").sensitivity == pytest.approx(-6.0 * k / 16.0, rel=1e-12)
    assert "rod" not in {each.name for each in budget().lines}


@pytest.mark.parametrize(
    ("end", "by"), [("blind", "bore_in"), ("rod", "bore_in"), ("rod", "rod_in")]
)
def test_the_sensitivity_to_a_diameter_is_the_derivative_of_the_rate(end: str, by: str) -> None:
    shown = [CycleReading(12.0 + x, 100.0 * x) for x in STRETCHES]

    def rate(step: float) -> float:
        cylinder = Cylinder(5.0, 3.0)
        moved = replace(cylinder, **{by: getattr(cylinder, by) + step})
        reduced = reduce_cycle(BenchSetUp(moved, end, 2, 12.0), shown).readings
        return fit_rate(
            [each.stretch_in for each in reduced], [each.force_lbf for each in reduced]
        ).rate_lbf_in

    reduced = reduce_cycle(BenchSetUp(Cylinder(5.0, 3.0), end, 2, 12.0), shown).readings
    forces = [each.force_lbf for each in reduced]
    found = budget(STRETCHES, forces, BenchSetUp(Cylinder(5.0, 3.0), end, 2, 12.0))
    measured = (rate(1e-5) - rate(-1e-5)) / 2e-5
    assert line(found, by.removesuffix("_in")).sensitivity == pytest.approx(measured, rel=1e-7)


def test_the_budget_is_what_a_monte_carlo_of_the_whole_test_finds() -> None:
    # JCGM 101 style, seed fixed: 40,000 tests with a true rate of 1,000 lbf/in, each with its
    # own errors of gauge, datum, bore, tape and rounding, and normal scatter of 20 lbf.
    draw = np.random.default_rng(20240604)
    tests, x = 40_000, np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0])
    area, bore = 10.0, math.sqrt(40.0 / math.pi)

    def within(half_width: float, *shape: int) -> NDArray[np.float64]:
        return draw.uniform(-half_width, half_width, (tests, *shape))

    shown_x = x + within(0.1, 1) + within(0.0625, 6)
    psi = (1000.0 * x + draw.normal(0.0, 20.0, (tests, 6))) / 5.0
    psi = psi + within(20.0, 1) + within(5.0, 6)
    force = psi * area / 2.0 * (1.0 + within(0.01, 1) / bore) ** 2
    rates = (shown_x * force).sum(axis=1) / (shown_x * shown_x).sum(axis=1)

    exact = [1000.0 * each for each in x]
    fit = replace(
        fit_rate(list(x), exact), standard_error_lbf_in=20.0 / math.sqrt(float((x * x).sum()))
    )
    instruments = Instruments("1A", 2000.0, 10.0, 0.125, 0.1, 0.01)
    found = rate_budget(fit, list(x), exact, SET_UP, instruments)
    # The sd of 40,000 draws is within 1.5 % of the true one (four of its own sds); the linear
    # terms of the GUM leave the rest.
    assert found.standard_lbf_in == pytest.approx(rates.std(ddof=1), rel=0.02)


@given(stretches_and_forces, st.integers(2, 4))
def test_readings_repeated_never_widen_the_budget(readings: Readings, times: int) -> None:
    stretches, forces = readings
    instruments = replace(INSTRUMENTS, gauge_span_psi=3000.0)
    once = budget(stretches, forces, instruments=instruments)
    more = budget(stretches * times, forces * times, instruments=instruments)
    assert more.standard_lbf_in <= once.standard_lbf_in * (1.0 + 1e-12)
    scatter = "scatter of the readings"
    assert (
        line(more, scatter).contribution_lbf_in
        <= line(once, scatter).contribution_lbf_in * (1.0 + 1e-9) + 1e-9
    )


@given(stretches_and_forces)
def test_a_better_gauge_never_widens_the_budget(readings: Readings) -> None:
    stretches, forces = readings
    found = [
        budget(
            stretches,
            forces,
            instruments=replace(INSTRUMENTS, gauge_span_psi=3000.0, gauge_grade=grade),
        ).standard_lbf_in
        for grade in Grade
    ]
    for finer, coarser in pairwise(found):
        assert finer <= coarser * (1.0 + 1e-12)


@given(
    stretches_and_forces,
    st.sampled_from(
        [
            "gauge_resolution_psi",
            "tape_resolution_in",
            "datum_half_width_in",
            "bore_tolerance_in",
        ]
    ),
    st.floats(0.0, 1.0),
)
def test_a_finer_tape_datum_or_bore_never_widens_the_budget(
    readings: Readings, name: str, share: float
) -> None:
    coarse = replace(INSTRUMENTS, gauge_span_psi=3000.0)
    fine = replace(coarse, **{name: share * getattr(coarse, name)})
    stretches, forces = readings
    before = budget(stretches, forces, instruments=coarse).standard_lbf_in
    after = budget(stretches, forces, instruments=fine).standard_lbf_in
    assert after <= before * (1.0 + 1e-12)


@given(stretches_and_forces, st.randoms(use_true_random=False))
def test_the_order_of_readings_changes_no_digit(readings: Readings, random: Random) -> None:
    instruments = replace(INSTRUMENTS, gauge_span_psi=3000.0)
    pairs = list(zip(*readings, strict=True))
    random.shuffle(pairs)
    shuffled = budget([x for x, _ in pairs], [f for _, f in pairs], instruments=instruments)
    stretches, forces = readings
    assert shuffled == budget(stretches, forces, instruments=instruments)


def test_the_line_to_improve_first_is_the_one_that_gains_most() -> None:
    found = budget()
    best = improve_first(found)
    assert best is not None
    assert best.line == found.lines[0]
    # By hand: halving takes three quarters of its variance away.
    variance = found.standard_lbf_in**2 - 0.75 * found.lines[0].contribution_lbf_in ** 2
    assert best.standard_lbf_in == pytest.approx(math.sqrt(variance), rel=1e-12)
    assert best.gain_lbf_in == pytest.approx(found.expanded_lbf_in - best.expanded_lbf_in)
    assert best.gain_lbf_in > 0.0


def test_few_readings_may_be_what_to_improve_though_another_line_is_larger() -> None:
    # One degree of freedom: t is large until the scatter is a small part.
    scatter = replace(line(budget(), "scatter of the readings"), degrees_of_freedom=1)
    lines = [
        replace(scatter, contribution_lbf_in=9.0),
        replace(line(budget(), "bore"), contribution_lbf_in=10.0),
    ]
    best = improve_first(total(lines))
    assert best is not None
    assert best.line.kind == "A"


def done(way: str, stretches: list[float], forces: list[float], instruments: Instruments) -> Budget:
    """The budget of the test once a yard has done what was promised to improve it."""
    times = 4 if way == MORE_READINGS else 1
    ways: dict[str, dict[str, Any]] = {
        FINER_TAPE: {"tape_resolution_in": instruments.tape_resolution_in / 2.0},
        FINER_GAUGE: {"gauge_resolution_psi": instruments.gauge_resolution_psi / 2.0},
        # Grade 2A is wrong by half as much as 1A, wherever it is read.
        BETTER_GAUGE: {"gauge_grade": "2A"},
        "measuring the bore to half the tolerance": {
            "bore_tolerance_in": instruments.bore_tolerance_in / 2.0
        },
    }
    changes = ways.get(way, {})
    assert changes or times > 1, way
    return budget(stretches * times, forces * times, instruments=replace(instruments, **changes))


@given(
    stretches_and_forces,
    st.floats(0.001, 1.0),
    st.floats(0.01, 100.0),
    st.floats(0.0, 0.3),
)
def test_doing_what_is_promised_gives_at_least_what_was_promised(
    readings: Readings, tape_in: float, gauge_psi: float, bore_in: float
) -> None:
    stretches, forces = readings
    instruments = Instruments("1A", 3000.0, gauge_psi, tape_in, None, bore_in)
    before = budget(stretches, forces, instruments=instruments)
    best = improve_first(before)
    if best is None:
        return
    after = done(best.halved_by, stretches, forces, instruments)
    gain = before.expanded_lbf_in - after.expanded_lbf_in
    assert gain >= best.gain_lbf_in * (1.0 - 1e-6) - 1e-6 * before.expanded_lbf_in


def test_a_finer_tape_sets_the_datum_closer_too() -> None:
    coarse = Instruments("4A", 1500.0, 0.1, 1.0)
    best = improve_first(budget(instruments=coarse))
    assert best is not None
    assert best.halved_by == FINER_TAPE
    assert set(best.halves) == {"tape datum", "tape resolution"}


SURE = Instruments("4A", 1500.0, 0.1, 0.001)
BENT = [1000.0, 2300.0, 3900.0, 5800.0, 8000.0]


def test_the_bend_of_a_curve_is_no_scatter_that_more_readings_would_halve() -> None:
    wide = replace(SURE, gauge_span_psi=2000.0)
    found = budget([1.0, 2.0, 3.0, 4.0, 5.0], BENT, instruments=wide)
    assert found.lines[0].name == "scatter of the readings"
    assert found.lines[0].halved_by == ()
    best = improve_first(found)
    assert best is None or "scatter of the readings" not in best.halves


def test_straight_readings_that_scatter_are_better_read_more_often() -> None:
    readings = [1080.0, 1930.0, 3060.0, 3920.0, 5050.0]
    found = budget([1.0, 2.0, 3.0, 4.0, 5.0], readings, instruments=SURE)
    best = improve_first(found)
    assert best is not None
    assert best.halved_by == MORE_READINGS


def test_two_readings_tell_no_scatter_from_a_bend_and_promise_nothing_of_it() -> None:
    found = budget([2.0, 4.0], [2000.0, 4400.0])
    assert line(found, "scatter of the readings").halved_by == ()


@pytest.mark.parametrize(
    ("grade", "span_psi", "is_promised"),
    [
        ("1A", 900.0, True),
        # No grade halves 4A, and a gauge of half the span would be passed.
        ("4A", 900.0, False),
        ("4A", 1600.0, True),
    ],
)
def test_half_a_gauge_s_error_is_promised_only_where_there_is_such_a_gauge(
    grade: str, span_psi: float, is_promised: bool
) -> None:
    gauge = replace(INSTRUMENTS, gauge_grade=grade, gauge_span_psi=span_psi)
    found = line(budget(instruments=gauge), "gauge accuracy")
    assert (BETTER_GAUGE in found.halved_by) is is_promised


def test_less_of_what_is_sure_is_no_improvement_where_a_scatter_of_few_readings_is_left() -> None:
    # One degree of freedom: with the bore's line gone the factor is 12.7.
    scatter = replace(line(budget(), "scatter of the readings"), degrees_of_freedom=1)
    lines = [
        replace(scatter, contribution_lbf_in=8.0, halved_by=()),
        replace(line(budget(), "bore"), contribution_lbf_in=10.0),
    ]
    assert improve_first(total(lines)) is None


def test_a_budget_of_nothing_has_nothing_to_improve() -> None:
    nothing = total([replace(line(budget(), "bore"), contribution_lbf_in=0.0)])
    assert (nothing.standard_lbf_in, nothing.lines[0].share) == (0.0, 0.0)
    assert improve_first(nothing) is None


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: budget(instruments=replace(INSTRUMENTS, gauge_span_psi=700.0)),
            "pressure_psi is 799.6, beyond the gauge's range of 700 psi",
        ),
        (
            lambda: budget(instruments=replace(INSTRUMENTS, gauge_grade="Z")),
            "grade is 'Z': give one of",
        ),
        (
            lambda: rate_budget(
                fit_rate(STRETCHES, FORCES), STRETCHES, FORCES[1:], SET_UP, INSTRUMENTS
            ),
            "stretch_in has 4 readings and force_lbf 3",
        ),
        (
            lambda: rate_budget(fit_rate(STRETCHES, FORCES), [0.0], [0.0], SET_UP, INSTRUMENTS),
            "stretch_in is 0 in every reading",
        ),
        (lambda: budget(confidence=1.0), "confidence is 1"),
        (lambda: replace(INSTRUMENTS, gauge_resolution_psi=-1.0), "gauge_resolution_psi is -1"),
        (lambda: replace(INSTRUMENTS, tape_resolution_in=math.nan), "tape_resolution_in is nan"),
        (lambda: replace(INSTRUMENTS, datum_half_width_in=-0.1), "datum_half_width_in is -0.1"),
        (lambda: replace(INSTRUMENTS, bore_tolerance_in=-0.1), "bore_tolerance_in is -0.1"),
        (lambda: replace(INSTRUMENTS, rod_tolerance_in=-0.1), "rod_tolerance_in is -0.1"),
        (lambda: improve_first(budget(), 1.0), "factor is 1: give less than 1"),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()


def test_a_reading_at_full_scale_is_within_range_whatever_its_last_bit() -> None:
    for span in (700.0, 1300.0, 3333.3):
        force = span * SET_UP.cylinder.area_in2() / 2
        assert budget(
            [2.0, 4.0], [force / 2, force], instruments=replace(INSTRUMENTS, gauge_span_psi=span)
        ).lines
