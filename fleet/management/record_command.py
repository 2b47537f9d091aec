"""Commands that work on what is on record, and so need a database that holds a record's tables."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from fleet.roles import keeps_records_now


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


def manager_who_signs(username: str | None) -> User:
    """Return who signs what a command records. Raises CommandError for who keeps no records."""
    signer = User.objects.filter(username=username).first()
    if signer is None or not keeps_records_now(signer):
        raise CommandError(
            f"Nothing was done. --as is {username!r}: give the username of an equipment manager "
            "who signs in."
        )
    return signer
