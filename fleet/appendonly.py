"""A migration operation that makes the database itself refuse to alter a table's rows.

SQLite rebuilds a table when a later migration alters it, and loses its triggers with the
old one: such a migration must end with this operation again.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations.base import Operation
from django.db.models import Model, UniqueConstraint

REFUSAL = "is append-only: rows are never changed or removed"


def install_statements(vendor: str, model: type[Model]) -> Iterator[str]:
    """Yield the SQL that forbids UPDATE and DELETE (on PostgreSQL also TRUNCATE)."""
    table = model._meta.db_table
    if vendor == "sqlite":
        for verb in ("update", "delete"):
            yield _sqlite_trigger(table, verb, f"BEFORE {verb.upper()}", "")
        # INSERT OR REPLACE removes the row in its way without a word to the DELETE trigger.
        yield _sqlite_trigger(table, "replace", "BEFORE INSERT", _when_in_the_way(model))
    elif vendor == "postgresql":
        yield (
            "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$ "
            f"BEGIN RAISE EXCEPTION '% {REFUSAL}', TG_TABLE_NAME "
            "USING ERRCODE = 'integrity_constraint_violation'; END $$"
        )
        yield (
            f"CREATE OR REPLACE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
        )
        yield (
            f"CREATE OR REPLACE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
        )
    else:
        raise NotImplementedError(f"No append-only triggers are written for {vendor}.")


def removal_statements(vendor: str, model: type[Model]) -> Iterator[str]:
    """Yield the SQL that lifts what install_statements laid down."""
    table = model._meta.db_table
    if vendor == "sqlite":
        for verb in ("update", "delete", "replace"):
            yield f"DROP TRIGGER IF EXISTS {table}_no_{verb}"
    else:
        for verb in ("change", "truncate"):
            yield f"DROP TRIGGER IF EXISTS {table}_no_{verb} ON {table}"


def _sqlite_trigger(table: str, verb: str, event: str, when: str) -> str:
    return (
        f"CREATE TRIGGER IF NOT EXISTS {table}_no_{verb} {event} ON {table} {when} "
        f"BEGIN SELECT RAISE(ABORT, '{table} {REFUSAL}'); END"
    )


def _when_in_the_way(model: type[Model]) -> str:
    """Return the condition that a row stands where a new one would have to replace it."""
    meta = model._meta
    columns = {field.name: field.column for field in meta.concrete_fields}
    keys = [[field.column] for field in meta.concrete_fields if field.unique]
    keys += [
        [columns[name] for name in constraint.fields]
        for constraint in meta.constraints
        if isinstance(constraint, UniqueConstraint) and constraint.condition is None
    ]
    same = " OR ".join(
        "(" + " AND ".join(f'"{column}" = NEW."{column}"' for column in key) + ")" for key in keys
    )
    return f"WHEN EXISTS (SELECT 1 FROM {meta.db_table} WHERE {same})"


class AppendOnly(Operation):
    """Let rows of a model be inserted and read, never updated or deleted."""

    reversible = True
    reduces_to_sql = True

    def __init__(self, model_name: str) -> None:
        self.model_name = model_name

    def state_forwards(self, app_label: str, state: Any) -> None:
        """Change no model: the rule lives in the database alone."""

    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: Any,
        to_state: Any,
    ) -> None:
        model = to_state.apps.get_model(app_label, self.model_name)
        for statement in install_statements(schema_editor.connection.vendor, model):
            # No parameters, not even none: psycopg would take the % in RAISE for a placeholder.
            schema_editor.execute(statement, params=None)

    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: Any,
        to_state: Any,
    ) -> None:
        model = from_state.apps.get_model(app_label, self.model_name)
        for statement in removal_statements(schema_editor.connection.vendor, model):
            schema_editor.execute(statement, params=None)

    def describe(self) -> str:
        return f"Refuse changes to rows of {self.model_name}"

    @property
    def migration_name_fragment(self) -> str:
        return f"append_only_{self.model_name.lower()}"
