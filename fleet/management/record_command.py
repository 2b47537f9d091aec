"""Commands that work on what is on record, and so need a database that holds a record's tables."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder


class RecordCommand(BaseCommand):
    """Refuse an empty database in plain words: most often it is not the one that was meant."""

    def execute(self, *args: Any, **options: Any) -> str | None:
        if not MigrationRecorder(connection).has_table():
            raise CommandError(
                f"Nothing was done: the database {connection.settings_dict['NAME']} is empty. "
                "Where it is not the one you mean, LEDGER_VAR or DATABASE_URL must name that one, "
                "as they do for the site. In a new one manage.py migrate makes the tables, and "
                "manage.py restore fills it from a backup."
            )
        return super().execute(*args, **options)
