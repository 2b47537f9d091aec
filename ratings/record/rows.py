"""Every row held to its newest leaf, and every leaf to its row."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator
from decimal import InvalidOperation
from typing import Any

from django.core.exceptions import SuspiciousOperation, ValidationError
from django.db import DataError, OperationalError
from django.db.models import Count, FileField, Max, Model, Q, QuerySet

from fleet.guards import AppendOnly, append_only_guards
from fleet.journal.scope import journaled_models
from fleet.journal.spelling import names_of, row_of
from fleet.models import FileLetGo, Leaf
from ratings.record.faults import Fault, Scope

AT_ONCE = 500
# What names a row in words, where it has it.
TELLING = ("mark", "name", "username", "number", "sequence", "side")
NAMES = ("mark", "name", "username")
# When it happened, or was recorded; the first of them that a row has.
DAYS = (
    "occurred_at", "seen_at", "tested_at", "since", "mounted_at", "read_at", "closed_at",
    "fitted_at", "first_day", "recorded_at", "made_at",
)  # fmt: skip
UNREADABLE = (
    ValueError,
    TypeError,
    InvalidOperation,
    DataError,
    OperationalError,
    OverflowError,
    ValidationError,
    SuspiciousOperation,
)


def look_at_rows(scope: Scope) -> Iterator[int | Fault]:
    """Yield faults of rows whose leaf says otherwise, of rows with none, of leaves with none."""
    for model in journaled_models():
        if scope.since:
            yield from _touched(model, scope.since)
        else:
            yield from _all(model)
    guards = append_only_guards()
    for model in journaled_models():
        yield from _rewritten(model, guards.get(model), scope.since)


def _rewritten(model: type[Model], guard: AppendOnly | None, since: int) -> Iterator[Fault]:
    """Yield rows of which two leaves that follow each other differ as no change made them.

    guard: of a table of facts, whose rows are never changed or removed but for a few columns.
    A column that a leaf is the first to tell of came by an upgrade, and may have any value.
    """
    label = model._meta.label_lower
    told = Leaf.objects.filter(model=label).order_by()
    again = told.values("row_key").annotate(many=Count("pk")).filter(many__gt=1)
    if since:
        touched = told.filter(Q(place__gte=since) | Q(place=None))
        again = again.filter(row_key__in=touched.values("row_key"))
    leaves = told.filter(row_key__in=again.values("row_key")).order_by("row_key", "pk")
    row_key, known = "", dict[str, Any]()
    for key, what, document in leaves.values_list("row_key", "what", "document").iterator(AT_ONCE):
        if key != row_key:
            row_key, known = key, {}
        try:
            leaf = json.loads(document)
            row = leaf["row"] or {}
            changed = set(leaf.get("changed") or ())
            names = {n for n in known.keys() & row.keys() if known[n] != row[n]}
        except (ValueError, KeyError, TypeError, AttributeError):
            # Said of the leaf itself, where the journal is held to its tree.
            continue
        if guard and what == Leaf.What.REMOVED and known:
            yield Fault(
                _where(model, key, known),
                "it is never changed or removed, and yet the journal says it was removed",
            )
        rewritten = names - _may_change(model, guard) if guard else set[str]()
        unseen = set[str]() if what == Leaf.What.FOUND else names - changed
        if rewritten or unseen:
            rule = "it is never changed or removed" if rewritten else "no change by the program did"
            yield Fault(
                _where(model, key, known),
                f"{rule}, and yet {_became(known, row, rewritten or unseen)}",
            )
        # Of a row put in again under the key of one that was removed nothing is known.
        known = {} if what == Leaf.What.REMOVED else known | row


def _may_change(model: type[Model], guard: AppendOnly) -> set[str]:
    return {model._meta.get_field(name).attname for name in guard.but_for}  # type: ignore[union-attr]


def _became(known: dict[str, Any], row: dict[str, Any], names: set[str]) -> str:
    return "; ".join(
        "{} was {} and became {}".format(name, *_apart(known[name], row[name]))
        for name in sorted(names)[:3]
    )


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
        yield from _compare(model, _keys_that_can_be(model, some))
        yield from _gone(model, some)
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
    for key, now in _with_files_let_go(model, _rows(model, keys)):
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


def _with_files_let_go(
    model: type[Model], rows: Iterable[tuple[Any, dict[str, Any] | Exception]]
) -> Iterator[tuple[Any, dict[str, Any] | Exception]]:
    """Yield rows with the sum of each file that is gone because it was let go, on record.

    Of one that is lost, or that somebody removed, nothing is on record.
    """
    found = list(rows)
    names = [each.name for each in model._meta.concrete_fields if isinstance(each, FileField)]
    lacking = [
        str(key)
        for key, row in found
        if isinstance(row, dict) and any(_is_gone(row.get(name)) for name in names)
    ]
    if lacking:
        gone = {
            (key, column, name): sha256
            for key, column, name, sha256 in FileLetGo.objects.filter(
                model=model._meta.label_lower, row_key__in=lacking
            ).values_list("row_key", "column", "name", "sha256")
        }
        for key, row in found:
            for column in names if isinstance(row, dict) else ():
                told = row.get(column) if isinstance(row, dict) else None
                if told is not None and _is_gone(told):
                    told["sha256"] = gone.get((str(key), column, told["name"]))
    yield from found


def _is_gone(told: Any) -> bool:
    return isinstance(told, dict) and "name" in told and told.get("sha256") is None


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
        "{} is {} but the journal has {}".format(name, *_apart(now.get(name), then.get(name)))
        for name in differing[:3]
    )


def _apart(value: Any, other: Any) -> tuple[str, str]:
    """Return two values in words, of long ones what stands where they begin to differ."""
    texts = [json.dumps(each, ensure_ascii=False) for each in (value, other)]
    same = next((at for at, pair in enumerate(zip(*texts, strict=False)) if len({*pair}) > 1), 0)
    start = max(0, same - 30) if max(map(len, texts)) > 80 else 0
    one, two = (
        f"{'…' if start else ''}{text[start : start + 79]}{'…' if len(text) > start + 79 else ''}"
        for text in texts
    )
    return one, two


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
        yield from _gone(model, [key for _, key in some])


def _keys_that_can_be(model: type[Model], keys: Collection[str]) -> list[str]:
    """Return the keys of leaves that the key of a row can be."""
    able = []
    for key in keys:
        try:
            model._meta.pk.get_prep_value(key)
        except UNREADABLE:
            continue
        able.append(key)
    return able


def _gone(model: type[Model], keys: Collection[str]) -> Iterator[Fault]:
    able = _keys_that_can_be(model, keys)
    there = {
        str(key) for key in model._base_manager.filter(pk__in=able).values_list("pk", flat=True)
    }
    lacking = [key for key in keys if key not in there]
    for key, (what, document) in _newest(model._meta.label_lower, lacking).items():
        if what != Leaf.What.REMOVED:
            try:
                row = dict(json.loads(document)["row"])
            except (ValueError, KeyError, TypeError):
                row = {}
            yield Fault(_where(model, key, row), "it was recorded, and it is not there")


def _where(model: type[Model], key: Any, row: dict[str, Any]) -> str:
    """Name a row as an auditor finds it: by its marks and those it is of, who signed it and when.

    Its key stands first: it is what the journal's leaves name it by.
    """
    words = ", ".join(_told_of(model, row))
    return f"{model._meta.verbose_name} {key}{f' ({words})' if words else ''}"


def _told_of(model: type[Model], row: dict[str, Any]) -> Iterator[str]:
    for name in TELLING:
        if isinstance(row.get(name), str | int) and row[name] != "":
            yield f"{name} {row[name]}"
    for field in model._meta.concrete_fields:
        value = row.get(field.attname)
        if field.remote_field is not None and value is not None:
            named = _named(field.related_model, value)
            if named:
                yield f"{'signed by' if field.name == 'recorded_by' else field.name} {named}"
    day = next((str(row[name])[:10] for name in DAYS if row.get(name)), "")
    if day:
        yield f"of {day}"


def _named(model: Any, key: Any) -> str:
    """Return the mark or name of a record, or its key and the mark of the unit it is of."""
    names = [name for name in NAMES if name in {f.name for f in model._meta.concrete_fields}]
    of = [name for name in ("housing", "lot") if hasattr(model, f"{name}_id")]
    wanted = names[:1] or [f"{name}__mark" for name in of[:1]]
    if not wanted:
        return ""
    try:
        found = model._base_manager.filter(pk=key).values_list(wanted[0], flat=True).first()
    except UNREADABLE:
        return ""
    if found is None:
        return f"{key}, which is not there" if names else f"{key}"
    return str(found) if names else f"{key} of {found}"
