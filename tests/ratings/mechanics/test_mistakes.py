from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratings.mechanics.bench import (
    BenchSetUp,
    Branch,
    Cycle,
    CycleReading,
    Cylinder,
    reduce_cycle,
)
from ratings.mechanics.load_curve import CurveDoubt, MonotoneCurve, monotone_curve
from ratings.mechanics.mistakes import (
    Care,
    TestedCurve,
    are_columns_swapped,
    bore_changed,
    cold_rubber,
    difference,
    disagreement,
    is_at_a_mark,
    is_tape_in_centimetres,
    lacks,
    reading_mistakes,
)
from ratings.mechanics.remarks import Remark
from ratings.mechanics.shortcuts import Shortcut
from ratings.remarks import remark_words

# A ring of 10 in², so that 100 psi on one pad are 1,000 lbf.
CYLINDER = Cylinder(math.sqrt(48.0 / math.pi), math.sqrt(8.0 / math.pi))
SET_UP = BenchSetUp(CYLINDER, "rod", 1, tape_datum_in=10.0)
RISING = [CycleReading(10.0 + x, 100.0 * x) for x in (1.0, 2.0, 3.0, 4.0)]
BOTH = [*RISING, *(CycleReading(r.tape_in, r.gauge_psi - 5, 1, Branch.UNLOADING) for r in RISING)]


def care(**more: Any) -> Care:
    given: dict[str, Any] = {
        "conditioning_cycles": 3,
        "conditioning_needed": 3,
        "rubber_temperature_f": 68.0,
        "coldest_f": 40.0,
        "warmest_f": 100.0,
        "marked_pads": 1,
    }
    return Care(**given | more)


def words_of(shortcut: Shortcut, readings: list[CycleReading] = BOTH, **more: Any) -> str:
    set_up = more.pop("set_up", SET_UP)
    [lack] = lacks([shortcut], set_up, reduce_cycle(set_up, readings), care(**more))
    assert lack.shortcut is shortcut
    return lack.words


def in_us(remark: Remark | None) -> str | None:
    return None if remark is None else remark_words(remark, "us")


def mistakes(
    readings: list[CycleReading] = RISING, set_up: BenchSetUp = SET_UP, system: str = "us"
) -> list[str]:
    cycle = reduce_cycle(set_up, readings)
    found = reading_mistakes(
        set_up, readings, cycle, gauge_resolution_psi=5.0, tape_resolution_in=0.0625
    )
    return [remark_words(each, system) for each in found]


def test_a_test_made_with_care_shows_no_mistake() -> None:
    assert mistakes(BOTH) == []
    assert cold_rubber(care()) is None


def test_a_shortcut_is_told_with_what_it_leaves_unknown() -> None:
    assert "Read on loading alone" in words_of(Shortcut.LOADING_ONLY)
    assert "not stretched before" in words_of(Shortcut.NOT_CONDITIONED, conditioning_cycles=0)
    twice = words_of(Shortcut.NOT_CONDITIONED, conditioning_cycles=2, conditioning_needed=4)
    assert "stretched twice before" in twice
    assert "Stretch them 4 times" in twice
    assert "was not read" in words_of(Shortcut.TEMPERATURE_UNKNOWN, rubber_temperature_f=None)


def test_a_reading_at_rest_is_no_stretch_more() -> None:
    read = [CycleReading(10.0, 0.0), *RISING[:2]]
    assert "Read at 2 stretches only" in words_of(Shortcut.FEW_STRETCHES, read)


@pytest.mark.parametrize(
    ("pads", "marked", "said"),
    [
        (1, 0, "The pad has no mark"),
        (2, 1, "1 of 2 pads has no mark on record: nothing tells it"),
        (3, 0, "3 of 3 pads have no mark on record: nothing tells them"),
    ],
)
def test_pads_without_a_mark_are_counted(pads: int, marked: int, said: str) -> None:
    several = BenchSetUp(CYLINDER, "rod", pads, tape_datum_in=10.0)
    assert said in words_of(Shortcut.UNMARKED_PADS, set_up=several, marked_pads=marked)


def test_tape_and_gauge_typed_in_each_other_s_place() -> None:
    swapped = [CycleReading(each.gauge_psi, each.tape_in) for each in RISING]
    assert are_columns_swapped(SET_UP, swapped)
    assert any("look swapped" in words for words in mistakes(swapped))
    # In mm and kPa, as they are stored.
    in_si = [
        CycleReading(each.gauge_psi * 6.894757 / 25.4, each.tape_in * 25.4 / 6.894757)
        for each in RISING
    ]
    assert are_columns_swapped(SET_UP, in_si)


@given(
    st.floats(0.0, 60.0),
    st.floats(0.1, 6.0),
    st.integers(2, 9),
    st.floats(1.0, 900.0),
)
def test_readings_of_any_pad_on_any_stand_do_not_look_swapped(
    datum_in: float, step_in: float, many: int, psi_per_in: float
) -> None:
    set_up = BenchSetUp(CYLINDER, "rod", 1, datum_in)
    stretches = [step_in * place for place in range(1, many + 1) if step_in * place <= 36.0]
    read = [CycleReading(datum_in + x, psi_per_in * x) for x in stretches]
    assert not are_columns_swapped(set_up, read)


