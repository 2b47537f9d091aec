"""Leaves of rows older than the journal, and of rows whose columns an upgrade changed.

After migrations were applied, every row is held to its newest leaf. A table with no leaf at all is
at its journal's beginning: its rows get their first leaves, marked as found. Where an upgrade
brought or took columns, a row that agrees with its leaf in all columns both tell of is carried over
by a new leaf; one that doesn't gets none, so that verifying goes on saying so.
"""

from __future__ import annotations

import json
from collections.abc import Collection
from typing import Any

from django.db import connections, transaction
from django.db.models import Max, Model

from fleet.journal.scope import journaled_models
from fleet.journal.spelling import names_of, row_of
from fleet.journal.writing import AT_ONCE, forget, is_kept, write
from fleet.models.leaf import Leaf


def before_migrating(using: str, **_: Any) -> None:
    """Look again whether the journal's table is there."""
    forget(connections[using])


def after_migrating(using: str, plan: Collection[Any] = (), **_: Any) -> None:
    """Bring the journal to what migrations made of the tables; nothing where none was applied."""
    forget(connections[using])
    if not plan:
        return
    tables = set(connections[using].introspection.table_names())
    for model in journaled_models():
        if model._meta.db_table in tables and is_kept(model, connections[using]):
            adopt(model, using)


def adopt(model: type[Model], using: str = "default") -> None:
    """Give the rows of one table the leaves that an upgrade made needful."""
    connection = connections[using]
    label = model._meta.label_lower
    leaves = Leaf.objects.using(using).filter(model=label)
    rows = model._base_manager.using(using).order_by("pk").values_list("pk", *names_of(model))
    with transaction.atomic(using):
        is_beginning = not leaves.exists()
        last: Any = None
        while some := list((rows if last is None else rows.filter(pk__gt=last))[:AT_ONCE]):
            last = some[-1][0]
            now = {str(key): row_of(model, values) for key, *values in some}
            if is_beginning:
                write(connection, model, Leaf.What.FOUND, now.items())
                continue
            then = newest_rows(label, now, using)
            carried = [(key, row) for key, row in now.items() if _is_to_carry(then.get(key), row)]
            write(connection, model, Leaf.What.CARRIED, carried)


def newest_rows(
    label: str, keys: Collection[str], using: str = "default"
) -> dict[str, dict[str, Any] | None]:
    """Return what the newest leaves of rows say of them, by key; None of one removed."""
    told = Leaf.objects.using(using).filter(model=label, row_key__in=keys)
    newest = told.order_by().values("row_key").annotate(newest=Max("pk")).values("newest")
    found = Leaf.objects.using(using).filter(pk__in=newest).values_list("row_key", "document")
    return {key: json.loads(document)["row"] for key, document in found}


def _is_to_carry(then: dict[str, Any] | None, now: dict[str, Any]) -> bool:
    """Say whether a row's columns are others than its leaf's, and all they share alike."""
    if then is None or then.keys() == now.keys():
        return False
    return all(then[name] == now[name] for name in then.keys() & now.keys())
