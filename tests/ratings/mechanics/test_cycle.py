"""Loading and unloading branches of a bench test."""

from __future__ import annotations

import math
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.bench import (
    BenchSetUp,
    Branch,
    BranchPair,
    CycleReading,
    Cylinder,
    ReadingError,
    hysteresis,
    reduce_cycle,
)
from ratings.mechanics.line_fit import fit_line, fit_rate

# 10 in² and two pads: 5 lbf per pad and psi.
SET_UP = BenchSetUp(Cylinder(math.sqrt(40.0 / math.pi)), "blind", 2, 12.0)
NO_BRANCH: Any = "back"

# Invented set of the linearity worked check. Its unloading branch lies above the loading one,
# which no pad can do: for the arithmetic only.
WORKED_X = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]
WORKED_UP = [0.0, 980.0, 2010.0, 3080.0, 4190.0, 5350.0]
WORKED_DOWN = [40.0, 1060.0, 2110.0, 3170.0, 4250.0, 5350.0]


def up(*shown: tuple[float, float], run: int = 1) -> list[CycleReading]:
    return [CycleReading(12.0 + x, psi, run) for x, psi in shown]


def down(*shown: tuple[float, float], run: int = 1) -> list[CycleReading]:
    return [CycleReading(12.0 + x, psi, run, Branch.UNLOADING) for x, psi in shown]


def worked_pairs() -> list[BranchPair]:
    return [BranchPair(1, *each) for each in zip(WORKED_X, WORKED_UP, WORKED_DOWN, strict=True)]


def test_the_worked_set_has_its_hysteresis() -> None:
    # Computed with numpy: 100 lbf at 2 in, 1.8691588785 % of 5,350; 350 in·lbf gained.
    found = hysteresis(worked_pairs())
    assert (found.most_lbf, found.at_stretch_in) == (100.0, 2.0)
    assert found.most_pct == pytest.approx(1.8691588785, rel=1e-10)
    assert found.energy_lost_in_lbf == -350.0


def test_the_worked_set_has_its_linearity_by_two_lines() -> None:
    # Computed with numpy, of the loading branch: through zero 1,050, 100 lbf off at 5 in,
    # 1.869159 %; with intercept −73.333333 and 1,070.
    through = fit_rate(WORKED_X, WORKED_UP)
    assert through.rate_lbf_in == pytest.approx(1050.0, rel=1e-12)
    assert through.linearity_error_pct == pytest.approx(1.869159, abs=5e-7)
    line = fit_line(WORKED_X, WORKED_UP)
    assert line.slope == pytest.approx(1070.0, rel=1e-12)
    assert line.intercept == pytest.approx(-73.333333, abs=5e-7)


def test_a_cycle_worked_by_hand() -> None:
    cycle = reduce_cycle(
        SET_UP, up((1, 210), (2, 410), (3, 600)) + down((3, 560), (2, 370), (1, 190))
    )
    assert [pair.stretch_in for pair in cycle.pairs] == [1.0, 2.0, 3.0]
    assert [pair.mean_lbf for pair in cycle.pairs] == pytest.approx([1000.0, 1950.0, 2900.0])
    assert cycle.left_out == ()
    found = hysteresis(cycle.pairs)
    # Gaps 100, 200, 200 lbf; area (100 + 200)/2 + 200 = 350 in·lbf; full scale 3,000.
    assert found.most_lbf == pytest.approx(200.0, rel=1e-12)
    assert found.most_pct == pytest.approx(200.0 / 30.0, rel=1e-12)
    assert found.energy_lost_in_lbf == pytest.approx(350.0, rel=1e-12)


def test_seal_friction_cancels_in_the_mean_of_the_branches() -> None:
    # 15 psi of friction either way on 200 psi an inch.
    cycle = reduce_cycle(
        SET_UP, up((1, 215), (2, 415), (3, 615)) + down((3, 585), (2, 385), (1, 185))
    )
    stretches, forces = zip(*cycle.points, strict=True)
    assert fit_rate(stretches, forces).rate_lbf_in == pytest.approx(1000.0)
    loading = [each for each in cycle.readings if each.gauge_psi in (215, 415, 615)]
    with_friction = fit_rate(
        [each.stretch_in for each in loading], [each.force_lbf for each in loading]
    )
    assert with_friction.rate_lbf_in > 1030.0


def test_each_run_has_its_own_means() -> None:
    cycle = reduce_cycle(
        SET_UP,
        up((1, 210), (2, 410))
        + down((2, 390), (1, 190))
        + up((1, 220), (2, 420), run=2)
        + down((2, 400), (1, 200), run=2),
    )
    assert [pair.run for pair in cycle.pairs] == [1, 1, 2, 2]
    assert sorted(force for _, force in cycle.points) == pytest.approx(
        [1000.0, 1050.0, 2000.0, 2050.0]
    )
    assert hysteresis(cycle.pairs).most_lbf == pytest.approx(100.0)


