"""From a lot's tests to what units are rated by."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from ratings.mechanics.bench import BenchSetUp, Branch, CycleReading, Cylinder
from ratings.mechanics.budget import Instruments, mean_scatter_freedom
from ratings.mechanics.lot_agreement import Counts
from ratings.mechanics.lot_rate import (
    Decision,
    PoolTest,
    lot_pool,
    lot_rate_if_marked,
    lot_rate_of,
    pool_test,
)
from ratings.mechanics.shortcuts import Shortcut
from ratings.mechanics.unit_rating import Policy

INSTRUMENTS = Instruments("2A", 2500.0, 10.0, 0.0625, None, 0.01)
STRETCHES = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0)
POLICY = Policy()


def made(
    name: str,
    day: float,
    rate_lbf_in: float = 1000.0,
    *,
    to_in: float = 6.0,
    bend: float = 0.0,
    branches: tuple[Branch, ...] = tuple(Branch),
    marks: tuple[str, ...] | None = None,
    stretches: tuple[float, ...] = STRETCHES,
    **more: Any,
) -> PoolTest:
    """A test of one pad, f = k·x·(1 + bend·x), read without scatter up to a stretch."""
    set_up = BenchSetUp(Cylinder(4.0), "blind", 1, 10.0)
    readings = [
        CycleReading(10.0 + x, rate_lbf_in * x * (1.0 + bend * x) / set_up.lbf_per_psi, 1, branch)
        for branch in branches
        for x in stretches
        if x <= to_in
    ]
    given: dict[str, Any] = {"conditioning_cycles": 3, "temperature_f": 68.0, "stand": "S"}
    return pool_test(
        set_up,
        INSTRUMENTS,
        readings,
        name=name,
        day=day,
        marks=(f"pad of {name}",) if marks is None else marks,
        **given | more,
    )


def test_one_careful_test_is_the_lot_s_rate() -> None:
    found = lot_rate_of("L", [made("1", 0.0)], POLICY)
    assert found.rate_lbf_in == pytest.approx(1000.0, rel=1e-12)
    assert found.pads_tested == pytest.approx(1.0, rel=1e-12)
    assert found.tested_stretch_in == 6.0
    assert [knot.stretch_in for knot in found.curve] == [0.0, *STRETCHES]
    assert (found.loading_only_share, found.not_conditioned_share) == (0.0, 0.0)
    assert found.temperature_unknown_share == 0.0
    assert (found.spread_lbf_in, found.conditions_pct) == (None, None)
    assert found.standard_error_lbf_in > 0.0
    assert found.degrees_of_freedom is None


def test_what_tests_left_out_counts_by_their_weight() -> None:
    quick = made(
        "2", 1.0, branches=(Branch.LOADING,), conditioning_cycles=0, temperature_f=None, marks=()
    )
    found = lot_rate_of("L", [made("1", 0.0), quick], POLICY)
    for share in (
        found.loading_only_share,
        found.not_conditioned_share,
        found.temperature_unknown_share,
    ):
        assert share == pytest.approx(0.5, abs=0.01)


def test_what_all_tests_left_out_counts_whole_however_their_weights_are_rounded() -> None:
    rates = (933.0, 914.0, 955.0, 922.0, 909.0, 956.0, 1029.0)
    quick = [
        made(str(day), float(day), rate, branches=(Branch.LOADING,))
        for day, rate in enumerate(rates)
    ]
    everything = Decision(Counts.ALL, frozenset(test.name for test in quick))
    assert math.fsum(lot_pool(quick, POLICY, decision=everything).pooled.weights) > 1.0
    found = lot_rate_of("L", quick, POLICY, decision=everything)
    assert found.loading_only_share == 1.0


def test_a_test_says_which_shortcuts_it_took() -> None:
    quick = made(
        "1",
        0.0,
        branches=(Branch.LOADING,),
        conditioning_cycles=2,
        temperature_f=None,
        marks=(),
        stretches=(3.0, 6.0),
    )
    assert quick.shortcuts(POLICY) == tuple(Shortcut)
    assert made("1", 0.0).shortcuts(POLICY) == ()
    assert quick.shortcuts(replace(POLICY, conditioning_cycles=2)) == (
        Shortcut.LOADING_ONLY,
        Shortcut.FEW_STRETCHES,
        Shortcut.TEMPERATURE_UNKNOWN,
        Shortcut.UNMARKED_PADS,
    )


def test_a_shortcut_the_policy_refuses_makes_a_test_rate_nothing() -> None:
    policy = replace(POLICY, refused_shortcuts=(Shortcut.LOADING_ONLY,))
    quick = made("2", 1.0, 900.0, branches=(Branch.LOADING,))
    found = lot_pool([made("1", 0.0), quick], policy)
    assert [test.name for test in found.tests] == ["1"]
    assert [(each.name, each.why) for each in found.left_out] == [
        ("2", "no unloading read: the policy lets no such test rate")
    ]
    with pytest.raises(ValueError, match="none in it that may rate"):
        lot_pool([quick], policy)


def test_tests_older_than_a_rate_holds_do_not_count() -> None:
    tests = [made("1", 0.0, 1000.0), made("2", 731.0, 990.0), made("3", 735.0, 1000.0)]
    found = lot_pool(tests, POLICY)
    assert [test.name for test in found.tests] == ["2", "3"]
    assert "older than the 730 days" in found.left_out[0].why
    # By the day of the rating, one more falls out; with none left the newest keep the figure.
    assert [t.name for t in lot_pool(tests, POLICY, at_day=1462.0).tests] == ["3"]
    assert [t.name for t in lot_pool(tests, POLICY, at_day=5000.0).tests] == ["2", "3"]


def test_a_retest_that_contradicts_renews_nothing() -> None:
    old = [made(str(place), place * 30.0, 1000.0 + place, marks=("A1",)) for place in range(3)]
    stiffer = made("9", 400.0, 1200.0, marks=("A1",))
    found = lot_pool([*old, stiffer], POLICY)
    assert found.agreement.is_open
    assert found.day == 60.0
    assert found.newest == ("9",)
    assert [each.name for each in found.left_out] == ["9"]


def test_a_decision_holds_while_it_is_about_these_very_tests() -> None:
    old = [made(str(place), place * 30.0, marks=("A1",)) for place in range(3)]
    stiffer = made("9", 400.0, 1200.0, marks=("A1",))
    word = Decision(Counts.NEWEST, frozenset({"0", "1", "2", "9"}))
    found = lot_pool([*old, stiffer], POLICY, decision=word)
    assert [test.name for test in found.tests] == ["9"]
    assert not found.agreement.is_open
    later = made("10", 500.0, 1205.0, marks=("A1",))
    assert lot_pool([*old, stiffer, later], POLICY, decision=word).agreement.is_open


def test_one_pad_in_five_tests_is_one_pad() -> None:
    same = [made(str(i), i * 1.0, 1000.0 + i, marks=("A1",)) for i in range(5)]
    assert lot_rate_of("L", same, POLICY).pads_tested == pytest.approx(1.0, rel=1e-9)
    unmarked = [replace(test, rate=replace(test.rate, marks=())) for test in same]
    found = lot_rate_of("L", unmarked, POLICY)
    assert found.pads_tested == pytest.approx(1.0, rel=1e-9)
    assert found.spread_lbf_in is None


def test_a_bent_lot_tested_less_far_once_is_no_lot_that_softened() -> None:
    # Stiffening rubber has 1,060 lbf/in over 2 in and more over 6: neither is a sign of change.
    far = made("1", 0.0, 1000.0, bend=0.03, marks=("A1",))
    near = made("2", 60.0, 1000.0, bend=0.03, to_in=2.0, marks=("A1",))
    assert near.rate.rate_lbf_in < 0.95 * far.rate.rate_lbf_in
    found = lot_pool([far, near], POLICY)
    assert len(found.tests) == 2
    assert found.rates[1].rate_lbf_in == pytest.approx(found.rates[0].rate_lbf_in, rel=1e-3)


def test_the_pooled_curve_has_no_step_where_a_softer_pad_was_tested_less_far() -> None:
    stiff, soft = made("1", 0.0, 1040.0), made("2", 1.0, 960.0, to_in=3.0)
    found = lot_pool([stiff, soft], POLICY)
    middle = math.fsum(
        w * rate for w, rate in zip(found.pooled.weights, (1040.0, 960.0), strict=True)
    )
    for x in (1.0, 3.0, 3.01, 4.0, 6.0):
        assert found.curve.force_lbf(x) == pytest.approx(middle * x, rel=1e-9)


def test_scatter_of_several_tests_is_that_of_their_mean() -> None:
    tests = [
        replace(
            each,
            curve=replace(each.curve, doubt=replace(each.curve.doubt, scatter_lbf=30.0)),
            scatter_degrees_of_freedom=4.0,
        )
        for each in (made("1", 0.0), made("2", 1.0), made("3", 2.0))
    ]
    found = lot_rate_of("L", tests, POLICY)
    assert found.curve_doubt.scatter_lbf == pytest.approx(30.0 / math.sqrt(3.0), rel=1e-6)
    # Three alike, by Welch–Satterthwaite: 3·4.
    assert found.scatter_degrees_of_freedom == pytest.approx(12.0, rel=1e-6)
    assert found.curve_doubt.share == tests[0].curve.doubt.share


def test_two_temperatures_narrow_the_conditions_of_use() -> None:
    # The same pad at 45 and 95 °F, 0.04 % per °F: from 70 to 40 or 100 that is 1.2 %.
    cold = made("1", 0.0, 1010.0, marks=("A1",), temperature_f=45.0)
    warm = made("2", 1.0, 990.0, marks=("A1",), temperature_f=95.0)
    found = lot_rate_of("L", [cold, warm], POLICY).conditions_pct
    assert found is not None
    assert 2.0 < found < POLICY.conditions_pct


@pytest.mark.parametrize(
    "second",
    [
        pytest.param({"temperature_f": 55.0}, id="too near"),
        pytest.param({"temperature_f": None}, id="not read"),
        pytest.param({"marks": ("A2",)}, id="another pad"),
        pytest.param({"marks": ()}, id="perhaps another pad"),
    ],
)
def test_else_the_policy_s_stand(second: dict[str, Any]) -> None:
    given: dict[str, Any] = {"temperature_f": 95.0, "marks": ("A1",)}
    cold = made("1", 0.0, 1010.0, marks=("A1",), temperature_f=45.0)
    warm = made("2", 1.0, 990.0, **given | second)
    assert lot_rate_of("L", [cold, warm], POLICY).conditions_pct is None


def test_the_freedom_of_a_scatter_seen_from_neighbours_is_that_of_its_variance() -> None:
    # Monte Carlo: var(s²)/mean(s²)² = 2/ν of 40,000 straight tests, seed fixed. Rest is exact, so
    # the first departure scatters less than the rule takes it to: within a tenth.
    draw = np.random.default_rng(4)
    x = np.array(STRETCHES)
    found = mean_scatter_freedom(list(x), list(1000.0 * x))
    noise = draw.normal(0.0, 1.0, (40_000, 6))
    with_rest = np.concatenate([np.zeros((40_000, 1)), noise], axis=1)
    departures = (with_rest[:, :-2] + with_rest[:, 2:]) / 2.0 - with_rest[:, 1:-1]
    squares = (departures**2).mean(axis=1)
    freedom = 2.0 * float(squares.mean()) ** 2 / float(squares.var())
    assert found == pytest.approx(freedom, rel=0.1)


def test_repeats_at_a_stretch_have_the_freedom_of_a_pooled_variance() -> None:
    assert mean_scatter_freedom([1.0, 1.0, 2.0, 2.0, 2.0], [1.0, 2.0, 3.0, 4.0, 5.0]) == 3.0
    assert mean_scatter_freedom([1.0], [100.0]) == math.inf


def test_pads_without_marks_tested_again_and_again_are_several_only_if_marked() -> None:
    tests = [made(str(day), float(day), 1000.0 + 10.0 * day, marks=()) for day in range(4)]
    found = lot_pool(tests, POLICY)
    assert lot_rate_of("L", tests, POLICY).pads_tested == pytest.approx(1.0, rel=1e-9)
    marked = lot_rate_if_marked("L", found, POLICY)
    assert marked is not None
    assert marked.pads_tested == pytest.approx(4.0, rel=1e-3)
    # 1,000 to 1,030: s² = (15² + 5² + 5² + 15²)/3.
    assert marked.spread_lbf_in == pytest.approx(math.sqrt(500.0 / 3.0), rel=1e-3)
    assert marked.spread_degrees_of_freedom == 3


def test_tests_whose_pads_all_bear_marks_have_nothing_to_gain_by_marks() -> None:
    assert lot_rate_if_marked("L", lot_pool([made("1", 0.0)], POLICY), POLICY) is None


def test_four_stretches_are_few_and_five_are_enough() -> None:
    four, five = (made("1", 0.0, stretches=STRETCHES[:many]) for many in (4, 5))
    assert four.shortcuts(POLICY) == (Shortcut.FEW_STRETCHES,)
    assert five.shortcuts(POLICY) == ()
