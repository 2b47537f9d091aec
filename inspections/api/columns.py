"""A column of a model as a program reads it: its name, type and words, all from the model."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from django.db import models
from django.db.models import Field, Model
from pydantic import Field as SchemaField
from pydantic import WithJsonSchema

from fleet.journal.scope import HASHED, LEFT_OUT
from fleet.models.measured_fields import Measured
from fleet.quantities import plain_number

Moment = Annotated[str, WithJsonSchema({"type": "string", "format": "date-time"})]
Day = Annotated[str, WithJsonSchema({"type": "string", "format": "date"})]
Id = Annotated[str, WithJsonSchema({"type": "string", "format": "uuid"})]
Money = Annotated[
    str, WithJsonSchema({"type": "string", "description": "A decimal number, to the last digit."})
]

# The first that fits: the field of a model, its type, and how its value is written.
TYPES: tuple[tuple[type[Field[Any, Any]], Any, Callable[[Any], Any] | None], ...] = (
    (models.BooleanField, bool, None),
    (models.UUIDField, Id, str),
    (models.DateTimeField, Moment, lambda moment: moment.isoformat()),
    (models.DateField, Day, lambda day: day.isoformat()),
    (models.DecimalField, Money, str),
    (models.FloatField, float, None),
    (models.IntegerField, int, None),
    (models.AutoField, int, None),
    (models.JSONField, Any, None),
    (models.CharField, str, None),
    (models.TextField, str, None),
)


@dataclass(frozen=True)
class ReadColumn:
    """A column: its name for a program, what pydantic makes of it, and how to read it of a row."""

    name: str
    annotation: Any
    words: str
    written: Callable[[Any], Any] | None

    @property
    def schema(self) -> tuple[Any, Any]:
        """What a schema says of it."""
        return self.annotation, SchemaField(description=self.words or None)

    def of(self, row: Model) -> Any:
        """Return what a row says in it."""
        value = getattr(row, self.name)
        return value if value is None or self.written is None else self.written(value)


def columns_of(model: type[Model], but: str = "") -> list[ReadColumn]:
    """Return the columns of a model that a program may read, all but one of that name.

    Files are not among them, nor what the journal tells the hash of alone.
    """
    label = model._meta.label_lower
    hidden = HASHED.get(label, frozenset()) | LEFT_OUT.get(label, frozenset()) | {but}
    return [
        _column(field)
        for field in model._meta.concrete_fields
        if field.name not in hidden and not isinstance(field, models.FileField)
    ]


def _column(field: Field[Any, Any]) -> ReadColumn:
    told = field.target_field if isinstance(field, models.ForeignKey) else field
    annotation, written = next(
        (type_, written) for kind, type_, written in TYPES if isinstance(told, kind)
    )
    return ReadColumn(
        field.attname,
        annotation | None if field.null and annotation is not Any else annotation,
        words_of(field),
        written,
    )


def words_of(field: Field[Any, Any]) -> str:
    """Say what a column is: its help, its unit where it is measured, and what it may be."""
    if isinstance(field, models.ForeignKey):
        return f"The id of the {field.related_model._meta.verbose_name}."
    help_text, name = str(field.help_text), str(field.verbose_name)
    words = [help_text if help_text else f"{name[:1].upper()}{name[1:]}."]
    if isinstance(field, Measured):
        unit = "" if field.quantity is None else f" {field.quantity.symbol('us')}"
        least, most = (plain_number(each, 4) for each in (field.least, field.most))
        words.append(f"From {least} to {most}{unit}, as stored.")
    if field.choices:
        told = ", ".join(str(value) for value, _ in field.flatchoices if value)
        words.append(f"One of: {told}.")
    return " ".join(words)
