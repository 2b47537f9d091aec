"""Rows as they were on record at a past moment, read back from their leaves.

For tables whose rows are written into later: when a housing came off its hammer, when a machine
was released. Who looks at such a row today sees no more what it said before.
"""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any, TypeVar

from django.db.models import Max, Min, Model, Q

from fleet import clock
from fleet.models.leaf import Leaf

Row = TypeVar("Row", bound=Model)


def rows_known_by(model: type[Row], moment: datetime, begins: str, ends: str) -> list[Row]:
    """Return the rows of a table of spans as they were on record at a moment, in one query.

    begins, ends: the fields of when a row begins and ended. A row older than the journal counts
    as recorded when it began, and its end as recorded when it ended: nothing tells better.
    """
    if moment >= clock.now():
        return list(model._default_manager.order_by(begins, "pk"))
    leaves = Leaf.objects.filter(model=model._meta.label_lower).order_by()
    newest = (
        leaves.filter(recorded_at__lte=moment)
        .values("row_key")
        .annotate(newest=Max("pk"))
        .values("newest")
    )
    is_older = Q(what=Leaf.What.FOUND, recorded_at__gt=moment)
    told = leaves.filter(Q(pk__in=newest) | is_older).order_by("pk")
    rows: dict[str, Row] = {}
    for key, document, recorded_at in told.values_list("row_key", "document", "recorded_at"):
        record = json.loads(document)["row"]
        if record is None or key in rows:
            continue
        row = _row(model, record)
        if recorded_at > moment:
            if getattr(row, begins) > moment:
                continue
            if (ended := getattr(row, ends)) is not None and ended > moment:
                setattr(row, ends, None)
        rows[key] = row
    return sorted(rows.values(), key=lambda row: (getattr(row, begins), row.pk))


def values_known_by(model: type[Model], moment: datetime, column: str) -> dict[int, Any]:
    """Return what a column of each row said at a moment, by the row's key, in one query.

    Of a row that came on record only later, what it said first.
    """
    leaves = Leaf.objects.filter(model=model._meta.label_lower).order_by()
    by_row = leaves.values("row_key").annotate(first=Min("pk"))
    newest = leaves.filter(recorded_at__lte=moment).values("row_key").annotate(newest=Max("pk"))
    told = leaves.filter(
        Q(pk__in=by_row.values("first")) | Q(pk__in=newest.values("newest"))
    ).order_by("pk")
    found: dict[int, Any] = {}
    for key, document in told.values_list("row_key", "document"):
        record = json.loads(document)["row"]
        if record is not None:
            found[int(key)] = record[column]
    return found


def _row(model: type[Row], record: dict[str, Any]) -> Row:
    """Return a row as a leaf spells it; columns that came since have their defaults."""
    values = {}
    for field in model._meta.concrete_fields:
        if field.attname in record:
            values[field.attname] = _aim(field).to_python(record[field.attname])
    return model(**values)


def _aim(field: Any) -> Any:
    return field.target_field if field.is_relation else field
