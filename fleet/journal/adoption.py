"""Leaves of rows older than the journal, and of rows whose columns an upgrade changed.

After migrations were applied, every row is held to its newest leaf. Where they brought the journal
itself, or the very table, or no leaf has a place yet (nothing was verified or sealed), a row with
no leaf, or with one that a step of theirs wrote before other steps changed the row, gets one that
is marked as found; at no other time. Where an upgrade brought or took columns, a row that agrees
with its leaf in all columns both tell of is carried over by a new leaf; one that doesn't gets none,
so that verifying goes on saying so.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator
from typing import Any

from django.db import connections, transaction
from django.db.migrations.operations import AddField, CreateModel
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
    # An upgrade that broke off after it brought the journal is gone on with by another plan.
    begins = not Leaf.objects.using(using).filter(place__isnull=False).exists()
    for model in journaled_models():
        if model._meta.db_table in tables and is_kept(model, connections[using]):
            adopt(model, using, is_new=begins or is_new_by(plan, model))


def is_new_by(plan: Collection[Any], model: type[Model]) -> bool:
    """Say whether the journal or a model's own table came by the migrations applied."""
    # The table between two models comes with the field that speaks of it.
    owner = _owner_of(model) or model
    brings = {(Leaf._meta.app_label, Leaf._meta.model_name, "")}
    brings.add((owner._meta.app_label, owner._meta.model_name, _field_of(model)))
    return any(
        brought in brings
        for migration, is_backwards in plan
        if not is_backwards
        for step in migration.operations
        for brought in _brought_by(migration.app_label, step)
    )


def _brought_by(app: str, step: Any) -> Iterator[tuple[str, str, str]]:
    """Yield the app, the model and the field, "" for the model itself, that a step brings."""
    if isinstance(step, CreateModel):
        yield app, step.name_lower, ""
        for name, _ in step.fields:
            yield app, step.name_lower, name
    elif isinstance(step, AddField):
        yield app, step.model_name_lower, step.name


def _owner_of(model: type[Model]) -> type[Model] | None:
    """Return whose field a table between two models stands for; None of any other table."""
    owner: Any = model._meta.auto_created
    return owner or None


def _field_of(model: type[Model]) -> str:
    """Return the name of the field a table between two models stands for, "" of any other table."""
    owner = _owner_of(model)
    if owner is None:
        return ""
    fields: Any = owner._meta.local_many_to_many
    return next(str(field.name) for field in fields if field.remote_field.through is model)


def adopt(model: type[Model], using: str = "default", *, is_new: bool = False) -> None:
    """Give the rows of one table the leaves that an upgrade made needful.

    is_new: the upgrade brought the journal or this table, so that a row may have no leaf yet.
    """
    connection = connections[using]
    label = model._meta.label_lower
    rows = model._base_manager.using(using).order_by("pk").values_list("pk", *names_of(model))
    with transaction.atomic(using):
        last: Any = None
        while some := list((rows if last is None else rows.filter(pk__gt=last))[:AT_ONCE]):
            last = some[-1][0]
            now = {str(key): row_of(model, values) for key, *values in some}
            then = newest_rows(label, now, using)
            if is_new:
                found = [(key, row) for key, row in now.items() if then.get(key) != row]
                write(connection, model, Leaf.What.FOUND, found)
                continue
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
