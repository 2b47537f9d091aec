"""Databases that benchmarks fill, each once, and throw away at the end."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Hashable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

from django.core.management import call_command
from django.db import DEFAULT_DB_ALIAS, connections

from fleet.aside import COPY

T = TypeVar("T")


@dataclass
class Filled(Generic[T]):
    """A database, and what stands in it."""

    connection: Any
    holds: T

    @contextmanager
    def used(self) -> Iterator[T]:
        """Let all that asks the database ask this one."""
        with _instead(self.connection):
            yield self.holds

    @contextmanager
    def opened_anew(self) -> Iterator[None]:
        """Use it by a connection of its own: one that a fork carried over must not be used."""
        connection = _beside(self.connection, self.connection.settings_dict["NAME"])
        with _instead(connection):
            yield
        connection.close()


class Databases:
    """A migrated database, and copies of it to fill.

    like: the migrated, empty database to copy; where none is named one is migrated, which takes
    half a minute. folder: where files of SQLite lie.
    """

    def __init__(self, folder: Path, like: str = "") -> None:
        self._real = connections[DEFAULT_DB_ALIAS]
        self._folder = folder
        self._is_file = self._real.vendor == "sqlite"
        self._made: list[str] = []
        self._filled: dict[Hashable, Filled[Any]] = {}
        self._empty = like or self._migrated()

    def filled(self, key: Hashable, fill: Callable[[], T]) -> Filled[T]:
        """Return a database filled by a function, under a key, so that it is filled once.

        The rows that fill it have no leaves in the journal, as writing those takes longer than
        all else; what is measured writes them.
        """
        if key not in self._filled:
            connection = _beside(self._real, self._copy(self._empty))
            setattr(connection, COPY, True)
            with _instead(connection):
                holds = fill()
            connection.close()
            delattr(connection, COPY)
            self._filled[key] = Filled(connection, holds)
        found: Filled[T] = self._filled[key]
        return found

    @contextmanager
    def copied(self, filled: Filled[T]) -> Iterator[T]:
        """Let all that asks the database ask a copy of a filled one, and throw it away after.

        So that what is measured may be recorded in earnest, again and again.
        """
        # PostgreSQL copies no database that somebody is connected to.
        filled.connection.close()
        name = self._copy(filled.connection.settings_dict["NAME"])
        connection = _beside(self._real, name)
        try:
            with _instead(connection):
                yield filled.holds
        finally:
            connection.close()
            self._throw_away(name)

    def close(self) -> None:
        """Throw them all away."""
        for each in self._filled.values():
            each.connection.close()
        if not self._is_file:
            for name in self._made:
                self._throw_away(name)

    def _migrated(self) -> str:
        name = self._named()
        if not self._is_file:
            self._on_the_server(f"CREATE DATABASE {self._quoted(name)}")
        connection = _beside(self._real, name)
        with _instead(connection):
            call_command("migrate", verbosity=0)
        connection.close()
        return name

    def _copy(self, source: str) -> str:
        name = self._named()
        if self._is_file:
            # With what its log holds yet, whoever has it open.
            with closing(sqlite3.connect(source)) as whole, closing(sqlite3.connect(name)) as copy:
                whole.backup(copy)
        else:
            self._on_the_server(
                f"CREATE DATABASE {self._quoted(name)} TEMPLATE {self._quoted(source)}"
            )
        return name

    def _throw_away(self, name: str) -> None:
        if self._is_file:
            for ending in ("", "-wal", "-shm"):
                Path(name + ending).unlink(missing_ok=True)
        else:
            self._on_the_server(f"DROP DATABASE IF EXISTS {self._quoted(name)}")

    def _named(self) -> str:
        name = f"benchmark_{self._folder.name.lower()}_{len(self._made)}"
        self._made.append(str(self._folder / f"{name}.sqlite3") if self._is_file else name)
        return self._made[-1]

    def _quoted(self, name: str) -> str:
        quoted: str = self._real.ops.quote_name(name)
        return quoted

    def _on_the_server(self, statement: str) -> None:
        with self._real._nodb_cursor() as cursor:
            cursor.execute(statement)


def _beside(connection: Any, name: str) -> Any:
    return type(connection)({**connection.settings_dict, "NAME": name}, DEFAULT_DB_ALIAS)


@contextmanager
def _instead(connection: Any) -> Iterator[None]:
    real = connections[DEFAULT_DB_ALIAS]
    connections[DEFAULT_DB_ALIAS] = connection
    try:
        yield
    finally:
        connections[DEFAULT_DB_ALIAS] = real
