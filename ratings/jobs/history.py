"""What a job was from save to save: each as one document, and what differs between two."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Field, Model
from django.utils.text import capfirst

from fleet.dates import day_words
from fleet.models.measured_fields import Measured
from fleet.quantities import Quantity, plain_number
from ratings.ledger.canonical import canonical_text
from ratings.models import ExtractionJob, JobHold, PileGroup, SoilLayer

FORMAT = 1
# Of the record, not of what the job asks.
LEFT_OUT = {
    "id",
    "job",
    "place",
    "version",
    "submission_id",
    "created_at",
    "created_by",
    "changed_at",
    "changed_by",
}
# Parts of a document with a row for each: the model of the rows, and what people call one.
ROWS: dict[str, tuple[type[Model], str]] = {
    "piles": (PileGroup, "pile group"),
    "layers": (SoilLayer, "layer"),
    "holds": (JobHold, "hold"),
}
BLANK = "blank"
Document = dict[str, Any]


@dataclass(frozen=True)
class Difference:
    """A field of a job that two documents have otherwise, each in words."""

    label: str
    before: str
    after: str


def job_document(
    job: ExtractionJob,
    piles: Iterable[PileGroup],
    layers: Iterable[SoilLayer],
    holds: Iterable[JobHold],
    distances: Mapping[str, float],
) -> Document:
    """Return all that a job asks as one JSON document, recorded yet or not.

    distances: miles by the name of the yard.
    """
    return {
        "format": FORMAT,
        "job": _columns(job),
        "piles": [_columns(each) for each in piles],
        "layers": [_columns(each) for each in layers],
        "holds": [_columns(each) for each in holds],
        "distances": dict(distances),
    }


def recorded_document(job: ExtractionJob) -> Document:
    """Return the document of a job as it stands on record."""
    return job_document(
        job,
        job.pile_groups.all(),
        job.layers.all(),
        job.holds.all(),
        {each.yard.name: each.distance_mi for each in job.distances.select_related("yard")},
    )


def is_same(one: Document, other: Document) -> bool:
    """Whether two documents say the same."""
    return canonical_text(one) == canonical_text(other)


def differences(before: Document, after: Document, system: str) -> list[Difference]:
    """Return what differs, field by field in the order of the form, in the reader's units."""
    old, new = dict(_told(before, system)), dict(_told(after, system))
    return [
        Difference(label, old.get(label, BLANK), new.get(label, BLANK))
        for label in {**new, **old}
        if old.get(label, BLANK) != new.get(label, BLANK)
    ]


def _told(document: Document, system: str) -> Iterator[tuple[str, str]]:
    """Yield each field of a document, named as people know it, and its value in words."""
    yield from _fields(ExtractionJob, document["job"], system, "")
    for part, (model, called) in ROWS.items():
        for number, row in enumerate(document[part], start=1):
            yield from _fields(model, row, system, f" of {called} {number}")
    for yard, distance_mi in document["distances"].items():
        yield f"Distance of {yard}", Quantity.DISTANCE.words(distance_mi, system, 2)


def _fields(
    model: type[Model], row: Mapping[str, Any], system: str, where: str
) -> Iterator[tuple[str, str]]:
    named = {field.name: field for field in _asked(model)}
    for name, field in named.items():
        if name in row:
            label = capfirst(str(field.verbose_name))
            yield f"{label}{where}", _words(field, row[name], system)


def _words(field: Field[Any, Any], value: Any, system: str) -> str:
    if value is None or value == "":
        return BLANK
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(field, Measured) and field.quantity is not None:
        return field.quantity.words(value, system, 4)
    if field.get_internal_type() == "DateField":
        return day_words(date.fromisoformat(value))
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    return plain_number(value, 4) if isinstance(value, float) else str(value)


def _asked(model: type[Model]) -> list[Field[Any, Any]]:
    return [field for field in model._meta.concrete_fields if field.name not in LEFT_OUT]


def _columns(row: Model) -> Document:
    return {field.name: _plain(getattr(row, field.name)) for field in _asked(type(row))}


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, bool | int | float):
        return value
    return value.isoformat() if isinstance(value, date) else str(value)
