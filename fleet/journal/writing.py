"""Leaves, written with the rows they tell of: for every write that Django makes, in any way.

Django turns each write into SQL in one of three compilers: of INSERT, UPDATE and DELETE. Save,
bulk_create, update, bulk_update, delete, the rows between people and roles and the data steps of
migrations all come by here, those of tables yet to be written too. The compilers below write the
leaves of the rows beside them, in the same transaction and one statement.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db import transaction
from django.db.models import Field, Model, Q, UniqueConstraint
from django.db.models.lookups import Exact
from django.db.models.sql import Query
from django.db.models.sql.where import AND

from fleet import clock
from fleet.aside import COPY
from fleet.journal.scope import LEFT_OUT, is_journaled
from fleet.journal.spelling import document_of, hash_of, names_of, row_of, values_of
from fleet.journal.who import who
from fleet.models.leaf import Leaf

TABLE = Leaf._meta.db_table
COLUMNS = ("model", "row_key", "what", "document", "leaf_hash", "recorded_at")
# Rows of one INSERT, and keys of one SELECT.
AT_ONCE = 500
# Keys of one UPDATE: SQLite takes 32,766 values in a statement.
KEYS_AT_ONCE = 10_000
STANDS = "journal_stands"


def is_kept(model: type[Model], connection: Any) -> bool:
    """Say whether a write to a model is to be told of here: not on a copy thrown away after."""
    return is_journaled(model) and not hasattr(connection, COPY) and _stands(model, connection)


def _stands(model: type[Model], connection: Any) -> bool:
    """Say whether the journal's table is there yet; a migration may be older than it."""
    if getattr(connection, STANDS, False):
        return True
    found = TABLE in connection.introspection.table_names()
    # Within a migration it may yet come or go.
    if found and model.__module__ != "__fake__":
        setattr(connection, STANDS, True)
    return found


def forget(connection: Any) -> None:
    """Look again whether the journal's table is there: a migration begins."""
    if hasattr(connection, STANDS):
        delattr(connection, STANDS)


def write(
    connection: Any,
    model: type[Model],
    what: str,
    rows: Iterable[tuple[Any, Any]],
    before: Mapping[Any, Mapping[str, Any]] | None = None,
) -> None:
    """Write a leaf for each (key, row) of a model; a row is JSON, None of one removed.

    before: by key, what changed rows said just before, so that their leaves name the columns.
    """
    label, at, by = model._meta.label_lower, clock.now(), who()
    adapted = connection.ops.adapt_datetimefield_value(at)
    leaves = []
    for key, row in rows:
        changed = None if before is None else _differing(before.get(key, {}), row)
        document = document_of(label, str(key), what, row, at, by, changed)
        leaves.append((label, str(key), str(what), document, hash_of(document), adapted))
    one = f"({', '.join(['%s'] * len(COLUMNS))})"
    with connection.cursor() as cursor:
        for start in range(0, len(leaves), AT_ONCE):
            some = leaves[start : start + AT_ONCE]
            cursor.execute(
                f"INSERT INTO {TABLE} ({', '.join(COLUMNS)}) VALUES {', '.join([one] * len(some))}",
                [value for leaf in some for value in leaf],
            )


