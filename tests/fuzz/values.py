"""What a hurried, careless or hostile person or program puts where something else is asked for."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

NUMBERS = (
    "1e400",
    "-1e400",
    "NaN",
    "Infinity",
    "-inf",
    "-0",
    "0",
    "-1",
    "1e-320",
    "1e308",
    str(10**30),
    "9" * 5_000,
    str(2**31),
    str(2**63 - 1),
    str(2**63),
    str(-(2**63) - 1),
    "١٢",
    "１２",
    "²",
    "1,5",
    "1.234,5",
    "1_000",
    "0x10",
    "5 1/0",
    "1/3",
    "12 banana",
    "1000000000 tonnes",
)
DAYS = (
    "0001-01-01",
    "0001-01-01T00:00",
    "9999-12-31",
    "9999-12-31T23:59",
    "2026-02-31",
    "2026-02-31T25:61",
    "10000-01-01",
    "2026-03-29T02:30",
    "2026-13-01T00:00",
    "1969-12-31T23:59:59.999999999",
    "2026-01-01T00:00:00+14:00",
    "2026-01-01T00:00:00+99:99",
    "-2026-01-01",
    "31/02/2026",
)
TEXTS: tuple[str | bytes, ...] = (
    "",
    " ",
    "\u200b",
    "x" * 300,
    "x" * 50_000,
    "\0",
    "a\0b",
    "\x01\x07\x1b[31m",
    "\r\n\r\n",
    "\u202eright to left\u202c",
    "\u2066\ufeff",
    "e\u0301" * 200,
    "\ud800",
    "\U0001f3d7" * 60,
    b"\xff\xfe",
    b"\xc0\x80",
    b"\xed\xa0\x80",
    "<script>alert(1)</script>",
    "<!DOCTYPE html><html>",
    "=1+1",
    '=HYPERLINK("http://x")',
    "@SUM(A1)",
    "%s%n%(given)s{0}{x}",
    "{{ form }}{% load x %}",
    "' OR 1=1 --",
    "../../etc/passwd",
    "[]",
    "{",
    "[[1,2],{}]",
    "null",
    "on",
    "ſtraße",
    "İ",
)
KEYS = ("0", "1", "2", "7", "23", "999999", "generic:x", "x")
ANY: tuple[str | bytes, ...] = (*TEXTS, *NUMBERS, *DAYS, *KEYS)

values = st.one_of(
    st.sampled_from(TEXTS),
    st.sampled_from(NUMBERS),
    st.sampled_from(DAYS),
    st.sampled_from(KEYS),
    st.text(max_size=12),
    st.binary(min_size=1, max_size=6),
    st.integers(min_value=-(2**70), max_value=2**70).map(str),
    st.floats(allow_nan=False, allow_infinity=False).map(repr),
)
# In JSON a surrogate and what is no number have spellings of their own.
json_values: st.SearchStrategy[Any] = st.one_of(
    st.sampled_from([None, True, False, 0, -1, 1.5, -0.0, 1e308, 2**31, 2**63, -(2**70), 10**30]),
    st.sampled_from([each for each in (*TEXTS, *NUMBERS, *DAYS) if isinstance(each, str)]),
    st.sampled_from([[], {}, [None], [[]], {"": None}, {"x": {"y": [1]}}, ["a", "a"], [{}] * 3]),
    st.text(max_size=8),
    st.integers(),
)
