"""Steps of migrations: rules about a table's rows that the database itself keeps.

SQLite rebuilds a table when a later migration alters it, and loses its triggers with the old
one: such a migration must end with its guards again.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from django.apps import apps
from django.db import connection
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.operations.base import Operation
from django.db.models import Model, UniqueConstraint


class Guard(Operation):
    """A rule on the rows of one model, laid down in SQL and lifted again; no model changes."""

    reversible = True
    reduces_to_sql = True

    def __init__(self, model_name: str) -> None:
        self.model_name = model_name

    def install_statements(self, vendor: str, model: type[Model]) -> Iterator[str]:
        """Yield the SQL that lays the rule down. Raises NotImplementedError for a vendor it
        isn't written for.
        """
        raise NotImplementedError

    def removal_statements(self, vendor: str, model: type[Model]) -> Iterator[str]:
        """Yield the SQL that lifts what install_statements laid down."""
        raise NotImplementedError

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
        _execute(schema_editor, self.install_statements(schema_editor.connection.vendor, model))

    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: Any,
        to_state: Any,
    ) -> None:
        model = from_state.apps.get_model(app_label, self.model_name)
        _execute(schema_editor, self.removal_statements(schema_editor.connection.vendor, model))


def _execute(schema_editor: BaseDatabaseSchemaEditor, statements: Iterator[str]) -> None:
    for statement in statements:
        # No parameters, not even none: psycopg would take the % in RAISE for a placeholder.
        schema_editor.execute(statement, params=None)


class AppendOnly(Guard):
    """Let rows of a model be inserted and read, never updated or deleted.

    On PostgreSQL the table can't be truncated either. but_for: fields that may be changed all the
    same, being worked out from other records, such as what hung on what at a time.
    """

    refusal = "is append-only: rows are never changed or removed"
    # What PostgreSQL's triggers call.
    function_body = (
        f"BEGIN RAISE EXCEPTION '% {refusal}', TG_TABLE_NAME "
        "USING ERRCODE = 'integrity_constraint_violation'; END"
    )

    def __init__(self, model_name: str, but_for: tuple[str, ...] = ()) -> None:
        super().__init__(model_name)
        self.but_for = but_for

    def install_statements(self, vendor: str, model: type[Model]) -> Iterator[str]:
        table, update = model._meta.db_table, self._update_event(model)
        if vendor == "sqlite":
            yield self._sqlite_trigger(table, "update", f"BEFORE {update}", "")
            yield self._sqlite_trigger(table, "delete", "BEFORE DELETE", "")
            # INSERT OR REPLACE removes the row in its way without a word to the DELETE trigger.
            yield self._sqlite_trigger(table, "replace", "BEFORE INSERT", _when_in_the_way(model))
        elif vendor == "postgresql":
            yield (
                "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$ "
                f"{self.function_body} $$"
            )
            yield (
                f"CREATE OR REPLACE TRIGGER {table}_no_change BEFORE {update} OR DELETE ON {table} "
                "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
            )
            yield (
                f"CREATE OR REPLACE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
                "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
            )
        else:
            raise NotImplementedError(f"No append-only triggers are written for {vendor}.")

    def removal_statements(self, vendor: str, model: type[Model]) -> Iterator[str]:
        on_table = "" if vendor == "sqlite" else f" ON {model._meta.db_table}"
        for name in self.trigger_names(vendor, model):
            yield f"DROP TRIGGER IF EXISTS {name}{on_table}"

    def trigger_names(self, vendor: str, model: type[Model]) -> list[str]:
        """Return the names of the triggers it lays down."""
        verbs = ("update", "delete", "replace") if vendor == "sqlite" else ("change", "truncate")
        return [f"{model._meta.db_table}_no_{verb}" for verb in verbs]

    def stands_as_laid(self, vendor: str, model: type[Model], name: str, text: str) -> bool:
        """Say whether a trigger of it, as the database tells it, refuses all that it was to refuse.

        It may refuse more: of columns and keys that are gone since it was laid.
        """
        table, verb = model._meta.db_table, name.rsplit("_", 1)[-1]
        told = " ".join(text.replace('"', "").split())
        if vendor == "sqlite":
            begin = f"CREATE TRIGGER {name} BEFORE "
            end = f" BEGIN SELECT RAISE(ABORT, '{table} {self.refusal}'); END"
            on = f" ON {table}"
        else:
            begin = f"CREATE TRIGGER {name[:63]} BEFORE "
            each = "STATEMENT" if verb == "truncate" else "ROW"
            end = f" FOR EACH {each} EXECUTE FUNCTION refuse_change()"
            on = f" ON public.{table}"
        if not told.startswith(begin) or not told.endswith(end):
            return False
        event, is_on, condition = told[len(begin) : -len(end)].partition(on)
        if not is_on:
            return False
        if verb == "replace":
            return event == "INSERT" and self._sees_what_is_in_the_way(model, condition.strip())
        if condition.strip():
            return False
        if verb == "update":
            return self._covers(model, event)
        if verb == "change":
            return event.startswith("DELETE OR ") and self._covers(
                model, event.removeprefix("DELETE OR ")
            )
        return event == verb.upper()

    def _covers(self, model: type[Model], event: str) -> bool:
        """Say whether an event is an update of all columns that this guards, or of any."""
        if event == "UPDATE":
            return True
        if not self.but_for or not event.startswith("UPDATE OF "):
            return False
        return _columns_of(self._update_event(model)) <= _columns_of(event)

    def _sees_what_is_in_the_way(self, model: type[Model], condition: str) -> bool:
        wanted = _when_in_the_way(model).replace('"', "")
        if not condition.startswith("WHEN "):
            return False
        keys, found = (each.removeprefix("WHEN ").split(" OR ") for each in (wanted, condition))
        in_the_way = _key_in_the_way(model._meta.db_table)
        return set(keys) <= set(found) and all(map(in_the_way.fullmatch, found))

    def _update_event(self, model: type[Model]) -> str:
        """Return what an update that is refused is, in SQL: of any column, or of most."""
        if not self.but_for:
            return "UPDATE"
        fields = [field for field in model._meta.concrete_fields if field.name not in self.but_for]
        return "UPDATE OF " + ", ".join(f'"{field.column}"' for field in fields)

    def _sqlite_trigger(self, table: str, verb: str, event: str, when: str) -> str:
        return (
            f"CREATE TRIGGER IF NOT EXISTS {table}_no_{verb} {event} ON {table} {when} "
            f"BEGIN SELECT RAISE(ABORT, '{table} {self.refusal}'); END"
        )

    def describe(self) -> str:
        return f"Refuse changes to rows of {self.model_name}"

    @property
    def migration_name_fragment(self) -> str:
        return f"append_only_{self.model_name.lower()}"


class AppendOnlyAnew(AppendOnly):
    """Lay AppendOnly down again, where what it says has changed; backwards, what stands stays."""

    def install_statements(self, vendor: str, model: type[Model]) -> Iterator[str]:
        yield from super().removal_statements(vendor, model)
        yield from super().install_statements(vendor, model)

    def database_backwards(
        self, app_label: str, schema_editor: BaseDatabaseSchemaEditor, from_state: Any, state: Any
    ) -> None:
        """Lift nothing: it stood before."""


def _columns_of(event: str) -> set[str]:
    return set(event.replace('"', "").removeprefix("UPDATE OF ").split(", "))


def _key_in_the_way(table: str) -> re.Pattern[str]:
    """Return what a look for a row of the same key is, in SQL: of one column, or of several."""
    return re.compile(
        rf"EXISTS \(SELECT 1 FROM {table} WHERE (\w+) = NEW\.\1(?: AND (\w+) = NEW\.\2)*\)"
    )


def append_only_guards() -> dict[type[Model], AppendOnly]:
    """Return every model whose table migrations made append-only, and the guard that stands."""
    migrations = MigrationLoader(None, ignore_no_migrations=True).disk_migrations
    return {
        apps.get_model(app_label, operation.model_name): operation
        # The last guard laid on a table is the one that stands.
        for (app_label, _), migration in sorted(migrations.items())
        for operation in migration.operations
        if isinstance(operation, AppendOnly)
    }


def missing_triggers() -> list[str]:
    """Return the names of triggers that the migrations laid down and the database lacks.

    Also of those that stand and do something else: what they do is read, not what they are called.
    """
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        else:
            # Those that fire in a session like any other, by a function that refuses.
            cursor.execute(
                "SELECT tgname, pg_get_triggerdef(pg_trigger.oid) FROM pg_trigger "
                "JOIN pg_proc ON pg_proc.oid = tgfoid WHERE NOT tgisinternal "
                "AND tgenabled IN ('O', 'A') AND btrim(prosrc) = %s",
                [AppendOnly.function_body],
            )
        found = dict(cursor.fetchall())
    lacking = []
    for model, guard in append_only_guards().items():
        for name in guard.trigger_names(connection.vendor, model):
            # PostgreSQL cuts names at 63 characters.
            text = found.get(name, found.get(name[:63]))
            if text is None or not guard.stands_as_laid(connection.vendor, model, name, text):
                lacking.append(name)
    return sorted(lacking)


class LiftAppendOnly(Guard):
    """Let rows of a model be changed by the steps that follow, until AppendOnly is laid down again.

    For a migration that fills a new column of what is on record already.
    """

    def install_statements(self, vendor: str, model: type[Model]) -> Iterator[str]:
        yield from AppendOnly(self.model_name).removal_statements(vendor, model)

    def removal_statements(self, vendor: str, model: type[Model]) -> Iterator[str]:
        yield from AppendOnly(self.model_name).install_statements(vendor, model)

    def describe(self) -> str:
        return f"Let rows of {self.model_name} be changed"

    @property
    def migration_name_fragment(self) -> str:
        return f"lift_{self.model_name.lower()}"


class KeepNamed(Guard):
    """Let rows of these names be neither removed nor renamed, such as the groups of the roles.

    app_label: of the model, where that is another app's than the migration's.
    """

    refusal = "keeps this row and its name: the site rests on it"
    function_body = (
        f"BEGIN RAISE EXCEPTION '% {refusal}', TG_TABLE_NAME "
        "USING ERRCODE = 'integrity_constraint_violation'; END"
    )

    def __init__(self, model_name: str, names: Iterable[str], app_label: str) -> None:
        super().__init__(model_name)
        self.names = tuple(names)
        self.app_label = app_label

    def database_forwards(
        self, _app_label: str, schema_editor: BaseDatabaseSchemaEditor, from_state: Any, state: Any
    ) -> None:
        super().database_forwards(self.app_label, schema_editor, from_state, state)

    def database_backwards(
        self, _app_label: str, schema_editor: BaseDatabaseSchemaEditor, from_state: Any, state: Any
    ) -> None:
        super().database_backwards(self.app_label, schema_editor, from_state, state)

    def install_statements(self, vendor: str, model: type[Model]) -> Iterator[str]:
        table = model._meta.db_table
        listed = ", ".join(f"'{name}'" for name in self.names)
        events = {
            "removal": ("DELETE", f"OLD.name IN ({listed})"),
            "rename": ("UPDATE OF name", f"OLD.name IN ({listed}) AND NEW.name <> OLD.name"),
        }
        if vendor == "postgresql":
            yield (
                "CREATE OR REPLACE FUNCTION keep_named() RETURNS trigger LANGUAGE plpgsql AS $$ "
                f"{self.function_body} $$"
            )
        elif vendor != "sqlite":
            raise NotImplementedError(f"No keeping of names is written for {vendor}.")
        for what, (event, condition) in events.items():
            trigger = f"{table}_no_{what} BEFORE {event} ON {table}"
            if vendor == "sqlite":
                yield (
                    f"CREATE TRIGGER IF NOT EXISTS {trigger} WHEN {condition} "
                    f"BEGIN SELECT RAISE(ABORT, '{table} {self.refusal}'); END"
                )
            else:
                yield (
                    f"CREATE OR REPLACE TRIGGER {trigger} FOR EACH ROW WHEN ({condition}) "
                    "EXECUTE FUNCTION keep_named()"
                )

    def removal_statements(self, vendor: str, model: type[Model]) -> Iterator[str]:
        table = model._meta.db_table
        on_table = "" if vendor == "sqlite" else f" ON {table}"
        for what in ("removal", "rename"):
            yield f"DROP TRIGGER IF EXISTS {table}_no_{what}{on_table}"

    def describe(self) -> str:
        return f"Keep {', '.join(self.names)} among {self.model_name}"

    @property
    def migration_name_fragment(self) -> str:
        return f"keep_named_{self.model_name.lower()}"


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
    # Each key is looked up by itself. Under one WHERE, SQLite reads the whole table for every row
    # once its statistics (ANALYZE) tell of a table that was small.
    return "WHEN " + " OR ".join(
        f"EXISTS (SELECT 1 FROM {meta.db_table} WHERE "
        + " AND ".join(f'"{column}" = NEW."{column}"' for column in key)
        + ")"
        for key in keys
    )


class RefuseOverlap(Guard):
    """Let no two rows of one owner, neither with a released_at, hold the same day.

    Days run from first_day to last_day, both included. On PostgreSQL an exclusion constraint, on
    SQLite a trigger: SQLite has one writer at a time, so there a look before the write is as good.
    """

    refusal = "is held by another commitment on some of these days"

    def __init__(self, model_name: str, owner: str) -> None:
        super().__init__(model_name)
        self.owner = owner

    def install_statements(self, vendor: str, model: type[Model]) -> Iterator[str]:
        owner, table, column = self.owner, model._meta.db_table, f"{self.owner}_id"
        if vendor == "sqlite":
            for verb in ("insert", "update"):
                yield (
                    f"CREATE TRIGGER IF NOT EXISTS {table}_{owner}_{verb} BEFORE {verb.upper()} "
                    f"ON {table} WHEN NEW.released_at IS NULL AND EXISTS (SELECT 1 FROM {table} "
                    f"other WHERE other.{column} = NEW.{column} AND other.released_at IS NULL "
                    "AND other.first_day <= NEW.last_day AND other.last_day >= NEW.first_day "
                    "AND other.id IS NOT NEW.id) "
                    f"BEGIN SELECT RAISE(ABORT, '{owner} {self.refusal}'); END"
                )
        elif vendor == "postgresql":
            yield "CREATE EXTENSION IF NOT EXISTS btree_gist"
            # Laid down anew where a migration ends with it again, as SQLite needs it.
            yield f"ALTER TABLE {table} DROP CONSTRAINT IF EXISTS {table}_{owner}_no_overlap"
            yield (
                f"ALTER TABLE {table} ADD CONSTRAINT {table}_{owner}_no_overlap EXCLUDE USING gist "
                f"({column} WITH =, daterange(first_day, last_day, '[]') WITH &&) "
                "WHERE (released_at IS NULL)"
            )
        else:
            raise NotImplementedError(f"No refusal of overlaps is written for {vendor}.")

    def removal_statements(self, vendor: str, model: type[Model]) -> Iterator[str]:
        table = model._meta.db_table
        if vendor == "sqlite":
            for verb in ("insert", "update"):
                yield f"DROP TRIGGER IF EXISTS {table}_{self.owner}_{verb}"
        else:
            yield f"ALTER TABLE {table} DROP CONSTRAINT IF EXISTS {table}_{self.owner}_no_overlap"

    def describe(self) -> str:
        return f"Refuse overlapping days of one {self.owner} in {self.model_name}"

    @property
    def migration_name_fragment(self) -> str:
        return f"no_overlap_{self.model_name.lower()}_{self.owner}"


def refuse_names_alike(app: str, *fields: tuple[str, str]) -> Callable[[Any, Any], None]:
    """Return a step, for RunPython, before names are held to be given once whatever their capitals.

    It raises RuntimeError with the names to change where any differ in small and capital letters
    alone. fields: (model, field of its name).
    """

    def look(apps: Any, schema_editor: Any) -> None:
        alike = []
        for model, field in fields:
            seen: dict[str, str] = {}
            for name in apps.get_model(app, model).objects.values_list(field, flat=True):
                other = seen.setdefault(name.lower(), name)
                alike += [f"{model} “{other}” and “{name}”"] if other != name else []
        if alike:
            raise RuntimeError(
                f"These differ in small and capital letters alone: {'; '.join(alike)}. Go back to "
                "the version before, give one of each another name, then migrate again."
            )

    return look
