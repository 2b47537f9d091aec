"""A comma is taken where it can mean one thing, and asked about where it reads two ways."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from fleet.fields import MeasuredField, NumberField
from fleet.numbers import Decimals, NotANumber, decimals_among, read_number
from fleet.quantities import Quantity


def trouble(text: str, decimals: Decimals = Decimals.POINT, **bounds: Any) -> str:
    with pytest.raises(NotANumber) as refused:
        read_number(text, "5.5", decimals=decimals, **bounds)
    return str(refused.value)


# The phone's script reads by the same table: tests/browser/test_field_linepull.py.
CASES = json.loads(Path("tests/cases/numbers.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["text"].strip())
def test_each_case_that_the_phone_reads_too_is_read_here_alike(case: dict[str, Any]) -> None:
    bounds: dict[str, Any] = {name: case[name] for name in ("least", "most") if name in case}
    bounds["near"] = lambda: [case["near"]] if "near" in case else []
    if "words" in case:
        assert trouble(case["text"], **bounds) == case["words"]
    else:
        assert read_number(case["text"], "5.5", **bounds) == case["number"]


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("12.5", 12.5),
        (" .5 ", 0.5),
        ("5.", 5.0),
        ("1e3", 1000.0),
        ("\u22123", -3.0),
        ("1.234", 1.234),
        ("120,000", 120_000.0),
        ("1,234,567", 1_234_567.0),
        ("120,000.5", 120_000.5),
        ("-1,234.5", -1234.5),
        ("12,5", 12.5),
        ("45,50", 45.5),
        ("0,500", 0.5),
        ("1.234,5", 1234.5),
    ],
)
def test_a_comma_or_point_that_can_mean_one_thing_is_taken(text: str, number: float) -> None:
    assert read_number(text, "5.5") == number


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1,234", "“1,234” reads two ways: write 1234 or 1.234, whichever it is"),
        ("1,23,456", "“1,23,456” has a comma that sets off no thousands: give one such as 5.5"),
        ("1234,567,890", "“1234,567,890” has a comma that sets off no thousands"),
        ("1,234.567,8", "has a comma that sets off no thousands"),
        ("1.234.567", "“1.234.567” is not a number"),
        ("1 234", "“1 234” is not a number: give one such as 5.5"),
        ("1\u00a0234", "is not a number"),
        ("1'234", "“1'234” is not a number"),
        ("", "“” is not a number"),
        (",", "has a comma that sets off no thousands"),
        ("1e999", "“1e999” is too large for any number here"),
        ("9" * 3 + ",999" * 200, "is too large for any number here"),
        ("٥", "“٥” is not a number"),
    ],
)
def test_all_else_is_asked_about_in_words_that_say_what_would_do(text: str, words: str) -> None:
    assert words in trouble(text)


def test_bounds_tell_thousands_from_decimals() -> None:
    assert read_number("1,234", "500", least=100, most=10_000) == 1234.0
    assert read_number("5,500", "5", least=0, most=24) == 5.5
    assert read_number("12,000", "5", least=0, most=24) == 12.0


@pytest.mark.parametrize(
    ("text", "most"), [("600,000", 500_000), ("25,500", 20_000), ("12,000", 10_000)]
)
def test_thousands_a_little_beyond_the_bounds_are_never_read_as_a_thousandth(
    text: str, most: float
) -> None:
    with pytest.raises(NotANumber, match="reads two ways"):
        read_number(text, "500", least=0, most=most)


def test_where_only_whole_numbers_will_do_a_comma_sets_off_thousands() -> None:
    assert read_number("1,234", "5", least=0, most=100_000, whole=True) == 1234.0


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("12,5", 12.5),
        (",5", 0.5),
        ("1.234,5", 1234.5),
        ("1,234.5", 1234.5),
        ("1,234,567", 1_234_567.0),
        ("0,500", 0.5),
        ("1.234", 1.234),
    ],
)
def test_a_table_without_commas_between_its_cells_may_have_decimal_commas(
    text: str, number: float
) -> None:
    assert read_number(text, "5.5", decimals=Decimals.EITHER) == number


def test_three_digits_in_a_table_are_decimals_where_the_thousands_could_not_be() -> None:
    number = read_number("12,500", "5.5", least=0, most=1200, decimals=Decimals.EITHER)
    assert number == 12.5


@pytest.mark.parametrize("text", ["1,234", "1.234", "120,000"])
def test_beside_decimal_commas_three_digits_read_two_ways(text: str) -> None:
    assert "reads two ways" in trouble(text, Decimals.COMMA)


@given(
    st.floats(0.001, 999_999).map(lambda value: f"{value:,.3f}"),
    st.booleans(),
    st.sampled_from([Decimals.EITHER, Decimals.COMMA]),
)
def test_what_is_proposed_for_a_number_that_reads_two_ways_reads_one_way(
    text: str, is_continental: bool, decimals: Decimals
) -> None:
    written = text.translate(str.maketrans(",.", ".,")) if is_continental else text
    try:
        read_number(written, "5.5", decimals=decimals)
    except NotANumber as refused:
        first, _, second = str(refused).split("write ")[1].split(",")[0].partition(" or ")
        one, other = (read_number(each, "5.5", decimals=decimals) for each in (first, second))
        assert {one, other} == {float(first), float(second)}
        assert max(one, other) == pytest.approx(min(one, other) * 1000)


@pytest.mark.parametrize(
    ("cells", "decimals"),
    [
        (["1.5", "1,5"], Decimals.COMMA),
        (["1.234,5"], Decimals.COMMA),
        (["1,234", "1,234.5", "text, with a comma"], Decimals.EITHER),
        ([], Decimals.EITHER),
    ],
)
def test_one_certain_decimal_comma_tells_of_a_whole_table(
    cells: list[str], decimals: Decimals
) -> None:
    assert decimals_among(cells, Decimals.EITHER) is decimals
    assert decimals_among(cells, Decimals.POINT) is Decimals.POINT


def test_a_form_field_reads_commas_by_its_bounds_in_the_readers_units() -> None:
    travel = MeasuredField(Quantity.LENGTH, least=0.1, most=24, example="5.5")
    assert travel.clean("5,500") == 5.5
    force = MeasuredField(Quantity.FORCE, least=0, most=5_000_000, example="250000")
    assert force.clean("120,000") == 120_000.0
    with pytest.raises(ValidationError, match=r"write 120500 or 120\.5, whichever it is"):
        force.clean("120,500")
    assert NumberField(least=0, most=100_000, whole=True).clean("1,234") == 1234


@pytest.mark.parametrize(
    ("system", "text", "pounds"),
    [
        ("us", "60 tons", 120_000.0),
        ("us", "60,5 US tons", 121_000.0),
        ("us", "120 kip", 120_000.0),
        ("us", "120,000 lbf.", 120_000.0),
        ("us", "1.234,5 lb", 1234.5),
        ("us", "100 kN", 22_480.894),
        ("si", "60 tonnes", 132_277.357),
        ("si", "60 US tons", 120_000.0),
        ("si", "120000 lbf", 120_000.0),
        ("si", "100", 22_480.894),
    ],
)
def test_a_unit_behind_a_figure_is_understood(system: str, text: str, pounds: float) -> None:
    assert force(system).clean(text) == pytest.approx(pounds, rel=1e-6)


@pytest.mark.parametrize(
    ("system", "text", "said"),
    [
        ("us", "60 bananas", "A unit may stand behind it: lbf, kip, US tons, kN, tonnes."),
        ("us", "tons", "“tons” is not a number: give one such as 250000"),
        ("us", "60 tons 5", "is not a number"),
        ("us", "9000 tons", "“9000 tons” won’t do: give 0 lbf or more, up to 5,000,000 lbf."),
        ("si", "60 tons", "reads two ways: write “US tons” or “tonnes” behind it"),
    ],
)
def test_a_unit_that_is_not_understood_is_answered_with_what_would_do(
    system: str, text: str, said: str
) -> None:
    with pytest.raises(ValidationError) as refused:
        force(system).clean(text)
    assert said in refused.value.messages[0]


def force(system: str) -> MeasuredField:
    field = MeasuredField(Quantity.FORCE, least=0, most=5_000_000, example="250000")
    field.system = system
    return field


@pytest.mark.parametrize(
    ("system", "text", "inches"),
    [("us", "140 mm", 5.512), ("si", "5 1/2 in", 5.5), ("si", "14 cm", 5.512), ("us", "1 ft", 12)],
)
def test_a_length_with_a_unit_of_the_other_system_is_turned_into_inches(
    system: str, text: str, inches: float
) -> None:
    field = MeasuredField(Quantity.LENGTH, least=0.1, most=24, example="5.5")
    field.system = system
    assert field.clean(text) == pytest.approx(inches, abs=1e-3)
