"""Canonical JSON (RFC 8785), its SHA-256, and what differs from it."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from typing import Any

# The one spelling there is, named here beside what compares by it.
from fleet.journal.spelling import EXACT
from fleet.journal.spelling import canonical_text as canonical_text

# Where Python spells a number other than RFC 8785 does, or RFC 8785 refuses it. Each begins with
# what is rare in a document, and so is looked for five times as fast as all in one.
_SPELLED_OTHERWISE = (
    re.compile(r"\.0(?<=\d\.0)(?!\d)"),
    re.compile(r"e[+-](?<=\de.)\d"),
    re.compile(r"[:,\[-]\d{16}"),
)

# Types whose values are spelled alike where they are equal; and of rows of values, spelled alike
# whichever they are of.
_PLAIN = frozenset((str, int, float, bool, type(None)))
_ROWS = frozenset((list, tuple))


def is_canonical(document: str, contents: Any) -> bool:
    """Say whether a document is spelled as RFC 8785 has it, contents being what it says.

    Python's own encoder is many times faster than the library's, and spells the same wherever a
    text is ASCII and shows no number whole, very small or very large as a float: there the keys
    have one order, and a number's shortest digits stand as they are. Else the library tells.
    Raises ValueError for what is no value of JSON.
    """
    is_plain = isinstance(contents, dict) and document.isascii()
    if is_plain and not any(each.search(document) for each in _SPELLED_OTHERWISE):
        spelled = json.dumps(
            contents, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
        )
        if spelled == document:
            return True
    return canonical_text(contents) == document


def text_of_parts(spelled: Mapping[str, str]) -> str:
    """Return the canonical text of an object, each value of which is spelled already.

    Its names are letters of ASCII, and stand as they are.
    """
    return "{" + ",".join(f'"{name}":{spelled[name]}' for name in sorted(spelled)) + "}"


def digest(document: str) -> str:
    """Return the SHA-256 of the document's UTF-8 bytes, in hex."""
    return hashlib.sha256(document.encode("utf-8")).hexdigest()


def time_text(at: datetime) -> str:
    """Return a moment as UTC to the microsecond, always in the same spelling."""
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def is_same(value: Any, other: Any) -> bool:
    """Say whether two JSON values are spelled alike."""
    kind, of_other = type(value), type(other)
    if kind is of_other and kind in _PLAIN:
        return bool(value == other)
    if kind in _ROWS and of_other in _ROWS:
        return len(value) == len(other) and all(map(is_same, value, other))
    if kind is dict and of_other is dict:
        return value.keys() == other.keys() and all(
            is_same(each, other[name]) for name, each in value.items()
        )
    # Whole numbers may be of two types and spelled alike.
    if {kind, of_other} == {int, float} and abs(value) < EXACT and abs(other) < EXACT:
        return bool(value == other)
    return canonical_text({"": value}) == canonical_text({"": other})


def column_differences(
    document: str, contents: dict[str, Any], stored: Mapping[str, Any], written: Mapping[str, Any]
) -> Iterator[str]:
    """Yield where columns beside a document are not what it says.

    written: by column, what the document says where it doesn't say it by the column's own name.
    """
    if not is_canonical(document, contents):
        yield "its document is not canonical JSON"
    for name, value in stored.items():
        said = written[name] if name in written else contents[name]
        if value != said:
            yield f"{name} is stored as {value} but the document says {said}"


def result_differences(written: Mapping[str, Any], again: Mapping[str, Any]) -> Iterator[str]:
    """Yield where the results a document holds are not those its inputs give again."""
    for name in sorted(written.keys() | again.keys()):
        then, now = written.get(name), again.get(name)
        if not is_same(then, now):
            yield f"{name} is written as {_short(then)} but its inputs give {_short(now)}"


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 80 else f"{text[:79]}…"
