"""Restore: a backup read to its end, then its files put in place, and its database last."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from tempfile import SpooledTemporaryFile, TemporaryDirectory
from typing import BinaryIO

from django.conf import settings
from django.core.files import File
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from fleet.aside import is_full
from fleet.journal.spelling import file_hash
from ratings.backup.cipher import WrongPassphrase
from ratings.backup.databases import (
    NoDatabase,
    engine,
    fill,
    refuse_what_cant_be_filled,
)
from ratings.backup.package import (
    DATABASE,
    FILES,
    Contents,
    NeedsPassphrase,
    NoBackup,
    read_package,
)

# Kept in memory up to so much of a file, on disk beyond.
_IN_MEMORY = 2**23
_NAMED = 5


class NotRestored(Exception):
    """Nothing was restored, or not all of it: in words that say which."""


def check(path: Path, passphrase: str = "") -> Contents:
    """Read a backup to its end and return what it holds. Raises NotRestored."""
    return _read(path, passphrase, lambda _name, _file: None)


def restore(
    path: Path,
    *,
    passphrase: str = "",
    may_replace: bool = False,
    say: Callable[[str], None],
) -> Contents:
    """Put a backup into this site: its files first, its database last, all or nothing of that.

    say: told of each step. An older release's tables are brought to this one's. The caller then
    verifies the record. Raises NotRestored.
    """
    try:
        refuse_what_cant_be_filled(may_replace=may_replace)
        with TemporaryDirectory(prefix="restore-", dir=settings.VAR_DIR) as folder:
            database = Path(folder) / DATABASE

            def keep_database(name: str, file: BinaryIO) -> None:
                if name == DATABASE:
                    with database.open("wb") as out:
                        shutil.copyfileobj(file, out)

            contents = _read(path, passphrase, keep_database)
            say(
                f"{path} is whole: {len(contents.files)} files, "
                f"and a database of {contents.engine}."
            )
            _refuse_another_site_s(contents)
            wanting = _wanting(contents, may_replace)
            if wanting:
                _read(path, passphrase, lambda name, file: _put(name, file, wanting))
            say(f"{len(wanting)} files are put in place; the others were there.")
            kept = fill(database)
    except NoDatabase as trouble:
        raise NotRestored(str(trouble)) from trouble
    except (OSError, DatabaseError) as trouble:
        raise NotRestored(_words(trouble)) from trouble
    if kept is not None:
        say(f"What was there before is kept as {kept}.")
    say("The database is filled.")
    _bring_up_to_date(say)
    return contents


def _read(path: Path, passphrase: str, take: Callable[[str, BinaryIO], None]) -> Contents:
    try:
        return read_package(path, passphrase, take)
    except WrongPassphrase:
        raise NotRestored(
            f"The passphrase is not the one {path} was encrypted with: nothing was restored."
        ) from None
    except NeedsPassphrase:
        raise NotRestored(
            f"{path} is encrypted: give --passphrase-file FILE, or --ask-passphrase."
        ) from None
    except NoBackup as trouble:
        raise NotRestored(
            f"{path} is no whole backup: {trouble}. Nothing was restored: take another copy of it, "
            "or an older backup."
        ) from None
    except OSError as trouble:
        raise NotRestored(_words(trouble)) from trouble


def _words(trouble: Exception) -> str:
    if is_full(trouble):
        return (
            "The disk is full: the database is as it was. Make room in the data folder for twice "
            "the database and all files of the backup, then restore it again."
        )
    return f"Nothing was restored: {trouble}."


def _refuse_another_site_s(contents: Contents) -> None:
    """Refuse what this release, on this engine, can't read."""
    if contents.engine != engine():
        raise NoDatabase(
            f"The backup is of {contents.engine}, and this site keeps its records in {engine()}: "
            "set DATABASE_URL to one of the backup’s engine."
        )
    known = MigrationLoader(None).disk_migrations
    newer = [f"{app}.{name}" for app, name in contents.migrations if (app, name) not in known]
    if newer:
        raise NoDatabase(
            f"The backup is of a newer release, which knows {newer[0]}: upgrade this one first."
        )


def _wanting(contents: Contents, may_replace: bool) -> frozenset[str]:
    """Return the files that are not in place yet. Raises NoDatabase where others stand there."""
    wanting, others = set(), []
    for name, (_, sha256) in contents.files.items():
        there = file_hash(default_storage, name) if default_storage.exists(name) else None
        if there != sha256:
            wanting.add(name)
        if there not in (None, sha256):
            others.append(name)
    if others and not may_replace:
        raise NoDatabase(
            f"{len(others)} kept files here are other ones than the backup’s, such as "
            f"{', '.join(others[:_NAMED])}: give --replace to have the backup’s in their place."
        )
    return frozenset(wanting)


def _put(name: str, file: BinaryIO, wanting: frozenset[str]) -> None:
    name = name.removeprefix(FILES) if name.startswith(FILES) else ""
    if name not in wanting:
        return
    with SpooledTemporaryFile(max_size=_IN_MEMORY, dir=str(settings.VAR_DIR)) as held:
        shutil.copyfileobj(file, held)
        held.seek(0)
        default_storage.delete(name)
        default_storage.save(name, File(held, name))


def _bring_up_to_date(say: Callable[[str], None]) -> None:
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        say("It is of an older release: its tables are brought to this one’s.")
        call_command("migrate", verbosity=0, interactive=False)
