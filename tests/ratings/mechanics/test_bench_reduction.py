"""From tape and gauge to stretch and force of one pad."""

from __future__ import annotations

import math
from typing import Any

import pytest

from ratings.mechanics.bench import (
    BenchSetUp,
    CycleReading,
    Cylinder,
    ReadingError,
    are_in_order,
    reduce_cycle,
)

# A bore that makes 10 in² exactly enough to work by hand.
TEN_IN2 = Cylinder(math.sqrt(40.0 / math.pi))


def set_up(**changes: Any) -> BenchSetUp:
    usual: dict[str, Any] = {
        "cylinder": TEN_IN2,
        "end": "blind",
        "pads_in_test": 2,
        "tape_datum_in": 12.0,
        "gauge_zero_psi": 5.0,
    }
    return BenchSetUp(**(usual | changes))


def readings(*shown: tuple[float, float]) -> list[CycleReading]:
    return [CycleReading(tape, gauge) for tape, gauge in shown]


def test_a_reading_worked_by_hand() -> None:
    # (205 − 5)·10/2 = 1,000 lbf at 13 − 12 = 1 in.
    (reduced,) = reduce_cycle(set_up(), readings((13.0, 205.0))).readings
    assert reduced.stretch_in == 1.0
    assert reduced.force_lbf == pytest.approx(1_000.0, rel=1e-14)
    assert reduced.rate_lbf_in == pytest.approx(1_000.0, rel=1e-14)
    assert (reduced.tape_in, reduced.gauge_psi) == (13.0, 205.0)


def test_the_rod_end_pulls_with_the_ring() -> None:
    cylinder = Cylinder(5.0, 3.0)
    (reduced,) = reduce_cycle(
        set_up(cylinder=cylinder, end="rod"), readings((13.0, 105.0))
    ).readings
    assert reduced.force_lbf == pytest.approx(100.0 * 4.0 * math.pi / 2.0, rel=1e-14)


def test_twice_the_pads_halve_the_force_of_each() -> None:
    (two,) = reduce_cycle(set_up(), readings((13.0, 205.0))).readings
    (four,) = reduce_cycle(set_up(pads_in_test=4), readings((13.0, 205.0))).readings
    assert four.force_lbf == two.force_lbf / 2.0


def test_a_reading_at_rest_has_no_rate() -> None:
    (reduced,) = reduce_cycle(set_up(), readings((12.0, 5.0))).readings
    assert (reduced.stretch_in, reduced.force_lbf, reduced.rate_lbf_in) == (0.0, 0.0, None)


def test_a_tape_below_its_datum_is_refused_by_place_and_field() -> None:
    with pytest.raises(ReadingError, match=r"reading 2: tape 11\.9 in .* datum of 12 in") as caught:
        reduce_cycle(set_up(), readings((13.0, 205.0), (11.9, 300.0)))
    assert (caught.value.index, caught.value.field) == (1, "tape_in")


def test_a_gauge_below_its_zero_is_refused_by_place_and_field() -> None:
    with pytest.raises(ReadingError, match=r"reading 3: gauge 4 psi .* zero of 5 psi") as caught:
        reduce_cycle(set_up(), readings((13.0, 205.0), (14.0, 405.0), (12.0, 4.0)))
    assert (caught.value.index, caught.value.field) == (2, "gauge_psi")


def test_falling_pressure_is_refused_at_the_reading_where_it_fell() -> None:
    falling = readings((13.0, 205.0), (14.0, 405.0), (15.0, 390.0), (16.0, 600.0))
    with pytest.raises(
        ReadingError, match=r"reading 3: pressure falls from 405 psi to 390"
    ) as caught:
        reduce_cycle(set_up(), falling)
    assert (caught.value.index, caught.value.field) == (2, "gauge_psi")


def test_falling_pressure_is_named_by_its_place_in_the_list_given() -> None:
    # Sorted by tape the third would be the culprit; in the list given it's the first.
    falling = readings((15.0, 390.0), (14.0, 405.0), (13.0, 205.0))
    with pytest.raises(ReadingError, match=r"reading 1: pressure falls") as caught:
        reduce_cycle(set_up(), falling)
    assert caught.value.index == 0


def test_steady_pressure_is_accepted() -> None:
    reduced = reduce_cycle(set_up(), readings((13.0, 205.0), (14.0, 205.0))).readings
    assert [each.gauge_psi for each in reduced] == [205.0, 205.0]


def test_points_come_by_stretch_and_readings_as_they_were_given() -> None:
    cycle = reduce_cycle(set_up(), readings((15.0, 605.0), (13.0, 205.0), (14.0, 405.0)))
    assert [stretch_in for stretch_in, _ in cycle.points] == [1.0, 2.0, 3.0]
    assert [each.gauge_psi for each in cycle.readings] == [605.0, 205.0, 405.0]


def test_repeats_at_one_stretch_are_averaged_before_pressure_may_be_said_to_fall() -> None:
    # 14 in: 405 and 505, mean 455. 15 in: 500 lies below the higher, above the mean.
    shown = readings((13.0, 205.0), (14.0, 405.0), (14.0, 505.0), (15.0, 500.0))
    assert len(reduce_cycle(set_up(), shown).points) == 4


def test_a_mean_that_falls_is_refused() -> None:
    shown = readings((14.0, 405.0), (14.0, 505.0), (15.0, 450.0))
    with pytest.raises(ReadingError, match=r"reading 3: pressure falls from 455 psi to 450"):
        reduce_cycle(set_up(), shown)


def test_readings_are_in_order_while_the_tape_never_goes_back() -> None:
    assert are_in_order(readings((13.0, 205.0), (13.0, 210.0), (14.0, 405.0)))
    assert not are_in_order(readings((14.0, 405.0), (13.0, 205.0)))


def test_an_end_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match=r"end is 'top'"):
        set_up(end="top")