def test_a_stretch_read_on_one_branch_only_is_left_out_by_its_place() -> None:
    cycle = reduce_cycle(SET_UP, up((1, 210), (2, 410), (3, 600)) + down((2, 370), (1, 190)))
    assert cycle.left_out == (2,)
    assert max(stretch for stretch, _ in cycle.points) == 2.0


def test_a_run_without_unloading_is_left_out_where_another_has_it() -> None:
    cycle = reduce_cycle(SET_UP, up((1, 210)) + down((1, 190)) + up((1, 230), run=2))
    assert cycle.left_out == (2,)


@given(
    st.lists(st.tuples(st.floats(0.1, 2.0), st.floats(0.0, 500.0)), min_size=1, max_size=9),
    st.randoms(use_true_random=False),
)
def test_loading_alone_comes_to_each_reading_in_the_order_of_stretch(
    steps: list[tuple[float, float]], random: Random
) -> None:
    x = psi = 0.0
    shown = []
    for dx, dp in steps:
        x, psi = x + dx, psi + dp
        shown.append((12.0 + x, psi))
    random.shuffle(shown)
    cycle = reduce_cycle(SET_UP, [CycleReading(*each) for each in shown])
    assert cycle.points == tuple(
        sorted((each.stretch_in, each.force_lbf) for each in cycle.readings)
    )
    assert (cycle.pairs, cycle.left_out) == ((), ())


@pytest.mark.parametrize(
    ("readings", "place", "field", "message"),
    [
        (
            up((1, 200), (2, 190)),
            1,
            "gauge_psi",
            "falls from 200 psi to 190 psi while the stretch ri",
        ),
        (
            up((1, 200), (2, 400)) + down((2, 380), (1, 150)) + up((1, 300), (2, 290), run=2),
            5,
            "gauge_psi",
            "on the loading branch of run 2",
        ),
        (
            up((1, 300), (2, 400)) + down((2, 200), (1, 250)),
            3,
            "gauge_psi",
            "rises from 200 psi to 250 psi while the stretch falls from 2 in to 1 in on the unl",
        ),
        (
            up((1, 200), (2, 400)) + down((2, 390), (1, 210)),
            3,
            "gauge_psi",
            "unloading shows 210 psi at 1 in, above the 200 psi of loading in run 1.*more energy",
        ),
        (up((1, 200)) + down((2, 390)), 1, "branch", "run 1 has no stretch read on both"),
        (down((2, 390)), 0, "branch", "run 1 has no stretch read on both"),
        ([CycleReading(13.0, 1.0, 0)], 0, "run", "run is 0: give a whole number, 1 or more"),
        ([CycleReading(13.0, 1.0, 1, NO_BRANCH)], 0, "branch", "branch is 'back': give 'loading'"),
        ([CycleReading(11.0, 1.0)], 0, "tape_in", "tape 11 in is below the datum"),
        ([CycleReading(13.0, math.nan)], 0, "gauge_psi", "gauge_psi is nan"),
    ],
)
def test_a_reading_that_cannot_be_is_named_by_place_and_field(
    readings: list[CycleReading], place: int, field: str, message: str
) -> None:
    with pytest.raises(ReadingError, match=message) as caught:
        reduce_cycle(SET_UP, readings)
    assert (caught.value.index, caught.value.field) == (place, field)
    assert str(caught.value).startswith(f"reading {place + 1}: ")


def test_unloading_may_stand_above_loading_by_what_rounding_of_the_gauge_explains() -> None:
    readings = up((1, 200), (2, 400)) + down((2, 410), (1, 180))
    assert reduce_cycle(SET_UP, readings, gauge_resolution_psi=10.0).pairs
    with pytest.raises(ReadingError, match="energy"):
        reduce_cycle(SET_UP, readings, gauge_resolution_psi=5.0)


def test_branches_named_by_plain_words_are_taken() -> None:
    words: list[Any] = ["loading", "unloading"]
    readings = [
        CycleReading(13.0, psi, 1, word) for psi, word in zip((210, 190), words, strict=True)
    ]
    assert len(reduce_cycle(SET_UP, readings).pairs) == 1


def test_no_readings_come_to_nothing() -> None:
    assert reduce_cycle(SET_UP, []).points == ()


def test_hysteresis_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="pairs is empty"):
        hysteresis([])
    with pytest.raises(ValueError, match="loading_lbf is 0 in every pair"):
        hysteresis([BranchPair(1, 1.0, 0.0, 0.0)])
