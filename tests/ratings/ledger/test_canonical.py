from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from typing import Any

import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.journal.spelling import document_of
from ratings.ledger.canonical import canonical_text, is_canonical, is_same, time_text

SAFE = 2**53 - 1
SCALARS = (
    st.none()
    | st.booleans()
    | st.integers(-SAFE, SAFE)
    # Whole ones that read back as whole numbers no double holds are refused, not spelled.
    | st.floats(allow_nan=False, allow_infinity=False).filter(
        lambda each: abs(each) <= SAFE or abs(each) >= 1e21
    )
    # Whole, and near where a spelling changes from plain digits to an exponent.
    | st.integers(-(10**6), 10**6).map(float)
    | st.sampled_from([1e-7, 1e-6, -1.5e-6, 9.9e-5, 1e-4, 1e15, 1e21, 1e22, -0.0])
    | st.text()
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)
SPELLINGS: dict[str, Callable[[Any], str]] = {
    "RFC 8785": canonical_text,
    "Python's shortest": lambda value: json.dumps(
        value, sort_keys=True, separators=(",", ":"), ensure_ascii=False
    ),
    "the fast encoder's": lambda value: orjson.dumps(value, option=orjson.OPT_SORT_KEYS).decode(),
    "unsorted": lambda value: json.dumps(value, separators=(",", ":")),
    "with spaces": json.dumps,
}


@pytest.mark.parametrize("spelling", SPELLINGS)
@given(value=VALUES)
def test_a_text_is_canonical_just_where_the_library_spells_it_so(spelling: str, value: Any) -> None:
    text = SPELLINGS[spelling]({"": value})
    assert is_canonical(text, json.loads(text)) is (canonical_text(json.loads(text)) == text)


@pytest.mark.parametrize(
    ("text", "is_one"),
    [
        ('{"a":1,"b":2.5}', True),
        ('{"b":2.5,"a":1}', False),
        ('{"a": 1}', False),
        ('{"a":1.0}', False),
        ("1.0", False),
        ('{"a":1,"a":1}', False),
        ('{"a":0.00001}', True),
        ('{"a":1e-05}', False),
        ('{"a":1e-6}', False),
        ('{"a":0.000001}', True),
        ('{"a":[0,1.5e-6]}', False),
        ('{"a":-1.5e+16}', False),
        ('{"a":1e21}', False),
        ('{"a":[-1.5e21]}', False),
        ('{"a":1e+21}', True),
        ('{"a":1e-7}', True),
        ('{"a":1E21}', False),
        ('{"a":"1e-05, 2.0"}', True),
        ('{"a":"4e7"}', True),
        ('{"a":"\x7f/"}', True),
        ('{"a":"\\/"}', False),
        ('{"a":"\\u001F"}', False),
        ('{"a":"\\u001f"}', True),
        ('{"a":"\\u00e9"}', False),
        ('{"a":"é"}', True),
        ('{"\U0001f600":1,"\ufb33":2}', True),
        ('{"\ufb33":2,"\U0001f600":1}', False),
    ],
)
def test_texts_spelled_by_hand(text: str, is_one: bool) -> None:
    assert is_canonical(text, json.loads(text)) is is_one


@given(value=VALUES, other=VALUES)
def test_two_values_are_the_same_just_where_they_are_spelled_alike(value: Any, other: Any) -> None:
    assert is_same(value, json.loads(json.dumps(value)))
    assert is_same(value, other) is (canonical_text({"": value}) == canonical_text({"": other}))


def test_whole_numbers_of_two_types_are_the_same_and_truth_is_no_number() -> None:
    assert is_same([1], [1.0])
    assert not is_same([1], [True])
    assert not is_same({"a": 0}, {"a": None})


@pytest.mark.parametrize(
    "text",
    [
        '{"a":9007199254740993}',
        '{"a":-9007199254740993}',
        '{"a":[9007199254740993]}',
        '{"a":[1.5,12345678901234567890]}',
        '{"a":[1.5,-9234567890123456]}',
    ],
)
def test_a_whole_number_that_no_double_holds_has_no_spelling(text: str) -> None:
    with pytest.raises(ValueError, match="safe integer"):
        is_canonical(text, json.loads(text))


def test_what_is_no_number_in_json_has_no_spelling() -> None:
    with pytest.raises(ValueError, match="nan is not representable"):
        is_canonical('{"a":NaN}', {"a": float("nan")})


def test_half_a_letter_has_no_spelling() -> None:
    with pytest.raises(ValueError, match="non-UTF-8 codepoints"):
        is_canonical('{"a":"\\ud800"}', {"a": "\ud800"})


@given(at=st.datetimes(datetime(1950, 1, 1), datetime(2100, 1, 1), timezones=st.timezones()))
def test_a_moment_is_spelled_as_the_journal_spells_it(at: datetime) -> None:
    leaf = document_of("fleet.yard", "1", "added", None, at, None)
    assert time_text(at) == json.loads(leaf)["at"]