def _differing(before: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    return sorted(name for name, value in now.items() if before.get(name) != value)


def read_back(
    connection: Any, model: type[Model], keys: Sequence[Any]
) -> list[tuple[Any, dict[str, Any]]]:
    """Return (key, row) of those rows of a model that are there."""
    found = []
    rows = model._base_manager.using(connection.alias).order_by()
    for start in range(0, len(keys), AT_ONCE):
        some = rows.filter(pk__in=keys[start : start + AT_ONCE])
        for key, *values in some.values_list("pk", *names_of(model)):
            found.append((key, row_of(model, values)))
    return found


class Compiler:
    """What of Django's compilers those below go by."""

    query: Any
    connection: Any

    def execute_sql(self, *args: Any, **kwargs: Any) -> Any:
        """Execute the statement."""
        return super().execute_sql(*args, **kwargs)  # type: ignore[misc]


class Insert(Compiler):
    """Inserts rows, and a leaf of each."""

    def execute_sql(self, *args: Any, **kwargs: Any) -> Any:
        model: type[Model] = self.query.get_meta().concrete_model
        if not is_kept(model, self.connection):
            return super().execute_sql(*args, **kwargs)
        with transaction.atomic(self.connection.alias, savepoint=False):
            # Those in the way stand in the journal already: only what this changes is told.
            before = {} if self.query.on_conflict is None else self._alike(model)
            rows = super().execute_sql(*args, **kwargs)
            returned = kwargs.get("returning_fields", args[0] if args else None)
            if self.query.on_conflict is not None or _has_expressions(self.query):
                now = self._alike(model)
                new = [(key, row) for key, row in now.items() if key not in before]
                other = [(k, row) for k, row in now.items() if before.get(k, row) != row]
                write(self.connection, model, Leaf.What.RECORDED, new)
                write(self.connection, model, Leaf.What.CHANGED, other, before)
            else:
                keys = _keys(model, self.query.objs, returned, rows)
                write(
                    self.connection, model, Leaf.What.RECORDED, _rows(model, self.query.objs, keys)
                )
        return rows

    def _alike(self, model: type[Model]) -> dict[Any, dict[str, Any]]:
        keys = _keys_alike(self.connection, model, self.query.objs)
        return dict(read_back(self.connection, model, keys))


def _rows(
    model: type[Model], records: Sequence[Any], keys: Sequence[Any]
) -> Iterable[tuple[Any, dict[str, Any]]]:
    names = names_of(model)
    place = names.index(model._meta.pk.attname)
    for record, key in zip(records, keys, strict=True):
        values = values_of(record)
        values[place] = key
        yield key, row_of(model, values)


def _keys(
    model: type[Model],
    records: Sequence[Any],
    returning_fields: Sequence[Field[Any, Any]] | None,
    rows: Sequence[Any],
) -> list[Any]:
    """Return the keys of rows just inserted: given, or returned by the database."""
    primary = model._meta.pk
    for number, field in enumerate(returning_fields or ()):
        if field.name == primary.name and rows:
            return [row[number] for row in rows]
    return [record.pk for record in records]


def _has_expressions(query: Any) -> bool:
    return any(
        hasattr(getattr(record, field.attname), "resolve_expression")
        for record in query.objs
        for field in query.fields
    )


def _keys_alike(connection: Any, model: type[Model], records: Sequence[Any]) -> list[Any]:
    """Return the keys of the rows that hold what was to be inserted, whichever was first."""
    meta = model._meta
    sets = [list(names) for names in meta.unique_together]
    sets += [list(c.fields) for c in meta.constraints if isinstance(c, UniqueConstraint)]
    sets += [[field.name] for field in meta.concrete_fields if field.unique]
    keys: list[Any] = []
    for record in records:
        alike = Q()
        for names in sets:
            fields: list[Any] = [meta.get_field(name) for name in names]
            values = {field.attname: getattr(record, field.attname) for field in fields}
            if values and None not in values.values():
                alike |= Q(**values)
        if alike:
            rows = model._base_manager.using(connection.alias).filter(alike)
            keys += rows.values_list("pk", flat=True)
    return keys


class Update(Compiler):
    """Changes rows, and writes a leaf of what each says now and which columns that changed."""

    def execute_sql(self, *args: Any, **kwargs: Any) -> Any:
        model: type[Model] = self.query.get_meta().concrete_model
        if not is_kept(model, self.connection) or not self._tells():
            return super().execute_sql(*args, **kwargs)
        with transaction.atomic(self.connection.alias, savepoint=False):
            key = _only_key(self.query)
            keys = _keys_of(self.query, self.connection) if key is None else [key]
            # What was altered behind Django's back is not told of as this change.
            before = dict(read_back(self.connection, model, keys))
            if key is None:
                changed = 0
                for start in range(0, len(keys), KEYS_AT_ONCE):
                    # Whatever others do meanwhile, these rows and no others are changed.
                    self.query.clear_where()
                    self.query.add_filter("pk__in", keys[start : start + KEYS_AT_ONCE])
                    changed += super().execute_sql(*args, **kwargs)
            else:
                changed = super().execute_sql(*args, **kwargs)
            if changed:
                now = read_back(self.connection, model, keys)
                write(self.connection, model, Leaf.What.CHANGED, now, before)
        return changed

    def _tells(self) -> bool:
        """Say whether anything a leaf tells of is to be changed."""
        left_out = LEFT_OUT.get(self.query.get_meta().label_lower, frozenset())
        return any(field.name not in left_out for field, _, _ in self.query.values)


class Delete(Compiler):
    """Removes rows, and writes a leaf that says so of each."""

    def execute_sql(self, *args: Any, **kwargs: Any) -> Any:
        model: type[Model] = self.query.get_meta().concrete_model
        if not is_kept(model, self.connection):
            return super().execute_sql(*args, **kwargs)
        with transaction.atomic(self.connection.alias, savepoint=False):
            keys = _keys_of(self.query, self.connection)
            gone = super().execute_sql(*args, **kwargs)
            write(self.connection, model, Leaf.What.REMOVED, [(key, None) for key in keys])
        return gone


def _only_key(query: Any) -> Any:
    """Return the key of the one row a query is about, where it says so outright; else None."""
    where = query.where
    if where.negated or where.connector != AND or len(where.children) != 1:
        return None
    (only,) = where.children
    is_key = isinstance(only, Exact) and getattr(only.lhs, "target", None) == query.get_meta().pk
    if not is_key or hasattr(only.rhs, "as_sql") or hasattr(only.rhs, "resolve_expression"):
        return None
    return only.rhs


def _keys_of(query: Any, connection: Any) -> list[Any]:
    """Return the keys of the rows a write is about, and lock them where the database can."""
    found = query.chain(klass=Query)
    found.get_initial_alias()
    found.select_related = False
    found.clear_ordering(force=True)
    found.extra = {}
    found.select = ()
    found.add_fields([query.get_meta().pk.name])
    found.select_for_update = sum(map(bool, found.alias_refcount.values())) == 1
    return [row[0] for row in found.get_compiler(connection=connection).results_iter()]
