"""What a gauge's certificate makes of its readings, and of what is left in doubt."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.bench import BenchSetUp, CycleReading, Cylinder, reduce_cycle
from ratings.mechanics.budget import Budget, Instruments, curve_doubt, rate_budget
from ratings.mechanics.gauge import (
    CalibrationPoint,
    GaugeCorrection,
    PointError,
    check_points,
    correction_of,
    drift_since,
    found_errors,
)
from ratings.mechanics.line_fit import fit_rate

# Shows 2 psi too much at 1,000 psi and 6 too much at 2,000.
CORRECTION = GaugeCorrection(((0.0, 0.0), (1002.0, 1000.0), (2006.0, 2000.0)), 3.0, 2.0)
# 10 in² and two pads: 5 lbf per pad and psi.
SET_UP = BenchSetUp(Cylinder(math.sqrt(40.0 / math.pi)), "blind", 2, 12.0)
CORRECTED = replace(SET_UP, correction=CORRECTION)
INSTRUMENTS = Instruments("1A", 2500.0, 10.0, 0.125, 0.1, 0.01)


def points(*rows: tuple[float | None, ...]) -> list[CalibrationPoint]:
    return [CalibrationPoint(*row) for row in rows]  # type: ignore[arg-type]


GOOD = points((0.0, 0.0, 0.0), (1000.0, 1030.0, 1002.0), (2000.0, 2008.0, 2006.0))


def test_a_reading_is_worth_what_was_applied_at_the_points_and_lies_on_the_line_between() -> None:
    assert [CORRECTION.true_psi(shown) for shown in (0.0, 501.0, 1002.0, 1504.0, 2006.0)] == [
        0.0,
        500.0,
        1000.0,
        1500.0,
        2000.0,
    ]


def test_beyond_the_points_the_gauge_is_as_far_off_as_at_the_last() -> None:
    assert CORRECTION.true_psi(2106.0) == 2100.0
    assert CORRECTION.true_psi(-3.0) == -3.0
    assert CORRECTION.covers(2000.0)
    assert not CORRECTION.covers(2001.0)


@given(st.lists(st.floats(0.0, 2400.0), min_size=2, max_size=6))
def test_more_on_the_gauge_is_never_less_pressure(shown: list[float]) -> None:
    true = [CORRECTION.true_psi(each) for each in sorted(shown)]
    assert true == sorted(true)


def test_force_is_of_the_corrected_pressure_less_the_corrected_zero() -> None:
    set_up = replace(CORRECTED, gauge_zero_psi=501.0)
    cycle = reduce_cycle(set_up, [CycleReading(13.0, 1002.0), CycleReading(14.0, 2006.0)])
    # 1,000 − 500 and 2,000 − 500 psi on 5 in² of each pad.
    assert [each.force_lbf for each in cycle.readings] == pytest.approx([2500.0, 7500.0])


def test_without_a_certificate_readings_are_taken_as_they_are() -> None:
    assert SET_UP.pressure_psi(1002.0) == 1002.0


def budget(set_up: BenchSetUp, forces: list[float], **more: Any) -> Budget:
    stretches = [1.0, 2.0, 3.0, 4.0]
    correction = set_up.correction
    if more and correction is not None:
        set_up = replace(set_up, correction=replace(correction, **more))
    return rate_budget(fit_rate(stretches, forces), stretches, forces, set_up, INSTRUMENTS)


FORCES = [1010.0, 1990.0, 3005.0, 3998.0]


def test_the_certificate_takes_the_place_of_the_grade_beside_the_resolution() -> None:
    lines = {each.name: each for each in budget(CORRECTED, FORCES).lines}
    assert "gauge accuracy" not in lines
    # ± 3 psi with k = 2, all readings alike: (A/n)·u·Σx/Σx², by hand.
    certificate = lines["gauge certificate"]
    assert certificate.standard == 1.5
    assert certificate.distribution == "normal"
    assert certificate.contribution_lbf_in == pytest.approx(1.5 * 5.0 * 10.0 / 30.0, rel=1e-12)
    graded = {each.name: each for each in budget(SET_UP, FORCES).lines}
    assert lines["gauge resolution"] == replace(
        graded["gauge resolution"], share=lines["gauge resolution"].share
    )


def test_a_gauge_that_drifted_between_certificates_is_taken_to_drift_again() -> None:
    lines = {each.name: each for each in budget(CORRECTED, FORCES, drift_psi=6.0).lines}
    assert lines["gauge drift"].standard == pytest.approx(6.0 / math.sqrt(3.0))
    assert "gauge drift" not in {each.name for each in budget(CORRECTED, FORCES).lines}


def test_beyond_the_certificate_the_grade_counts_as_well() -> None:
    # 12,000 lbf per pad are 2,400 psi; the certificate ends at 2,000.
    far = budget(CORRECTED, [3000.0, 6000.0, 9000.0, 12_000.0])
    lines = {each.name: each for each in far.lines}
    assert lines["gauge beyond its certificate"].half_width == 25.0
    assert lines["gauge certificate"].standard == 1.5


def test_a_reading_at_rest_lies_in_no_certificate_and_costs_nothing() -> None:
    late = replace(
        CORRECTED,
        correction=GaugeCorrection(((100.0, 100.0), (500.0, 500.0), (900.0, 900.0)), 3.0, 2.0),
    )
    stretches, forces = [0.0, 1.0, 2.0, 3.0], [0.0, 1010.0, 1990.0, 3005.0]
    found = rate_budget(fit_rate(stretches, forces), stretches, forces, late, INSTRUMENTS)
    assert "gauge beyond its certificate" not in {each.name for each in found.lines}


def test_a_gauge_at_full_scale_may_be_worth_more_than_its_span() -> None:
    low = GaugeCorrection(((0.0, 0.0), (1000.0, 1020.0), (1900.0, 1940.0)), 3.0, 2.0)
    set_up = replace(SET_UP, correction=low)
    forces = [5.0 * low.true_psi(shown) for shown in (625.0, 1250.0, 1875.0, 2500.0)]
    assert {each.name for each in budget(set_up, forces).lines} >= {"gauge beyond its certificate"}


def test_the_load_curve_is_as_sure_as_the_certificate() -> None:
    doubt = curve_doubt([1.0, 2.0, 3.0], [1000.0, 2000.0, 3000.0], CORRECTED, INSTRUMENTS)
    assert doubt.force_lbf == pytest.approx(5.0 * math.hypot(1.5, 10.0 / math.sqrt(12.0)))


def test_what_was_found_off_is_held_against_the_grade() -> None:
    found = found_errors(GOOD, "1A", 2500.0)
    assert [each.error_psi for each in found] == [0.0, 30.0, 8.0]
    assert [each.is_beyond for each in found] == [False, True, False]
    # Just what the grade allows is no fault.
    even = points((0.0, 0.0), (1000.0, 1025.0), (2000.0, 1975.0))
    assert not any(each.is_beyond for each in found_errors(even, "1A", 2500.0))


def test_nothing_read_as_found_says_nothing_of_what_was() -> None:
    left_only = points((0.0, None, 0.0), (1000.0, None, 1002.0), (2000.0, None, 2006.0))
    assert found_errors(left_only, "1A", 2500.0) == ()
    assert drift_since(CORRECTION, left_only) is None


def test_the_drift_is_what_the_last_certificate_would_have_been_wrong_by() -> None:
    # It would have made 1,000.0 of 1,002; the gauge now shows 1,012 at 1,000 applied.
    now = points((0.0, 0.0), (1000.0, 1012.0), (2000.0, 2006.0))
    assert drift_since(CORRECTION, now) == pytest.approx(1000.0 * 10.0 / 1004.0)


def test_as_left_counts_from_then_on_and_as_found_where_nothing_was_adjusted() -> None:
    assert correction_of(GOOD, 3.0, 2.0) == CORRECTION
    as_it_came = points((0.0, 1.0), (1000.0, 1003.0), (2000.0, 2004.0))
    assert correction_of(as_it_came, 3.0, 2.0).points[1] == (1003.0, 1000.0)


@pytest.mark.parametrize(
    ("given_points", "words"),
    [
        ([], "no point"),
        (GOOD[:2], "2 points given: give 3 or more"),
        # As a certificate in bar has them: 0, 70, 140 on a gauge of 2,500 psi.
        (points((0.0, 0.0), (70.0, 70.2), (140.0, 140.3)), "look like bar, not psi"),
        (points((0.0, 0.0), (7000.0, 7000.0), (14_000.0, 14_010.0)), "look like kPa, not psi"),
        (points((0.0, 0.0), (1000.0, 1000.0), (2700.0, 2700.0)), "point 3: 2700 psi applied is b"),
        (points((0.0, 0.0), (1000.0, 1000.0), (900.0, 900.0)), "point 3: 900 psi applied comes"),
        (points((0.0, 0.0), (1000.0, 1000.0), (1000.0, 1001.0)), "point 3: 1000 psi applied"),
        (points((0.0, 0.0), (1000.0, 1000.0), (1100.0, 990.0)), "point 3: the gauge shows 990"),
        (points((0.0, 0.0), (1000.0, None), (2000.0, 2000.0)), "point 2: as found is blank here"),
        (
            points((0.0, 0.0, 0.0), (1000.0, 1000.0, None), (2000.0, 2000.0, 2000.0)),
            "point 2: as left is blank here",
        ),
        (points((0.0,), (1000.0,), (2000.0,)), "point 1: give what the gauge showed"),
        (points((0.0, 0.0), (1000.0, 100.0), (2000.0, 2000.0)), "point 2: the gauge would be left"),
    ],
)
def test_points_that_no_certificate_has_are_refused(
    given_points: list[CalibrationPoint], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        check_points(given_points, 2500.0)


def test_good_points_pass() -> None:
    check_points(GOOD, 2500.0)


def test_a_bad_point_names_its_place_and_its_field() -> None:
    with pytest.raises(PointError) as refused:
        check_points(points((0.0, 0.0), (1000.0, 1000.0), (900.0, 1010.0)), 2500.0)
    assert (refused.value.index, refused.value.field) == (2, "applied_psi")


def test_a_gauge_may_have_been_found_far_off_if_it_was_put_right() -> None:
    check_points(points((0.0, 0.0, 0.0), (1000.0, 1400.0, 1001.0), (2000.0, 2500.0, 2000.0)), 2500)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: replace(CORRECTION, points=CORRECTION.points[:2]), "give 3 or more"),
        (lambda: replace(CORRECTION, points=CORRECTION.points[::-1]), "rise in both"),
        (lambda: replace(CORRECTION, expanded_psi=0.0), "expanded_psi is 0"),
        (lambda: replace(CORRECTION, coverage_factor=-2.0), "coverage_factor is -2"),
        (lambda: replace(CORRECTION, drift_psi=-1.0), "drift_psi is -1"),
        (lambda: correction_of(points((0.0,), (1.0,), (2.0,)), 3.0, 2.0), "neither as found"),
    ],
)
def test_a_correction_that_cannot_be_is_refused(make: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make()
