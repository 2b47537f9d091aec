"""Entries of format 3 recompute as they were rated, and where today's method says otherwise."""

from __future__ import annotations

from itertools import pairwise

import pytest

from ratings.mechanics import format_3
from ratings.mechanics.linepull import LinePull, PadGroup, ProofFactor, line_pull
from ratings.mechanics.load_curve import monotone_curve

# A curve that flattens, of a lot known no better than its stand of two degrees of freedom.
FLATTENS = PadGroup(
    count=8,
    rate_lbf_in=2_965.0,
    tested_stretch_in=6.0,
    standard_error_lbf_in=347.0,
    degrees_of_freedom=2.0,
    curve=monotone_curve([3.0, 6.0], [3_295.5, 4_945.5]),
    between_share=0.063,
    between_degrees_of_freedom=8.0,
    conditions_share=0.05,
    gap_share=0.1,
    kept_share=0.97,
)
# Working capacity, and stretch, of it at 1.9875 in and at 4.9 in of travel by the third method.
WAS_SHORT, WAS_FAR = (3_057.183651, 1.9875), (3_048.087355, 1.875)
# In doubt and tested far; sure and tested short.
FAR, SHORT = PadGroup(10, 1_000.0, 6.0, between_share=0.3), PadGroup(3, 1_000.0, 4.0)
PROOF = ProofFactor(0.55, "2026-03-01")


def found(pull: LinePull) -> tuple[float, float]:
    return round(pull.working_capacity_lbf, 6), pull.usable_travel_in


def test_the_third_method_stays_as_it_was_on_a_curve_that_flattens() -> None:
    # Recorded from the program that rated by it.
    assert found(format_3.line_pull([FLATTENS], 1.9875, 0.036)) == WAS_SHORT
    assert found(format_3.line_pull([FLATTENS], 4.9, 0.036)) == WAS_FAR
    assert WAS_FAR[0] < WAS_SHORT[0]


def test_today_no_inch_of_travel_lowers_it_there() -> None:
    assert found(line_pull([FLATTENS], 1.9, 0.036))[1] == 1.9
    travels = (1.9, 1.9875, 2.5, 3.0, 4.9, 6.0, 7.0)
    capacities = [line_pull([FLATTENS], each, 0.036).working_capacity_lbf for each in travels]
    # To a hundredth of a pound: of stretches alike to less the longest one tried holds.
    assert all(later > sooner - 0.01 for sooner, later in pairwise(capacities))
    assert capacities[-1] > WAS_SHORT[0]


def test_by_the_third_method_a_pad_could_lower_what_a_proof_pull_bounds() -> None:
    # By hand: alone at 6 in 60,000 − 1.6449·18,000 = 30,391.8, and by the proof 33,000.
    alone = format_3.line_pull([FAR], 6.0, proof=PROOF)
    assert alone.working_capacity_lbf == pytest.approx(30_391.8)
    # With the others most is proven at 4 in, 52,000 − 1.6449·12,000; of 52,000 the proof is 28,600.
    both = format_3.line_pull([FAR, SHORT], 6.0, proof=PROOF)
    assert both.working_capacity_lbf == pytest.approx(28_600.0)
    assert both.is_by_proof


def test_today_a_proof_pull_is_held_against_the_pads_at_every_stretch() -> None:
    alone, both = (line_pull(each, 6.0, proof=PROOF) for each in ([FAR], [FAR, SHORT]))
    assert both.working_capacity_lbf == alone.working_capacity_lbf == pytest.approx(30_391.8)
    assert both.usable_travel_in == 6.0
    assert both.pull_lbf == pytest.approx(33_000.0)
    assert not both.is_by_proof


def test_a_proof_pull_that_bounds_gives_its_own_doubt() -> None:
    softer = ProofFactor(0.5, "2026-03-01", 0.02)
    pull = line_pull([FAR], 6.0, proof=softer)
    # By hand: 30,000·(1 − 1.6449·0.02).
    assert pull.working_capacity_lbf == pytest.approx(29_013.06)
    assert pull.is_by_proof
    assert pull.pull_lbf == pytest.approx(30_000.0)
    assert pull.standard_uncertainty_lbf == pytest.approx(600.0)
