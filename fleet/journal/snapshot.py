"""Reading the whole record as it stood at one moment, while others go on writing."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, transaction


@contextmanager
def one_moment() -> Iterator[None]:
    """Let every read in the block see the same moment, and hold up nobody. Nothing is written.

    Inside a transaction that is open already it is that transaction's view.
    """
    database: Any = connection
    if database.in_atomic_block:
        yield
        return
    if database.vendor == "sqlite":
        # Begun without the lock of a writer: the first read then fixes what is seen.
        mode, database.transaction_mode = database.transaction_mode, None
        try:
            opened = transaction.atomic()
            opened.__enter__()
        finally:
            database.transaction_mode = mode
    else:
        opened = transaction.atomic()
        opened.__enter__()
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
    try:
        yield
    except BaseException as trouble:
        opened.__exit__(type(trouble), trouble, trouble.__traceback__)
        raise
    opened.__exit__(None, None, None)
