"""How likely it is that a unit meets its listing, and how often a decision on it goes wrong."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.standing import (
    Standing,
    conformance_probability,
    judge,
    risks_of_the_rule,
    specific_risks,
)
from ratings.mechanics.uncertainty import coverage_factor

LISTED = 100_000.0
PULLS = st.floats(0.0, 500_000.0)
DOUBTS = st.floats(10.0, 50_000.0)
FREEDOMS = st.one_of(st.just(math.inf), st.floats(1.0, 200.0))
CONFIDENCES = st.floats(0.6, 0.99)


def test_a_diode_inside_its_limit_by_1_4_standard_uncertainties_conforms_with_0_92() -> None:
    # JCGM 106:2012, 7.3, the breakdown voltage of a diode: -5.47 V with u = 0.05 V against an
    # upper limit of -5.40 V, p = 0.92. From memory. Turned about, since our limit is a lower one.
    assert conformance_probability(5.47, 0.05, math.inf, 5.40) == pytest.approx(0.92, abs=0.005)


@pytest.mark.parametrize(
    ("standard_uncertainties", "probability"),
    # JCGM 106:2012, table 1, for one limit and a normal distribution. From memory.
    [(0.84, 0.80), (1.28, 0.90), (1.64, 0.95), (2.33, 0.99), (3.09, 0.999)],
)
def test_a_distance_in_standard_uncertainties_gives_the_probability_of_the_table(
    standard_uncertainties: float, probability: float
) -> None:
    pull_lbf = LISTED + standard_uncertainties * 2_000.0
    found = conformance_probability(pull_lbf, 2_000.0, math.inf, LISTED)
    assert found == pytest.approx(probability, abs=0.0016)


@pytest.mark.parametrize(
    ("t", "freedom", "probability"),
    # Printed tables of Student's t, one tail. From memory.
    [(6.314, 1, 0.95), (2.015, 5, 0.95), (1.372, 10, 0.90), (2.764, 10, 0.99), (1.725, 20, 0.95)],
)
def test_with_few_degrees_of_freedom_the_probability_is_of_student_s_t(
    t: float, freedom: float, probability: float
) -> None:
    above = conformance_probability(LISTED + t * 500.0, 500.0, freedom, LISTED)
    below = conformance_probability(LISTED - t * 500.0, 500.0, freedom, LISTED)
    assert above == pytest.approx(probability, abs=1e-4)
    assert below == pytest.approx(1.0 - probability, abs=1e-4)


@given(pull=PULLS, doubt=DOUBTS, freedom=FREEDOMS, confidence=CONFIDENCES)
def test_a_unit_meets_its_listing_just_where_it_is_likely_enough_to(
    pull: float, doubt: float, freedom: float, confidence: float
) -> None:
    capacity = max(0.0, pull - coverage_factor(confidence, freedom) * doubt)
    likely = conformance_probability(pull, doubt, freedom, LISTED)
    # The factor is rounded to its fourth decimal, so at the very edge the two may differ.
    if abs(capacity - LISTED) > doubt * 1e-4:
        meets = judge(pull, capacity, LISTED) is Standing.MEETS_LISTING
        assert meets == (likely > confidence)


@given(pull=PULLS, doubt=DOUBTS, freedom=FREEDOMS)
def test_a_unit_below_its_listing_is_likelier_to_miss_it_than_to_meet_it(
    pull: float, doubt: float, freedom: float
) -> None:
    likely = conformance_probability(pull, doubt, freedom, LISTED)
    assert 0.0 <= likely <= 1.0
    assert likely <= 0.5 if pull < LISTED else likely >= 0.5


@given(doubt=DOUBTS, freedom=FREEDOMS, less=PULLS, more=PULLS)
def test_a_larger_pull_never_makes_a_unit_less_likely_to_meet_its_listing(
    doubt: float, freedom: float, less: float, more: float
) -> None:
    low, high = sorted((less, more))
    assert conformance_probability(low, doubt, freedom, LISTED) <= conformance_probability(
        high, doubt, freedom, LISTED
    )


def test_with_no_doubt_at_all_a_unit_meets_its_listing_or_does_not() -> None:
    assert conformance_probability(LISTED, 0.0, 5.0, LISTED) == 1.0
    assert conformance_probability(LISTED - 1e-6, 0.0, 5.0, LISTED) == 0.0
    # So small that the quotient of the two would have no size.
    assert conformance_probability(LISTED - 1.0, 5e-324, math.inf, LISTED) == 0.0


def test_the_risks_of_a_decision_on_one_unit_are_the_two_sides_of_one_chance() -> None:
    risks = specific_risks(5.47, 0.05, math.inf, 5.40)
    assert risks.producer == pytest.approx(0.919243, abs=1e-6)
    assert risks.consumer == pytest.approx(0.080757, abs=1e-6)


@given(true=st.floats(0.0, LISTED - 1.0), doubt=DOUBTS, freedom=FREEDOMS, confidence=CONFIDENCES)
def test_of_units_below_their_listing_no_more_get_past_the_rule_than_its_confidence_leaves(
    true: float, doubt: float, freedom: float, confidence: float
) -> None:
    risks = risks_of_the_rule(true, doubt, freedom, LISTED, confidence)
    assert risks.consumer <= 1.0 - confidence + 1e-4
    assert risks.producer == 0.0


def test_a_unit_that_pulls_just_its_listing_is_flagged_nineteen_times_in_twenty() -> None:
    # A guard band of t·u: JCGM 106:2012, 8.3.
    risks = risks_of_the_rule(LISTED, 2_000.0, math.inf, LISTED, 0.95)
    assert risks.consumer == 0.0
    assert risks.producer == pytest.approx(0.95, abs=1e-4)


def test_a_unit_better_than_its_listing_by_two_guard_bands_is_flagged_once_in_twenty() -> None:
    guard_lbf = coverage_factor(0.95, 9.0) * 2_000.0
    risks = risks_of_the_rule(LISTED + 2.0 * guard_lbf, 2_000.0, 9.0, LISTED, 0.95)
    assert risks.producer == pytest.approx(0.05, abs=1e-4)


@pytest.mark.parametrize(
    ("given_numbers", "words"),
    [
        ((-1.0, 1.0, 5.0, 1.0), "pull_lbf is -1: give 0 lbf or more"),
        ((1.0, -1.0, 5.0, 1.0), "standard_uncertainty_lbf is -1: give 0 lbf or more"),
        ((1.0, 1.0, 0.0, 1.0), "degrees_of_freedom is 0: give more than 0"),
        ((1.0, 0.0, -3.0, 1.0), "degrees_of_freedom is -3: give more than 0"),
        ((1.0, 1.0, math.nan, 1.0), "degrees_of_freedom is nan: give a finite number"),
        ((1.0, 1.0, 5.0, -2.0), "listed_lbf is -2: give 0 lbf or more"),
    ],
)
def test_a_number_that_cannot_be_is_refused_by_name(
    given_numbers: tuple[float, float, float, float], words: str
) -> None:
    with pytest.raises(ValueError, match=re.escape(words)):
        conformance_probability(*given_numbers)
    with pytest.raises(ValueError, match=re.escape(words).replace("pull_lbf", "(true_)?pull_lbf")):
        risks_of_the_rule(*given_numbers, confidence=0.95)


def test_a_confidence_that_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match=r"confidence is 0\.4: give more than 0\.5"):
        risks_of_the_rule(1.0, 1.0, 5.0, 1.0, 0.4)
