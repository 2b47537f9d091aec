from __future__ import annotations

import pytest
from django.db import DatabaseError, connection, transaction

from fleet.models import OutOfService
from fleet.models.recorded import Recorded
from inspections.models import Inspection
from ratings.models import CurrentRating, LedgerEntry
from tests.builders import rated_unit
from tests.conftest import append_only_tables

pytestmark = pytest.mark.django_db


def test_the_database_refuses_to_update_an_entry() -> None:
    rated_unit()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        LedgerEntry.objects.update(pull_lbf=1.0)
    assert not LedgerEntry.objects.filter(pull_lbf=1.0).exists()


def test_the_database_refuses_to_delete_an_entry() -> None:
    rated_unit()
    count = LedgerEntry.objects.count()
    with (
        pytest.raises(DatabaseError, match="append-only"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute("DELETE FROM ratings_ledgerentry WHERE sequence > 1")
    assert LedgerEntry.objects.count() == count


def test_the_database_refuses_to_change_a_signed_inspection() -> None:
    rated_unit()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Inspection.objects.update(travel_in=9.0)


@pytest.mark.skipif("connection.vendor != 'postgresql'", reason="SQLite has no TRUNCATE")
def test_the_database_refuses_to_truncate_the_ledger() -> None:
    rated_unit()
    with transaction.atomic(), connection.cursor() as cursor:
        # Foreign keys still to be checked would refuse it first.
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            cursor.execute("TRUNCATE ratings_ledgerentry CASCADE")


def test_every_table_of_facts_bears_the_triggers() -> None:
    tables = {model._meta.db_table for model in append_only_tables()}
    assert {"ratings_ledgerentry", "inspections_padcount", "fleet_stockmove"} <= tables
    # A release is written into the time out of service it ends.
    facts = set(Recorded.__subclasses__()) - {OutOfService}
    assert {model._meta.db_table for model in facts} <= tables
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT tbl_name FROM sqlite_master WHERE type = 'trigger'")
        else:
            cursor.execute("SELECT tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal")
        found = [row[0] for row in cursor.fetchall()]
    each = 3 if connection.vendor == "sqlite" else 2
    assert all(found.count(table) == each for table in tables)


def test_the_chain_cannot_fork() -> None:
    unit = rated_unit()
    entry = LedgerEntry.objects.filter(housing=unit.housing).latest("sequence")
    entry.pk = None
    entry.sequence += 1
    with pytest.raises(DatabaseError), transaction.atomic():
        entry.save(force_insert=True)


def test_a_housing_has_one_head() -> None:
    unit = rated_unit()
    head = CurrentRating.objects.get(housing=unit.housing)
    head.pk = None
    with pytest.raises(DatabaseError), transaction.atomic():
        head.save(force_insert=True)


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="only SQLite replaces on insert")
@pytest.mark.parametrize("table", ["ratings_ledgerentry", "inspections_inspection"])
def test_the_database_refuses_to_insert_over_a_row(table: str) -> None:
    rated_unit()
    with (
        pytest.raises(DatabaseError, match="append-only"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table} LIMIT 1")


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="only SQLite replaces on insert")
def test_the_database_refuses_to_insert_over_a_row_by_another_of_its_keys() -> None:
    rated_unit()
    columns = [field.column for field in LedgerEntry._meta.concrete_fields if field.column != "id"]
    names = ", ".join(column for column in columns if column)
    with (
        pytest.raises(DatabaseError, match="append-only"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(
            f"INSERT OR REPLACE INTO ratings_ledgerentry ({names}) "
            f"SELECT {names} FROM ratings_ledgerentry LIMIT 1"
        )
