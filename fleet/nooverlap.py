"""A migration operation that makes the database refuse spans of days that overlap.

On PostgreSQL an exclusion constraint, on SQLite a trigger: SQLite has one writer at a time, so
there a look before the write is as good. SQLite rebuilds a table when a later migration alters
it, and loses its triggers: such a migration must end with this operation again.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations.base import Operation
from django.db.models import Model

REFUSAL = "is held by another commitment on some of these days"


def install_statements(vendor: str, model: type[Model], owner: str) -> Iterator[str]:
    """Yield the SQL that refuses a row whose days overlap those of another of one owner.

    Rows with a released_at count no more. Days run from first_day to last_day, both included.
    """
    table, column = model._meta.db_table, f"{owner}_id"
    if vendor == "sqlite":
        for verb in ("insert", "update"):
            yield (
                f"CREATE TRIGGER IF NOT EXISTS {table}_{owner}_{verb} BEFORE {verb.upper()} "
                f"ON {table} WHEN NEW.released_at IS NULL AND EXISTS (SELECT 1 FROM {table} other "
                f"WHERE other.{column} = NEW.{column} AND other.released_at IS NULL "
                "AND other.first_day <= NEW.last_day AND other.last_day >= NEW.first_day "
                f"AND other.id IS NOT NEW.id) BEGIN SELECT RAISE(ABORT, '{owner} {REFUSAL}'); END"
            )
    elif vendor == "postgresql":
        yield "CREATE EXTENSION IF NOT EXISTS btree_gist"
        yield (
            f"ALTER TABLE {table} ADD CONSTRAINT {table}_{owner}_no_overlap EXCLUDE USING gist "
            f"({column} WITH =, daterange(first_day, last_day, '[]') WITH &&) "
            "WHERE (released_at IS NULL)"
        )
    else:
        raise NotImplementedError(f"No refusal of overlaps is written for {vendor}.")


def removal_statements(vendor: str, model: type[Model], owner: str) -> Iterator[str]:
    """Yield the SQL that lifts what install_statements laid down."""
    table = model._meta.db_table
    if vendor == "sqlite":
        for verb in ("insert", "update"):
            yield f"DROP TRIGGER IF EXISTS {table}_{owner}_{verb}"
    else:
        yield f"ALTER TABLE {table} DROP CONSTRAINT IF EXISTS {table}_{owner}_no_overlap"


class RefuseOverlap(Operation):
    """Let no two rows of one owner, neither released, hold the same day."""

    reversible = True
    reduces_to_sql = True

    def __init__(self, model_name: str, owner: str) -> None:
        self.model_name, self.owner = model_name, owner

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
        for statement in install_statements(schema_editor.connection.vendor, model, self.owner):
            schema_editor.execute(statement, params=None)

    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: Any,
        to_state: Any,
    ) -> None:
        model = from_state.apps.get_model(app_label, self.model_name)
        for statement in removal_statements(schema_editor.connection.vendor, model, self.owner):
            schema_editor.execute(statement, params=None)

    def describe(self) -> str:
        return f"Refuse overlapping days of one {self.owner} in {self.model_name}"

    @property
    def migration_name_fragment(self) -> str:
        return f"no_overlap_{self.model_name.lower()}_{self.owner}"
