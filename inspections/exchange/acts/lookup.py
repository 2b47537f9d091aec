"""What a row names, found on record; and what a row itself is called."""

from __future__ import annotations

import uuid
from datetime import UTC
from typing import Any

from django.core.exceptions import ValidationError

from inspections.exchange.cells import written
from inspections.exchange.rows import Row

NEW, KNOWN = "new", "on record already"
NAMESPACE = uuid.UUID("0b1f4a9c-6a55-4e0b-9f0a-7d1a2f7c1d3e")


class NotThere(ValidationError):
    """A row names something that is neither on record nor came before it in the file."""

    def __init__(self, name: str, value: str) -> None:
        self.value = value
        self.start = f"{name} “{value[:40]}”"
        super().__init__(f"{self.start} is neither on record nor in this file: enter it first")


def submission_id(row: Row) -> uuid.UUID:
    """An id made of what the row says: the same row sent again is the same record."""
    parts = [row.values, *(part.values for part in row.parts)]
    # In UTC, so that a row is the same one whatever the yard's zone is set to.
    said = "|".join(written(value, UTC) for values in parts for value in values.values())
    return uuid.uuid5(NAMESPACE, f"{row.table}|{said}")


def one(model: Any, key: str, value: str, name: str) -> Any:
    """Return the record of a name. Raises NotThere."""
    found = model.objects.filter(**{key: value}).first()
    if found is None:
        raise NotThere(name, str(value))
    return found
