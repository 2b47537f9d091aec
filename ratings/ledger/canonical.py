"""Canonical JSON (RFC 8785), its SHA-256, and what differs from it."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Any

import orjson

# The one spelling there is, named here beside what compares by it.
from fleet.journal.spelling import EXACT
from fleet.journal.spelling import canonical_text as canonical_text

# Where a fast encoder may spell a number other than RFC 8785 does. This begins with what is rare in
# a document, and so is found fast.
_WHOLE = re.compile(r"\.0(?<=\d\.0)(?!\d)")
# The rest is looked for in a document's shape, which is many times faster than by a pattern: with
# every digit put as 0, and as : what may stand before a number.
_SHAPE = bytes.maketrans(b"123456789,[-", b"000000000:::")
# A whole number that RFC 8785 refuses.
_TOO_LONG = b":" + b"0" * 16
# A number with an exponent, once the digits before that are left out.
_DIGITS, _EXPONENT = b"0.", b":e"

# Types whose values are spelled alike where they are equal; and of rows of values, spelled alike
# whichever they are of.
_PLAIN = frozenset((str, int, float, bool, type(None)))
_ROWS = frozenset((list, tuple))


def is_canonical(document: str, contents: Any) -> bool:
    """Say whether a document is spelled as RFC 8785 has it, contents being what it says.

    A fast encoder is many times faster than the library's, and spells the same wherever a text is
    ASCII and shows no number whole, very small or very large as a float: there the keys have one
    order, and a number's shortest digits stand as they are. Else the library tells.
    Raises ValueError for what is no value of JSON.
    """
    if isinstance(contents, dict) and _may_be_plain(document) and _plain_text(contents) == document:
        return True
    return canonical_text(contents) == document


def _plain_text(contents: dict[str, Any]) -> str | None:
    """Return how the fast encoder spells it; None for what it refuses, such as half a letter."""
    try:
        return orjson.dumps(contents, option=orjson.OPT_SORT_KEYS).decode()
    except TypeError:
        return None


def _may_be_plain(document: str) -> bool:
    if not document.isascii() or _WHOLE.search(document):
        return False
    shape = document.encode().translate(_SHAPE)
    return _TOO_LONG not in shape and _EXPONENT not in shape.translate(None, _DIGITS)


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
    return at.astimezone(UTC).isoformat(timespec="microseconds").removesuffix("+00:00") + "Z"


def is_same(value: Any, other: Any) -> bool:
    """Say whether two JSON values are spelled alike."""
    kind, of_other = type(value), type(other)
    if kind is of_other and kind in _PLAIN:
        return bool(value == other)
    if kind in _ROWS and of_other in _ROWS:
        return len(value) == len(other) and _are_same(zip(value, other, strict=True))
    if kind is dict and of_other is dict:
        return value.keys() == other.keys() and _are_same(
            zip(value.values(), map(other.__getitem__, value), strict=True)
        )
    # Whole numbers may be of two types and spelled alike.
    if {kind, of_other} == {int, float} and abs(value) < EXACT and abs(other) < EXACT:
        return bool(value == other)
    return canonical_text({"": value}) == canonical_text({"": other})


def _are_same(pairs: Iterable[tuple[Any, Any]]) -> bool:
    for value, other in pairs:
        kind = type(value)
        if kind is type(other) and kind in _PLAIN:
            if value != other:
                return False
        elif not is_same(value, other):
            return False
    return True


def spelling_differences(document: str, contents: Any) -> Iterator[str]:
    """Yield where a document is not spelled as RFC 8785 has it, contents being what it says."""
    if not is_canonical(document, contents):
        yield "its document is not canonical JSON"


def column_differences(
    contents: dict[str, Any], stored: Mapping[str, Any], written: Mapping[str, Any]
) -> Iterator[str]:
    """Yield where columns beside a document are not what its contents say.

    written: by column, what it says where it doesn't say it by the column's own name.
    """
    for name, value in stored.items():
        said = written[name] if name in written else contents[name]
        if value != said:
            yield f"{name} is stored as {value} but the document says {said}"


def result_differences(written: Mapping[str, Any], again: Mapping[str, Any]) -> Iterator[str]:
    """Yield where the results a document holds are not those its inputs give again."""
    if is_same(written, again):
        return
    for name in sorted(written.keys() | again.keys()):
        then, now = written.get(name), again.get(name)
        if not is_same(then, now):
            yield f"{name} is written as {_short(then)} but its inputs give {_short(now)}"


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 80 else f"{text[:79]}…"
