from __future__ import annotations

from datetime import date, datetime, time
from typing import Any

import pytest

from fleet.models import HourReading
from fleet.models.measured_fields import measured_field
from fleet.numbers import Decimals
from inspections.models import Inspection
from inspections.sheets.grid import Formula
from inspections.sheets.meanings import BY_SORT, Sort, mark_key, pad_of
from inspections.sheets.values import (
    DayOrder,
    Setting,
    Unclear,
    may_be_swapped,
    named_pads_words,
    order_among,
    read_condition,
    read_day,
    read_kind,
    read_measured,
    read_sound,
    read_time,
    read_unsound,
    refuse_formula,
    says_nothing,
)
from ratings.models import Listing

TRAVEL = measured_field(Inspection, "travel_in")
HOURS = measured_field(HourReading, "hours")
PULL = measured_field(Listing, "listed_lbf")


@pytest.mark.parametrize(
    ("given", "inches"),
    [
        ("8 3/4", 8.75),
        ("8-3/4", 8.75),
        ('9"', 9.0),
        ("8.75 in", 8.75),
        ("8,75", 8.75),
        ("222.25 mm", 8.75),
        ("22.225cm", 8.75),
        ("1'-6\"", 18.0),
        ("1' 6 1/2\"", 18.5),
        ("2 ft", 24.0),
        (8.75, 8.75),
        (9, 9.0),
    ],
)
def test_a_travel_is_understood_as_it_is_written(given: Any, inches: float) -> None:
    assert float(read_measured(given, TRAVEL, Setting()).text) == pytest.approx(inches)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ("8'-6\"", "comes to 102 in: give 0.1 to 36 in"),
        ("222", "comes to 222 in"),
        ("8 9/4", "is no fraction of a tape"),
        ("8 3/7", "is no fraction of a tape"),
        ("about 8", "is not a number"),
        ("8 psi", "is in psi, which is no unit of this"),
        (datetime(2026, 3, 4), "may have taken a fraction for one"),
    ],
)
def test_a_travel_that_is_none_is_asked_about(given: Any, words: str) -> None:
    with pytest.raises(Unclear, match=words):
        read_measured(given, TRAVEL, Setting(Decimals.EITHER))


def test_a_unit_over_the_column_holds_where_the_cell_has_none() -> None:
    setting = Setting(unit="mm")
    assert float(read_measured(203.2, TRAVEL, setting).text) == pytest.approx(8.0)
    assert float(read_measured('8"', TRAVEL, setting).text) == pytest.approx(8.0)


def test_a_column_in_a_unit_of_something_else_is_asked_about() -> None:
    with pytest.raises(Unclear, match="is in kg, which is no unit of this: give in"):
        read_measured(8, TRAVEL, Setting(unit="kg"))


# A US ton-force is 2,000 lbf; 1 kN is 224.809 lbf (NIST SP 811, table of factors).
@pytest.mark.parametrize(
    ("given", "lbf"), [("60 tons", 120_000), ("120 kips", 120_000), ("500 kN", 112_404.47)]
)
def test_a_listed_pull_is_understood_in_its_unit(given: str, lbf: float) -> None:
    assert float(read_measured(given, PULL, Setting()).text) == pytest.approx(lbf, rel=1e-6)


@pytest.mark.parametrize(
    ("given", "hours"), [("1,234,567.5", 0), ("1,200.5", 1200.5), ("4 812 h", 0), ("812 hrs", 812)]
)
def test_hours_follow_the_one_rule_of_numbers(given: str, hours: float) -> None:
    if hours:
        assert float(read_measured(given, HOURS, Setting()).text) == hours
    else:
        with pytest.raises(Unclear):
            read_measured(given, HOURS, Setting())


@pytest.mark.parametrize(
    "given",
    [
        "2026-03-14",
        "14 Mar 2026",
        "14-Mar-26",
        "March 14, 2026",
        "Sat, 14 March 2026",
        "3/14/26",
        "14.3.2026",
        "14/03/2026",
        46095,
        "46095",
        datetime(2026, 3, 14),
    ],
)
def test_a_day_is_understood_as_it_is_written(given: Any) -> None:
    assert read_day(given, Setting()) == (date(2026, 3, 14), None)


def test_a_day_may_bring_its_time() -> None:
    assert read_day("3/14/2026 2:30 pm", Setting()) == (date(2026, 3, 14), time(14, 30))
    assert read_day(46095.25, Setting()) == (date(2026, 3, 14), time(6, 0))


def test_a_day_that_is_two_is_asked_about_until_its_order_is_known() -> None:
    with pytest.raises(Unclear, match="say whether day or month stands first"):
        read_day("3/12/26", Setting())
    assert read_day("3/12/26", Setting(order=DayOrder.MONTH))[0] == date(2026, 3, 12)
    assert read_day("3/12/26", Setting(order=DayOrder.DAY))[0] == date(2026, 12, 3)


@pytest.mark.parametrize("given", ["31/31/26", "2026-13-40", "soon", 3, "3/14/1890", 9999999])
def test_what_is_no_day_is_asked_about(given: Any) -> None:
    with pytest.raises(Unclear):
        read_day(given, Setting())


def test_one_row_tells_what_stands_first_in_all() -> None:
    assert order_among(["3/12/26", "3/14/26"]) == (DayOrder.MONTH, ["3/12/26"])
    assert order_among(["3/12/26", "4/12/26"])[0] is DayOrder.UNKNOWN
    assert order_among(["14/3/26", "3/14/26", "1/2/26"])[0] is DayOrder.UNKNOWN


