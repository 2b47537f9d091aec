"""All that is on record, row by row, so that a test can say that nothing of it changed."""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.db import connection

RECORDS = ("fleet", "ratings", "inspections")
# A test makes those who act in it as it goes: who works there is no part of what is on record.
# That somebody came, or was refused something, changes nothing of what the yard knows.
WITHOUT_PEOPLE = {
    "fleet.PersonName": "WHERE 1 = 0",
    "fleet.SignIn": "WHERE 1 = 0",
    "fleet.Refusal": "WHERE 1 = 0",
    "fleet.Tally": "WHERE 1 = 0",
    "fleet.Leaf": "WHERE model NOT IN ('auth.user', 'auth.user_groups', 'fleet.personname', "
    "'fleet.signin', 'fleet.refusal')",
}


def everything() -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table of the project, but for who works there."""
    quoted = connection.ops.quote_name
    found = {}
    with connection.cursor() as cursor:
        for app in RECORDS:
            for model in apps.get_app_config(app).get_models():
                # In plain SQL, being asked twice in hundreds of tests.
                table, key = quoted(model._meta.db_table), quoted(str(model._meta.pk.column))
                of_records = WITHOUT_PEOPLE.get(model._meta.label, "")
                cursor.execute(f"SELECT * FROM {table} {of_records} ORDER BY {key}")
                found[model._meta.label] = cursor.fetchall()
    return found


def changed(before: dict[str, list[tuple[Any, ...]]]) -> set[str]:
    """The tables that differ from what they held before."""
    now = everything()
    return {label for label, rows in before.items() if rows != now[label]}