def in_centimetres(readings: list[CycleReading]) -> Cycle:
    typed = [CycleReading(each.tape_in * 2.54, each.gauge_psi) for each in readings]
    return reduce_cycle(SET_UP, typed)


def test_a_tape_read_in_centimetres_from_a_datum_in_inches() -> None:
    assert is_tape_in_centimetres(SET_UP, in_centimetres(RISING))
    assert not is_tape_in_centimetres(SET_UP, reduce_cycle(SET_UP, RISING))
    # Two readings lie on some line whatever they were read in.
    assert not is_tape_in_centimetres(SET_UP, in_centimetres(RISING[:2]))


def test_a_bent_lot_does_not_look_read_in_centimetres() -> None:
    bent = [CycleReading(10.0 + x, 100.0 * x + 30.0 * x * x) for x in (1.0, 2.0, 3.0, 4.0)]
    assert not is_tape_in_centimetres(SET_UP, reduce_cycle(SET_UP, bent))


def test_a_rod_end_without_a_rod() -> None:
    bare = BenchSetUp(Cylinder(4.0), "rod", 1, 10.0)
    assert any("the stand’s rod is 0 in" in words for words in mistakes(set_up=bare))
    assert mistakes(set_up=BenchSetUp(Cylinder(4.0), "blind", 1, 10.0)) == []


@pytest.mark.parametrize(
    ("at_rest_psi", "is_told"), [(0.0, False), (5.0, False), (10.0, True), (40.0, True)]
)
def test_a_gauge_that_shows_load_at_rest(at_rest_psi: float, is_told: bool) -> None:
    found = mistakes([CycleReading(10.0, at_rest_psi), *RISING])
    assert any("With the tape at rest" in words for words in found) == is_told


@pytest.mark.parametrize(
    ("value", "resolution", "typed_within", "is_at_one"),
    [
        (12.0625, 0.0625, 0.0051, True),
        (12.06, 0.0625, 0.0051, True),
        (12.44, 0.0625, 0.0051, True),
        (12.1, 0.0625, 0.0051, False),
        (12.03, 0.0625, 0.0051, False),
        (415.0, 5.0, 0.0, True),
        (416.0, 5.0, 0.0, False),
        (79.58, 1.0, 0.0, False),
        # 28 bar by tenths, as it is converted and typed.
        (406.106, 1.45037738, 0.0, True),
        (406.2, 0.0, 0.0, True),
    ],
)
def test_a_reading_between_two_marks(
    value: float, resolution: float, typed_within: float, is_at_one: bool
) -> None:
    assert is_at_a_mark(value, resolution, typed_within) == is_at_one


@given(st.integers(0, 4000), st.sampled_from([0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 1.45037738]))
def test_a_reading_at_a_mark_is_at_one(marks: int, resolution: float) -> None:
    assert is_at_a_mark(float(f"{marks * resolution:.6g}"), resolution)


@given(st.integers(0, 64 * 40), st.sampled_from([1 / 64, 1 / 32, 1 / 16, 1 / 8, 1 / 25.4]))
def test_a_tape_s_mark_typed_with_two_decimals_is_at_one(marks: int, resolution: float) -> None:
    assert is_at_a_mark(round(marks * resolution, 2), resolution, 0.0051)


def test_readings_finer_than_their_instrument_are_asked_about() -> None:
    found = mistakes([CycleReading(11.02, 101.3), CycleReading(12.0, 203.1), RISING[3]])
    assert any("Finer than the gauge is read: 101.3 psi and 1 more lie" in each for each in found)
    assert any("Finer than the tape is read: 11.02 in lies" in each for each in found)


def test_a_reader_in_si_is_told_what_was_read_there_as_it_was_typed() -> None:
    # 280.4 mm and 700 kPa, as they are stored.
    read = CycleReading(280.4 / 25.4, 700.0 * 0.1450377377)
    found = mistakes([read, CycleReading(12.0, 205.0), RISING[3]], system="si")
    assert any("gauge is read: 700 kPa lies between marks of 34.4738 kPa" in e for e in found)
    assert any("tape is read: 280.4 mm lies between marks of 1.5875 mm" in e for e in found)


@pytest.mark.parametrize(
    ("read_f", "said"),
    [
        (39.0, "at 39 °F, colder than the 40 °F of the yard’s policy: it is stiffer"),
        (101.0, "at 101 °F, warmer than the 100 °F of the yard’s policy: it is softer"),
        (20.0, "Read in °C and typed as °F it would be 68 °F"),
    ],
)
def test_rubber_colder_or_warmer_than_the_policy_has_it(read_f: float, said: str) -> None:
    words = in_us(cold_rubber(care(rubber_temperature_f=read_f)))
    assert words is not None
    assert said in words


