from __future__ import annotations

from django.db.backends.sqlite3 import base
from django.db.backends.sqlite3.operations import DatabaseOperations as Operations


class DatabaseOperations(Operations):
    """What Django asks of the database, by compilers that write the journal."""

    compiler_module = "fleet.journal.engines.sqlite3.compilers"


class DatabaseWrapper(base.DatabaseWrapper):
    """The database, whose every write by Django is told of in the journal."""

    ops_class = DatabaseOperations
