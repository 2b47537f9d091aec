"""The database as one file, as it stood at one moment, and a database filled from it."""

from __future__ import annotations

import os
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.conf import settings
from django.db import connection
from django.utils import timezone

from fleet.aside import copied
from fleet.journal.snapshot import one_moment

ENGINES = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
# Whoever recorded anything is a person, and nobody is deleted.
_OF_PEOPLE = "auth_user"


class NoDatabase(Exception):
    """The database can't be copied, or can't be filled, and why."""


def engine() -> str:
    """Return the name of the database's engine."""
    return ENGINES[connection.vendor]


@contextmanager
def dumped() -> Iterator[Path]:
    """Give the database as a file. Every read in the block sees the moment of that file.

    Others go on reading and writing. Raises NoDatabase.
    """
    if connection.in_atomic_block:
        raise RuntimeError("a database is not copied inside a transaction, which others can't see")
    if connection.vendor == "sqlite":
        with copied():
            with connection.cursor() as cursor:
                cursor.execute("PRAGMA quick_check")
                (said,) = cursor.fetchone()
            if said != "ok":
                raise NoDatabase(f"The database is damaged: {said}.")
            yield Path(connection.settings_dict["NAME"])
        return
    with (
        TemporaryDirectory(prefix="backup-", dir=settings.VAR_DIR) as folder,
        one_moment(),
        connection.cursor() as cursor,
    ):
        cursor.execute("SELECT pg_export_snapshot()")
        (moment,) = cursor.fetchone()
        path = Path(folder) / "database"
        _run("pg_dump", "--format=custom", f"--snapshot={moment}", f"--file={path}")
        yield path


def is_filled() -> bool:
    """Whether the database holds records: anybody's, since nobody is deleted."""
    if _OF_PEOPLE not in connection.introspection.table_names():
        return False
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT EXISTS (SELECT 1 FROM {_OF_PEOPLE})")
        (found,) = cursor.fetchone()
    return bool(found)


def refuse_what_cant_be_filled(*, may_replace: bool) -> None:
    """Raise NoDatabase where a backup may not be put into the database of this site."""
    tables = connection.introspection.table_names()
    if connection.vendor == "postgresql" and tables:
        raise NoDatabase(
            f"The database {connection.settings_dict['NAME']} has tables already, and on "
            "PostgreSQL nothing is put over what is there: make a new one (createdb), name it in "
            "DATABASE_URL, restore, and drop the old one once all holds."
        )
    if is_filled() and not may_replace:
        raise NoDatabase(
            f"{connection.settings_dict['NAME']} holds records: nothing was restored. Name another "
            "place in LEDGER_VAR, or give --replace to put the backup in their place; what stands "
            "there now is then kept beside it."
        )


def fill(path: Path) -> Path | None:
    """Fill the database from a file of `dumped`, all or nothing.

    Return where what was there before is kept, None where nothing was.
    """
    if connection.vendor == "sqlite":
        return _fill_sqlite(path)
    _run("pg_restore", "--no-owner", "--no-privileges", "--single-transaction", last=str(path))
    connection.close()
    return None


def _fill_sqlite(path: Path) -> Path | None:
    kept: Path | None = None
    database: Any = connection
    database.ensure_connection()
    if is_filled():
        name = connection.settings_dict["NAME"]
        kept = Path(f"{name}.replaced-{timezone.now():%Y%m%d-%H%M%S}")
        with closing(sqlite3.connect(kept)) as before:
            database.connection.backup(before)
    with database.wrap_database_errors, closing(sqlite3.connect(path)) as source:
        # One transaction of the database that is filled.
        source.backup(database.connection)
    connection.close()
    return kept


def _run(program: str, *options: str, last: str = "") -> None:
    """Run a program of PostgreSQL's on the site's database. Raises NoDatabase in its words."""
    from django.db.backends.postgresql.client import DatabaseClient

    named, environment = DatabaseClient.settings_to_cmd_args_env(connection.settings_dict, [])
    # As Django names it to psql: its options, and the database at the end.
    *where, database = named[1:]
    command = [program, *options, *where, f"--dbname={database}", *([last] if last else [])]
    try:
        subprocess.run(
            command,
            env=os.environ | (environment or {}),
            check=True,
            capture_output=True,
            text=True,
            errors="replace",
        )
    except FileNotFoundError:
        raise NoDatabase(
            f"{program} is not on this machine: install PostgreSQL’s client programs, of the "
            "server’s release or later (Debian: apt-get install postgresql-client)."
        ) from None
    except subprocess.CalledProcessError as trouble:
        said = " ".join(trouble.stderr.split())[:600] or f"exit {trouble.returncode}"
        raise NoDatabase(f"{program} failed: {said}") from None
