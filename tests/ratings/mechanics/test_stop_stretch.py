"""The stretch to stop at: the shortest at which any pads fitted may already carry a pull."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.extraction.supply import stop_stretch_in, stretch_at_pull_in
from ratings.mechanics.extraction.unit import Unit
from ratings.mechanics.linepull import PadGroup, ProofFactor, line_pull, most_pull_at

EXACT = PadGroup(16, 1000.0, 8.0)
DOUBTED = PadGroup(16, 1000.0, 8.0, 20.0, 30.0)
UNIT = Unit(
    "S-1",
    groups=(EXACT,),
    stiff_groups=(EXACT,),
    unknown_stiffness="",
    usable_travel_in=6.0,
)


def test_pads_in_no_doubt_stop_where_they_carry_it() -> None:
    assert stop_stretch_in(UNIT, 64_000.0) == pytest.approx(4.0)


def test_the_most_is_as_far_above_the_estimate_as_the_least_below() -> None:
    found = line_pull([DOUBTED], 5.0, 0.02)
    most = most_pull_at([DOUBTED], 5.0, 0.02)
    assert most is not None
    assert most - found.pull_lbf == pytest.approx(found.pull_lbf - found.working_capacity_lbf)


def test_doubt_shortens_it() -> None:
    unit = replace(UNIT, groups=(DOUBTED,), stiff_groups=(DOUBTED,), travel_uncertainty_in=0.02)
    stop, best = stop_stretch_in(unit, 64_000.0), stretch_at_pull_in(unit, 64_000.0)
    assert stop is not None
    assert best is not None
    assert stop < best
    assert most_pull_at((DOUBTED,), stop, 0.02) == pytest.approx(64_000.0)


def test_a_pull_that_is_nowhere_reached_needs_no_stop() -> None:
    assert stop_stretch_in(UNIT, 96_001.0) == math.inf
    assert stop_stretch_in(UNIT, 96_000.0) == pytest.approx(6.0)


@pytest.mark.parametrize(
    "unit",
    [
        replace(UNIT, unknown_stiffness="1 pad of no known lot"),
        replace(UNIT, unknown_stiffness=None),
        replace(UNIT, stiff_groups=()),
        replace(UNIT, usable_travel_in=None),
    ],
)
def test_what_is_not_known_gives_no_stretch(unit: Unit) -> None:
    assert stop_stretch_in(unit, 10_000.0) is None


def test_beyond_what_a_lot_was_tested_to_nobody_knows() -> None:
    short = PadGroup(2, 1000.0, 3.0, lot="short")
    unit = replace(UNIT, stiff_groups=(EXACT, short))
    assert stop_stretch_in(unit, 36_000.0) == pytest.approx(2.0)
    assert stop_stretch_in(unit, 70_000.0) is None
    assert most_pull_at((EXACT, short), 3.1) is None


def test_a_unit_found_stiffer_than_its_pads_stops_the_sooner_and_a_softer_no_later() -> None:
    stiff = replace(UNIT, proof=ProofFactor(1.25, "2026-03-01"))
    soft = replace(UNIT, proof=ProofFactor(0.8, "2026-03-01"))
    assert stop_stretch_in(stiff, 64_000.0) == pytest.approx(4.0 / 1.25)
    assert stop_stretch_in(soft, 64_000.0) == pytest.approx(4.0)


@given(st.floats(0.0, 1e5), st.floats(0.0, 1e5), st.integers(1, 8))
def test_it_is_no_longer_for_a_lesser_pull_or_for_more_pads(
    one_lbf: float, other_lbf: float, more: int
) -> None:
    less, greater = sorted((one_lbf, other_lbf))
    stops = [stop_stretch_in(UNIT, pull) for pull in (less, greater)]
    assert None not in stops
    assert stops[0] <= stops[1]  # type: ignore[operator]
    added = replace(UNIT, stiff_groups=(EXACT, PadGroup(more, 500.0, 8.0)))
    assert stop_stretch_in(added, less) <= stops[0]  # type: ignore[operator]


@pytest.mark.parametrize("pull", [-1.0, math.nan, math.inf])
def test_a_pull_that_cannot_be_is_refused(pull: float) -> None:
    with pytest.raises(ValueError, match="pull_lbf"):
        stop_stretch_in(UNIT, pull)