def test_days_that_a_spreadsheet_may_have_swapped_are_noticed() -> None:
    assert may_be_swapped([datetime(2026, 3, 12), "14/3/26"])
    assert not may_be_swapped([datetime(2026, 3, 14), "14/3/26"])
    assert not may_be_swapped([datetime(2026, 3, 12), "3/14/26"])


@pytest.mark.parametrize(
    ("given", "read"),
    [
        ("good", "sound"),
        ("OK", "sound"),
        ("gut", "sound"),
        ("✓", "sound"),
        ("x", "sound"),
        ("Split", "cracked"),
        ("torn", "cracked"),
        ("GONE", "missing"),
        ("bulged", "swollen"),
        ("loose", "debonded"),
    ],
)
def test_a_condition_is_understood_in_the_words_of_yards(given: str, read: str) -> None:
    assert read_condition(given, Setting()).text == read


def test_a_cross_is_asked_about_where_it_may_strike_out() -> None:
    with pytest.raises(Unclear, match="may tick a pad or strike it out"):
        read_condition("x", Setting(crosses_tick=False))


def test_a_sentence_about_a_pad_is_asked_about_with_its_likely_condition() -> None:
    with pytest.raises(Unclear) as unclear:
        read_condition("small split at edge", Setting())
    assert unclear.value.likely == "cracked"


def test_not_ok_is_never_taken_for_ok() -> None:
    for given in ("not ok", "not good", "no", "ok?", "bad"):
        with pytest.raises(Unclear):
            read_condition(given, Setting())


@pytest.mark.parametrize(
    ("given", "read"),
    [("Annual", "yearly"), ("Pre-shift", "each shift"), ("Oil change", "oil change")],
)
def test_a_kind_is_understood(given: str, read: str) -> None:
    assert read_kind(given, Setting(own_kinds=frozenset({"oil change"}))).text == read


@pytest.mark.parametrize(
    ("given", "read"),
    [("8 of 8", (8, 8)), ("7/8", (7, 8)), (8, (8, None)), ("all good", (None, None))],
)
def test_a_number_of_pads_is_understood(given: Any, read: tuple[int, int]) -> None:
    assert read_sound(given) == read


@pytest.mark.parametrize("given", ["good", "OK", "✓", "Fine"])
def test_pads_called_good_are_no_count_and_all_sound_is_proposed(given: str) -> None:
    with pytest.raises(Unclear, match="counts no pads") as unclear:
        read_sound(given)
    assert unclear.value.likely == "all"


@pytest.mark.parametrize(
    ("given", "read"),
    [
        ("A3 cracked", "A3 cracked"),
        ("Pad A3: split", "A3 cracked"),
        ("B1, B2 missing", "B1 missing, B2 missing"),
        ("right 2 gone; left 3 (torn)", "A3 cracked, B2 missing"),
        ("A3 cracked and B1 loose", "A3 cracked, B1 debonded"),
    ],
)
def test_pads_named_as_bad_are_understood(given: str, read: str) -> None:
    assert named_pads_words(read_unsound(given)) == read


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ("A3", "does not say what was wrong with A3"),
        ("A3 cracked, B1", "does not say what was wrong with B1"),
        ("2", "names no pad"),
        ("cracked", "names no pad"),
        ("A3 cracked, A3 missing", "names A3 twice"),
        ("A3 x", "may tick a pad or strike it out"),
        ("A3 cracked?", "was not certain"),
    ],
)
def test_pads_that_may_be_bad_in_more_ways_than_one_are_asked_about(given: str, words: str) -> None:
    with pytest.raises(Unclear, match=words):
        read_unsound(given)


@pytest.mark.parametrize("given", ["none", " Nil"])
def test_none_among_sound_pads_is_asked_about(given: str) -> None:
    assert not says_nothing(BY_SORT[Sort.INSPECTIONS]["sound"], given)
    with pytest.raises(Unclear, match="no pad was sound, or that nobody counted"):
        read_sound(given)
    assert says_nothing(BY_SORT[Sort.INSPECTIONS]["sound"], "n/a")


def test_a_number_of_pads_that_became_a_day_is_asked_about() -> None:
    with pytest.raises(Unclear, match="may have taken “7/8” for one"):
        read_sound(datetime(2026, 7, 8))


@pytest.mark.parametrize("given", ["25:00", "half past", "13 pm", 7, "9"])
def test_what_is_no_time_of_day_is_asked_about(given: Any) -> None:
    with pytest.raises(Unclear):
        read_time(given, Setting())


def test_a_formula_never_calculated_is_asked_about() -> None:
    with pytest.raises(Unclear, match="never calculated"):
        refuse_formula(Formula("=A1+1"))


def test_marks_written_loosely_are_one() -> None:
    assert {mark_key(mark) for mark in ("H 12", "h-12", "H12", "H.12", "H-012")} == {"H12"}
    assert mark_key("H-12") != mark_key("H-120")
    assert mark_key("H-102") != mark_key("H-12")


@pytest.mark.parametrize(
    ("given", "pad"),
    [("A3", ("A", 3)), ("Left 3", ("A", 3)), ("Pad R-2", ("B", 2)), ("Side B 4", ("B", 4))],
)
def test_a_pad_is_understood_by_its_side_and_number(given: str, pad: tuple[str, int]) -> None:
    assert pad_of(given) == pad
    assert pad_of("Hours") is None
