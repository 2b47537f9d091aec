"""Every row held to its newest leaf, and every leaf to its row."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator
from decimal import InvalidOperation
from typing import Any

from django.db import DataError, OperationalError
from django.db.models import Max, Model, Q, QuerySet

from fleet.journal.scope import journaled_models
from fleet.journal.spelling import names_of, row_of
from fleet.models import Leaf
from ratings.record.faults import Fault, Scope

AT_ONCE = 500
# What names a row in words, where it has it.
TELLING = ("mark", "name", "username", "number", "sequence", "side", "housing_id", "hammer_id")
UNREADABLE = (ValueError, TypeError, InvalidOperation, DataError, OperationalError, OverflowError)


def look_at_rows(scope: Scope) -> Iterator[int | Fault]:
    """Yield faults of rows whose leaf says otherwise, of rows with none, of leaves with none."""
    for model in journaled_models():
        if scope.since:
            yield from _touched(model, scope.since)
        else:
            yield from _all(model)


def _all(model: type[Model]) -> Iterator[int | Fault]:
    keys = model._base_manager.order_by("pk").values_list("pk", flat=True)
    last: Any = None
    alike = 0
    while some := list((keys if last is None else keys.filter(pk__gt=last))[:AT_ONCE]):
        last = some[-1]
        faults = list(_compare(model, some))
        alike += len(some) - len(faults)
        yield from faults
        yield len(some)
    if _living(model._meta.label_lower).count() != alike:
        yield from _without_row(model)


def _touched(model: type[Model], since: int) -> Iterator[int | Fault]:
    """Look at the rows that leaves since a size tell of."""
    leaves = Leaf.objects.filter(Q(place__gte=since) | Q(place=None), model=model._meta.label_lower)
    told = leaves.order_by("row_key").values_list("row_key", flat=True).distinct()
    last = ""
    while some := list(told.filter(row_key__gt=last)[:AT_ONCE]):
        last = some[-1]
        yield from _compare(model, some)
        there = model._base_manager.filter(pk__in=some).values_list("pk", flat=True)
        yield from _gone(model, some, {str(key) for key in there})
        yield len(some)


def _living(label: str) -> QuerySet[Leaf]:
    """Return the newest leaf of each row of a table that was not removed."""
    newest = (
        Leaf.objects.filter(model=label)
        .order_by()
        .values("row_key")
        .annotate(newest=Max("pk"))
        .values("newest")
    )
    return Leaf.objects.filter(pk__in=newest).exclude(what=Leaf.What.REMOVED)


def _newest(label: str, keys: Collection[Any]) -> dict[str, tuple[str, str]]:
    """Return what was done last to rows, and the document that says so, by key."""
    told = Leaf.objects.filter(model=label, row_key__in=[str(key) for key in keys])
    newest = told.order_by().values("row_key").annotate(newest=Max("pk")).values("newest")
    found = Leaf.objects.filter(pk__in=newest).values_list("row_key", "what", "document")
    return {key: (what, document) for key, what, document in found}


def _compare(model: type[Model], keys: Collection[Any]) -> Iterator[Fault]:
    leaves = _newest(model._meta.label_lower, keys)
    for key, now in _rows(model, keys):
        what, document = leaves.get(str(key), ("", ""))
        where = _where(model, key, now if isinstance(now, dict) else {})
        if isinstance(now, Exception):
            yield Fault(where, f"it can’t be read ({type(now).__name__}: {now})")
        elif not what:
            yield Fault(where, "it stands in the database and no leaf of the journal tells of it")
        elif what == Leaf.What.REMOVED:
            yield Fault(where, "the journal says it was removed, and it stands there again")
        else:
            differs = _difference(document, now)
            if differs:
                yield Fault(where, differs)


def _difference(document: str, now: dict[str, Any]) -> str:
    try:
        then = json.loads(document)["row"]
        if then == now:
            return ""
        differing = sorted(
            name for name in then.keys() | now.keys() if then.get(name) != now.get(name)
        )
    except (ValueError, KeyError, TypeError, AttributeError) as trouble:
        return f"its leaf can’t be read ({type(trouble).__name__}: {trouble})"
    return "; ".join(
        f"{name} is {_short(now.get(name))} but the journal has {_short(then.get(name))}"
        for name in differing[:3]
    )


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 80 else f"{text[:79]}…"


def _rows(
    model: type[Model], keys: Collection[Any]
) -> Iterator[tuple[Any, dict[str, Any] | Exception]]:
    """Yield each row there is; in place of one that holds what its columns can't, the trouble."""
    rows = model._base_manager.order_by("pk")
    names = names_of(model)
    try:
        found = list(rows.filter(pk__in=keys).values_list("pk", *names))
        together = [(key, row_of(model, values)) for key, *values in found]
    except UNREADABLE as trouble:
        if len(keys) == 1:
            yield next(iter(keys)), trouble
            return
        for key in keys:
            yield from _rows(model, [key])
        return
    yield from together


def _without_row(model: type[Model]) -> Iterator[Fault]:
    """Yield the leaves of a table that tell of rows which are not there."""
    living = _living(model._meta.label_lower).order_by("pk").values_list("pk", "row_key")
    last = 0
    while some := list(living.filter(pk__gt=last)[:AT_ONCE]):
        last = some[-1][0]
        keys = [key for _, key in some]
        there = model._base_manager.filter(pk__in=keys).values_list("pk", flat=True)
        yield from _gone(model, keys, {str(key) for key in there})


def _gone(model: type[Model], keys: Collection[str], there: set[str]) -> Iterator[Fault]:
    lacking = [key for key in keys if key not in there]
    for key, (what, document) in _newest(model._meta.label_lower, lacking).items():
        if what != Leaf.What.REMOVED:
            row = json.loads(document)["row"]
            yield Fault(_where(model, key, row), "it was recorded, and it is not there")


def _where(model: type[Model], key: Any, row: dict[str, Any]) -> str:
    told = [f"{name.removesuffix('_id')} {row[name]}" for name in TELLING if row.get(name)]
    words = f" ({', '.join(told)})" if told else ""
    return f"{model._meta.verbose_name} {key}{words}"
