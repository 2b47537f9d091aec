"""The one spelling of a row: canonical JSON (RFC 8785), the same on both databases.

Times are UTC to the microsecond, days and times of day as ISO 8601 has them, decimals as text with
all their places, whole numbers beyond 2^53 as text, files and bytes by SHA-256.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from functools import cache
from hashlib import sha256
from typing import Any

import rfc8785
from django.core.files.storage import Storage
from django.db.models import Field, FileField, JSONField, Model

from fleet.journal.scope import HASHED, fields_of
from fleet.journal.tree import leaf_hash

EXACT = 2**53 - 1
CHUNK_BYTES = 1 << 20
# Python's own encoder is many times faster than the library's, and differs from it in numbers and,
# where names are of letters beyond these, in their order.
_ENCODER = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
)
_BEYOND = re.compile("[\ud800-\U0010ffff]")
_STRING = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"')
_WHOLE = re.compile(r"\.0(?=[,\]}]|$)")
# Very small, very large, of more digits than a whole number may have, or a zero below zero.
_ODD = re.compile(r"\de|(?<![\d.])\d{16}|-0(?:\.0)?(?![\d.])")


@cache
def _columns(model: type[Model]) -> tuple[tuple[str, Field[Any, Any], Field[Any, Any], bool], ...]:
    """Return of each column its attribute, its field, the field its values are of, and whether
    only its hash is told.
    """
    hashed = HASHED.get(model._meta.label_lower, frozenset())
    return tuple(
        (field.attname, field, _aim(field), field.name in hashed) for field in fields_of(model)
    )


def _aim(field: Field[Any, Any]) -> Field[Any, Any]:
    while field.is_relation:
        field = field.target_field  # type: ignore[attr-defined]
    return field


def names_of(model: type[Model]) -> list[str]:
    """Return the names of the columns a leaf tells of, as `values_list` takes them."""
    return [name for name, *_ in _columns(model)]


def row_of(model: type[Model], values: Iterable[Any]) -> dict[str, Any]:
    """Return the JSON of a row from the values of the columns `names_of` gives, in their order.

    Raises TypeError or ValueError where a value can't be one of its column.
    """
    return {
        name: _spelled(field, aim, value, is_hashed)
        for (name, field, aim, is_hashed), value in zip(_columns(model), values, strict=True)
    }


def values_of(record: Model) -> list[Any]:
    """Return a record's values as `row_of` takes them."""
    return [getattr(record, name) for name, *_ in _columns(type(record))]


def _spelled(field: Field[Any, Any], aim: Field[Any, Any], value: Any, is_hashed: bool) -> Any:
    if value is None:
        return None
    if isinstance(field, FileField):
        name = str(getattr(value, "name", value) or "")
        return {"name": name, "sha256": file_hash(field.storage, name)} if name else None
    if isinstance(field, JSONField):
        return _json(json.loads(json.dumps(value, cls=field.encoder)))
    if isinstance(value, memoryview | bytes):
        return {"sha256": sha256(value).hexdigest()}
    if isinstance(value, Model):
        value = value.pk
    plain = _plain(aim, aim.to_python(value))
    return {"sha256": sha256(str(plain).encode()).hexdigest()} if is_hashed else plain


def _plain(field: Field[Any, Any], value: Any) -> Any:
    if isinstance(value, bool | str | None):
        # A member of an enumeration is text too, and spelled by what it says.
        return str.__str__(value) if isinstance(value, str) else value
    if isinstance(value, int):
        return int(value) if abs(value) <= EXACT else str(int(value))
    if isinstance(value, float):
        return float(value)
    if isinstance(value, Decimal):
        places = getattr(field, "decimal_places", 0) or 0
        return str(value.quantize(Decimal(1).scaleb(-places)))
    if isinstance(value, datetime):
        if value.tzinfo is None:
            raise ValueError(f"{field} holds a time of no zone")
        return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        return str(value // timedelta(microseconds=1))
    return str(value)


def _json(value: Any) -> Any:
    """Return JSON values with numbers beyond the exact ones as both databases read them."""
    if isinstance(value, dict):
        return {name: _json(each) for name, each in value.items()}
    if isinstance(value, list):
        return [_json(each) for each in value]
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) > EXACT:
        return float(value)
    return value


def file_hash(storage: Storage, name: str) -> str | None:
    """Return the SHA-256 of a file's bytes in hex; None where there is no such file."""
    found = sha256()
    try:
        with storage.open(name) as opened:
            while piece := opened.read(CHUNK_BYTES):
                found.update(piece)
    except OSError:
        return None
    return found.hexdigest()


def document_of(
    label: str,
    key: str,
    what: str,
    row: Mapping[str, Any] | None,
    at: datetime,
    by: int | None,
    changed: Sequence[str] | None = None,
) -> str:
    """Return the text of a leaf: which row, what was done to it, what it says now, when, by whom.

    row: None of one that was removed. by: the key of who was signed in, None where nobody was.
    changed: the columns of a changed row that differ from just before; None of any other.
    """
    document = {
        "at": at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ"),
        "by": by,
        "changed": changed,
        "key": key,
        "model": label,
        "row": row,
        "what": what,
    }
    return canonical_text(document)


def canonical_text(value: Any) -> str:
    """Return the one spelling RFC 8785 allows of JSON values, names of which are text.

    Raises ValueError for what is no value of JSON.
    """
    try:
        text = _ENCODER.encode(value)
    except (TypeError, ValueError):
        return rfc8785.dumps(value).decode("utf-8")
    numbers = _STRING.sub("", text)
    if _BEYOND.search(text) or _ODD.search(numbers):
        return rfc8785.dumps(value).decode("utf-8")
    spelled, many = _WHOLE.subn("", text)
    # Nothing of a text that reads as a number is taken for one.
    if many != len(_WHOLE.findall(numbers)):
        return rfc8785.dumps(value).decode("utf-8")
    return spelled


def hash_of(document: str) -> str:
    """Return the leaf hash of a document, in hex."""
    return leaf_hash(document.encode("utf-8")).hex()