@pytest.mark.parametrize("read_f", [None, 40.0, 100.0])
def test_rubber_the_policy_allows_is_not_remarked_on(read_f: float | None) -> None:
    assert cold_rubber(care(rubber_temperature_f=read_f)) is None


# Two tests of one lot


def curve(rate_lbf_in: float, to_in: float = 4.0, doubt_lbf: float = 40.0) -> MonotoneCurve:
    stretches = [to_in / 4 * each for each in (1, 2, 3, 4)]
    found = monotone_curve(stretches, [rate_lbf_in * x for x in stretches])
    return MonotoneCurve(found.knots, CurveDoubt(force_lbf=doubt_lbf))


def found_by(rate_lbf_in: float, *marks: str, pads: int = 1, **more: Any) -> TestedCurve:
    return TestedCurve("bench test 3", curve(rate_lbf_in, **more), pads, frozenset(marks))


def test_a_difference_worked_by_hand() -> None:
    found = difference(found_by(1080.0), found_by(1000.0, to_in=3.0), 5.0)
    assert found is not None
    # At 3 in: 3,240 against 3,000 lbf, each ± 80.
    assert found.stretch_in == 3.0
    assert found.difference_pct == pytest.approx(8.0)
    assert found.within_pct == pytest.approx(100 * math.hypot(80, 80) / 3000)
    assert found.e_n == pytest.approx(240 / math.hypot(80, 80))
    assert found.pads_within_pct == pytest.approx(math.hypot(found.within_pct, 10.0, 10.0))


def test_tests_that_agree_are_not_remarked_on() -> None:
    assert disagreement(found_by(1020.0), [found_by(1000.0)], SET_UP, 5.0) is None
    assert disagreement(found_by(1020.0), [], SET_UP, 5.0) is None


def test_a_bent_lot_tested_less_far_agrees_with_itself() -> None:
    knots = monotone_curve([1.0, 2.0, 3.0, 4.0], [800.0, 1800.0, 3000.0, 4400.0])
    short = monotone_curve([1.0, 2.0], [800.0, 1800.0])
    doubt = CurveDoubt(force_lbf=10.0)
    one, other = (
        TestedCurve("bench test 3", MonotoneCurve(each.knots, doubt), 1) for each in (knots, short)
    )
    assert disagreement(one, [other], SET_UP, 5.0) is None


@pytest.mark.parametrize(
    ("rate_lbf_in", "set_up", "said"),
    [
        (
            1000.0 * (5.31 / 5.13) ** 2,
            BenchSetUp(Cylinder(5.31), "blind", 1, 10.0),
            "a bore of 5.13 in, not 5.31 in",
        ),
        (2000.0, SET_UP, "2 pads in test, not 1"),
        (1000.0 / 2.54, SET_UP, "tape read in cm, not inches"),
        # The ring is 10 in² of a bore of 12.
        (1000.0 * 10 / 12, SET_UP, "pressure on the blind end"),
        (1000.0 / 0.1450377, SET_UP, "gauge read in kPa"),
        (1000.0 / 14.50377, SET_UP, "gauge read in bar"),
    ],
)
def test_a_mistake_that_explains_a_disagreement_is_named(
    rate_lbf_in: float, set_up: BenchSetUp, said: str
) -> None:
    words = in_us(disagreement(found_by(rate_lbf_in), [found_by(1000.0)], set_up, 5.0))
    assert words is not None
    assert f"{abs(rate_lbf_in / 1000 - 1) * 100:.1f} %" in words
    assert said in words


def test_pads_that_differ_no_more_than_pads_do_are_told_apart_from_a_mistake() -> None:
    within = in_us(disagreement(found_by(1080.0), [found_by(1000.0)], SET_UP, 5.0))
    beyond = in_us(disagreement(found_by(1080.0), [found_by(1000.0)], SET_UP, 1.0))
    same = in_us(disagreement(found_by(1080.0, "k7"), [found_by(1000.0, "k7")], SET_UP, 5.0))
    assert within is not None
    assert "Pads may differ by so much" in within
    assert beyond is not None
    assert "Pads of a lot do not differ so" in beyond
    assert same is not None
    assert "They are the same pads" in same


def test_it_is_told_of_the_test_that_disagrees_most_and_of_how_many() -> None:
    others = [found_by(1000.0), found_by(1070.0), found_by(900.0)]
    words = in_us(disagreement(found_by(1080.0), others, SET_UP, 5.0))
    assert words is not None
    assert "20.0 % more" in words
    assert "It disagrees with 2 of the lot’s 3 other tests" in words


def test_a_stand_whose_bore_is_another_than_in_the_test_before() -> None:
    now = BenchSetUp(Cylinder(5.31), "blind", 1, 10.0)
    then = BenchSetUp(Cylinder(5.13), "blind", 1, 10.0)
    words = in_us(bore_changed(now, then, "bench test 3"))
    assert words is not None
    assert "bore 5.31 in, 5.13 in then" in words
    assert "7.1 % more" in words
    assert bore_changed(now, now, "bench test 3") is None
