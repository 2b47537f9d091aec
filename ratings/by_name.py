"""From a record to what the mechanics take: their fields bear the names of its columns."""

from __future__ import annotations

from dataclasses import fields
from typing import Any, TypeVar

from django.db.models import Model

T = TypeVar("T")


def made_by_name(kind: type[T], row: Model, /, **others: Any) -> T:
    """Return a dataclass made of the columns of a record, saved or not, of the same names.

    others: fields that have no column of their name, or are read otherwise. Raises ValueError
    where the dataclass refuses a number.
    """
    columns = {
        each.name: getattr(row, each.name)
        for each in fields(kind)  # type: ignore[arg-type]  # a dataclass, or it raises TypeError
        if each.name not in others
    }
    return kind(**columns, **others)
