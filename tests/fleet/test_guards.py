"""What the guards of the tables cost the rows that they let in."""

from __future__ import annotations

import re

import pytest
from django.db import connection

from fleet.guards import append_only_guards

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(
        connection.vendor != "sqlite", reason="PostgreSQL needs no look for rows in the way"
    ),
]

MODELS = sorted(append_only_guards(), key=lambda model: model._meta.db_table)


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model._meta.db_table)
def test_rows_in_the_way_are_found_by_index_where_statistics_tell_of_a_small_table(
    model: type,
) -> None:
    table = model._meta.db_table  # type: ignore[attr-defined]
    with connection.cursor() as cursor:
        # As ANALYZE notes a table of five rows; the tables of a test are empty, which it passes by.
        cursor.execute("ANALYZE sqlite_master")
        cursor.execute(
            "SELECT name, length(sql) - length(replace(sql, ',', '')) FROM sqlite_master "
            "WHERE type = 'index' AND tbl_name = %s",
            [table],
        )
        stats = [(table, name, "5" + " 1" * (1 + (commas or 0))) for name, commas in cursor]
        cursor.executemany("INSERT INTO sqlite_stat1 VALUES (%s, %s, %s)", stats)
        cursor.execute("ANALYZE sqlite_master")
        cursor.execute(
            "SELECT sql FROM sqlite_master WHERE type = 'trigger' AND name = %s",
            [f"{table}_no_replace"],
        )
        condition = re.search(r" WHEN (.*) BEGIN ", cursor.fetchone()[0])
        assert condition is not None
        looks = re.sub(r'NEW\."\w+"', "'1'", condition[1])
        cursor.execute(f"EXPLAIN QUERY PLAN SELECT {looks}")
        plan = [row[-1] for row in cursor.fetchall()]
    assert any(step.startswith("SEARCH") for step in plan)
    assert not [step for step in plan if step.startswith("SCAN") and step != "SCAN CONSTANT ROW"]
