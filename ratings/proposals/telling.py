"""What a proposal would record, told field by field beside what is on record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from itertools import groupby
from typing import Any

from django.core.exceptions import FieldDoesNotExist
from django.db.models import FileField, Model

from fleet.dates import day_words, moment_words
from fleet.models.measured_fields import Measured
from fleet.quantities import plain_number

Told = list[tuple[str, str]]
# As finely as any figure is told, so that no two are told alike that differ.
FINEST = 6


def beside(now: str, then: str | None) -> str:
    """Return what would be recorded, and what is on record where that differs.

    then: None where nothing like it is on record. Nothing now and nothing then is "".
    """
    if then is None or now == then:
        return now
    return f"{now or 'none'} (on record: {then or 'none'})"


def told_fields(now: Any, then: Model, labels: Mapping[str, str], system: str) -> Told:
    """Tell each field of what would be recorded that has a label, beside the record it corrects.

    then: the record, whose columns are named as the fields are; what it has no column for is
    told by itself. Blank on both sides, a field is left out.
    """
    told = []
    for name, label in labels.items():
        try:
            field = then._meta.get_field(name)
        except FieldDoesNotExist:
            told.append((label, field_words(None, getattr(now, name), system, None)))
            continue
        pair = getattr(now, name), getattr(then, name)
        told.append((label, beside(*_words_of_two(field, *pair, system))))
    return [(label, words) for label, words in told if words]


def _words_of_two(field: Any, now: Any, then: Any, system: str) -> tuple[str, str]:
    words = field_words(field, now, system, None), field_words(field, then, system, None)
    is_alike = words[0] == words[1] and isinstance(now, float) and isinstance(then, float)
    if is_alike and now != then:
        return (
            field_words(field, now, system, FINEST),
            field_words(field, then, system, FINEST),
        )
    return words


def field_words(field: Any, value: Any, system: str, places: int | None) -> str:
    """Return what a column holds as it is told to somebody: "" of nothing."""
    if isinstance(field, FileField):
        return "one" if value else ""
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return moment_words(value)
    if isinstance(value, date):
        return day_words(value)
    if isinstance(field, Measured) and field.quantity is not None:
        return field.quantity.words(value, system, places)
    if isinstance(value, int | float):
        return plain_number(value, FINEST)
    return str(dict(getattr(field, "choices", None) or ()).get(value, value))


def told_readings(readings: Iterable[tuple[str, str]]) -> str:
    """Tell readings in their order, each under its head, such as its run and branch."""
    return "\n".join(
        f"{head}: {'; '.join(words for _, words in group)}"
        for head, group in groupby(readings, key=lambda each: each[0])
    )
