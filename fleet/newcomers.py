"""What was entered a moment ago, in this same transaction, and what nothing on record names yet.

A register enters a housing, then asks of it what an old one may have: mountings, inspections,
transfers, hires. While many facts are recorded together, every row that Django writes comes by
here, so that it is known which keys the database has given out since, and which of them a row
names. Nobody else sees such a row before the transaction ends, so nobody else can name it: a
question for rows that name it is answered, none, without asking the database.

Only keys that the database chose count as entered: one that was given may be named already. Of a
row that was written and undone again it goes on being said that it names what it named: that costs
a question, never a wrong answer.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import Aggregate, Field, Func, Model
from django.db.models.expressions import RawSQL
from django.db.models.lookups import Exact, In
from django.db.models.sql import Query
from django.db.models.sql.constants import MULTI, SINGLE
from django.db.models.sql.where import AND, OR, WhereNode

from fleet import together
from fleet.questions import Later, asked_with

# Of a column some of whose values nobody can tell, such as of one set by an expression.
ANY_KEY = object()


class Newcomers:
    """Keys given out since many facts began to be recorded together, and what names them."""

    def __init__(self) -> None:
        self._entered: set[tuple[type[Model], Any]] = set()
        self._named: set[tuple[type[Model], str, Any]] = set()

    def enter(self, model: type[Model], keys: Iterable[Any]) -> None:
        """Take in keys that the database gave to new rows of a model."""
        self._entered.update((model, key) for key in keys)

    def name(self, field: Field[Any, Any], value: Any) -> None:
        """Take in that a row names a key in a column."""
        if isinstance(value, Model):
            value = getattr(value, field.target_field.attname)  # type: ignore[attr-defined]
        elif hasattr(value, "resolve_expression"):
            value = ANY_KEY
        if value is not None:
            key = value if value is ANY_KEY else field.to_python(value)
            self._named.add((field.model, field.attname, key))

    def is_named_by_none(self, field: Field[Any, Any], key: Any) -> bool:
        """Say whether a key was given out here and no row names it in a column."""
        target = field.target_field  # type: ignore[attr-defined]
        if not target.primary_key or (target.model._meta.concrete_model, key) not in self._entered:
            return False
        return not {(field.model, field.attname, each) for each in (key, ANY_KEY)} & self._named


def newcomers(alias: str) -> Newcomers | None:
    """Return what is known of newcomers to a database, None where nothing is recorded together."""
    if not together.is_recording():
        return None
    return together.once((together.NEWCOMERS, alias), Newcomers)


class Insert:
    """Takes in the keys of rows inserted, and what they name."""

    query: Any
    connection: Any

    def execute_sql(self, *args: Any, **kwargs: Any) -> Any:
        """Execute the statement."""
        known = newcomers(self.connection.alias)
        if known is None:
            return super().execute_sql(*args, **kwargs)  # type: ignore[misc]
        meta = self.query.get_meta()
        # First: the journal reads the rows back by what they name, before this has returned.
        for field in _naming(meta):
            for record in self.query.objs:
                known.name(field, getattr(record, field.attname))
        rows = super().execute_sql(*args, **kwargs)  # type: ignore[misc]
        # In place of a row in the way, the key of that old one is returned.
        if self.query.on_conflict is None:
            returned = kwargs.get("returning_fields", args[0] if args else None)
            for number, field in enumerate(returned or ()):
                if field.primary_key and field not in self.query.fields:
                    known.enter(meta.concrete_model, (row[number] for row in rows))
        return rows


class Update:
    """Takes in what rows name by a change."""

    query: Any
    connection: Any

    def execute_sql(self, *args: Any, **kwargs: Any) -> Any:
        """Execute the statement."""
        known = newcomers(self.connection.alias)
        if known is not None:
            for field, _, value in self.query.values:
                if field.is_relation:
                    known.name(field, value)
        return super().execute_sql(*args, **kwargs)  # type: ignore[misc]


class Select:
    """Asks nothing where only rows would do that name what no row names."""

    query: Any
    connection: Any
    elide_empty: Any
    select: Any
    col_count: Any
    klass_info: Any
    annotation_col_map: Any

    def execute_sql(self, *args: Any, **kwargs: Any) -> Any:
        """Execute the statement, unless no row can be found by it."""
        result_type = kwargs.get("result_type", args[0] if args else MULTI)
        known = newcomers(self.connection.alias) if result_type in (MULTI, SINGLE) else None
        # Where it isn't set, a row is asked for even where none is found.
        if known is None or not self.elide_empty or not _finds_none(self.query, known, {}):
            return super().execute_sql(*args, **kwargs)  # type: ignore[misc]
        if result_type == SINGLE:
            return None
        # What Django looks at before it looks at the first row.
        model = self.query.model
        self.select, self.col_count, self.annotation_col_map = [], 0, {}
        self.klass_info = {"model": model, "select_fields": [0]}
        return iter(())


def _naming(meta: Any) -> list[Any]:
    return [field for field in meta.concrete_fields if field.is_relation]


def _finds_none(query: Any, known: Newcomers, values: Mapping[str, Any]) -> bool:
    if query.combinator or query.explain_info is not None or query.extra:
        return False
    if any(map(_may_make_a_row, query.annotation_select.values())):
        return False
    values = asked_with(query) or values
    return _holds_for_none(query.where, known, values)


def _may_make_a_row(annotation: Any) -> bool:
    """Say whether it may be a function of all rows, which gives a row where there are none.

    Of Django's own aggregates that is known otherwise: by groups, or as told where it is asked.
    """
    return any(
        isinstance(each, RawSQL) or (isinstance(each, Func) and not isinstance(each, Aggregate))
        for each in annotation.flatten()
    )


def _holds_for_none(condition: Any, known: Newcomers, values: Mapping[str, Any]) -> bool:
    """Say whether a condition, or a part without which it can't hold, names what nothing names.

    values: what it is asked with, where it is of a question.
    """
    if isinstance(condition, WhereNode):
        if condition.negated or not condition.children:
            return False
        each = (_holds_for_none(child, known, values) for child in condition.children)
        if condition.connector == AND:
            return any(each)
        return condition.connector == OR and all(each)
    if not isinstance(condition, Exact | In):
        return False
    field = getattr(condition.lhs, "target", None)
    if isinstance(condition, In) and isinstance(condition.rhs, Query):
        return _finds_none(condition.rhs, known, values)
    keys = condition.rhs if isinstance(condition, In) else [condition.rhs]
    if field is None or not field.is_relation or not isinstance(keys, list | tuple | set):
        return False
    given = (key.of(values) if isinstance(key, Later) else key for key in keys)
    return all(known.is_named_by_none(field, key) for key in given)
