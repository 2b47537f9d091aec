from __future__ import annotations

from django.db.backends.postgresql import base
from django.db.backends.postgresql.operations import DatabaseOperations as Operations


class DatabaseOperations(Operations):
    """What Django asks of the database, by compilers that write the journal."""

    compiler_module = "fleet.journal.engines.postgresql.compilers"


class DatabaseWrapper(base.DatabaseWrapper):
    """The database, whose every write by Django is told of in the journal."""

    ops_class = DatabaseOperations
