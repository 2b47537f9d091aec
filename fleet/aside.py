"""Try something on a copy of the database, so that nobody waits while it is tried."""

from __future__ import annotations

import errno
import shutil
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from django.db import DEFAULT_DB_ALIAS, DatabaseError, connections

COPY = "is_a_copy"
PREFIX = "trial-"
# No trial runs as long: a copy so old was left by a server that died.
LEFT_BEHIND_SECONDS = 86_400.0


class NoRoom(Exception):
    """The disk is full: nothing was tried or recorded, and nothing is left behind."""

    def __init__(self) -> None:
        super().__init__(
            "The disk that holds the records is full: nothing was tried and nothing is recorded. "
            "Have whoever keeps the machine make room, for trying a file as much as the records "
            "take, then send it again."
        )


def is_full(trouble: BaseException) -> bool:
    """Whether something failed for want of room on the disk, in whichever words it says so."""
    if isinstance(trouble, OSError):
        return trouble.errno in (errno.ENOSPC, errno.EDQUOT)
    return isinstance(trouble, DatabaseError | sqlite3.Error) and any(
        words in str(trouble).lower() for words in ("disk is full", "no space left", "disk full")
    )


@contextmanager
def on_a_copy() -> Iterator[None]:
    """Let this thread work on a copy of the database, thrown away at the end of the block.

    Where SQLite keeps the records, of which one writer locks all, for others for as long as it
    works. On PostgreSQL, where others go on reading and wait only for the machines concerned, and
    inside a transaction, of which no copy can be made, the block works on the records themselves:
    so it must undo what it does, wherever it runs. Raises NoRoom where the disk is full.
    """
    try:
        with copied():
            yield
    except (OSError, DatabaseError, sqlite3.Error) as trouble:
        if is_full(trouble):
            raise NoRoom from trouble
        raise


@contextmanager
def copied() -> Iterator[None]:
    """Do the same, and let what goes wrong be told by whoever asks."""
    real = connections[DEFAULT_DB_ALIAS]
    if real.vendor != "sqlite" or real.in_atomic_block or getattr(real, COPY, False):
        yield
        return
    beside = _folder_of(Path(real.settings_dict["NAME"]))
    with TemporaryDirectory(prefix=PREFIX, dir=beside) as folder:
        path = Path(folder) / "trial.sqlite3"
        real.ensure_connection()
        with real.wrap_database_errors, closing(sqlite3.connect(path)) as target:
            # A reader of the log that writers go on with: it holds up nobody.
            real.connection.backup(target)
        copy = type(real)({**real.settings_dict, "NAME": path}, DEFAULT_DB_ALIAS)
        setattr(copy, COPY, True)
        connections[DEFAULT_DB_ALIAS] = copy
        try:
            yield
        finally:
            connections[DEFAULT_DB_ALIAS] = real
            copy.close()


def _folder_of(database: Path) -> Path | None:
    """Return where a database is kept, without copies left behind; None for one in memory.

    A copy needs as much room as the records: where they are, there is more than in a folder for
    what is short-lived, which may be in memory.
    """
    if not database.is_file():
        return None
    for left in database.parent.glob(f"{PREFIX}*"):
        if left.is_dir() and time.time() - left.stat().st_mtime > LEFT_BEHIND_SECONDS:
            shutil.rmtree(left, ignore_errors=True)
    return database.parent
