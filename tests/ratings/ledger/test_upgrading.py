"""A database of an earlier version brought up to date: every guard stands, no record changes."""

from __future__ import annotations

import json
import lzma
import sqlite3
from pathlib import Path

import pytest

from ratings.mechanics.record import FORMAT
from tests.commands import ROOT, manage, rows
from tests.conftest import append_only_tables

# Made by `manage.py demo` of the last version before the migrations were squashed.
DEMO_OF_BEFORE = ROOT / "fixtures" / "demo_before_migrations_were_squashed.sqlite3.xz"

TRIGGERS = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name"
COLUMNS = (
    'SELECT t.name, c.name, c.type, c."notnull" FROM sqlite_master t, pragma_table_info(t.name) c '
    # A database of before keeps the log of the administration panel, which nothing uses any more.
    "WHERE t.type = 'table' AND t.name <> 'django_admin_log' ORDER BY 1, 2"
)
RECORDS = {
    "entries": "SELECT housing_id, sequence, document, previous_hash, hash "
    "FROM ratings_ledgerentry ORDER BY id",
    "answers": "SELECT id, document, hash FROM ratings_jobanswer ORDER BY id",
}
HEADS = (
    "SELECT e.housing_id, e.sequence, e.document, e.previous_hash, e.hash "
    "FROM ratings_ledgerentry e WHERE e.sequence = (SELECT MAX(o.sequence) "
    "FROM ratings_ledgerentry o WHERE o.housing_id = e.housing_id) ORDER BY 1"
)
# The migrations that databases were left at by versions of before.
FIRST_FACTS = "fleet 0002_append_only, ratings 0002_append_only, inspections 0002_append_only"
OWN_KINDS = "fleet 0006_shelves_hold, ratings 0004_extraction_facts, inspections 0005_own_kinds"
# Laid out by the steps of then, with nine pads in stock, and brought up to date.
UPGRADE = """
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
executor = MigrationExecutor(connection)
executor.loader.replace_migrations = False
executor.loader.build_graph()
executor.migrate([tuple(target.split()) for target in {targets!r}.split(", ")])
executor.recorder.migration_qs.filter(name__contains="_squashed_").delete()
with connection.cursor() as cursor:
    cursor.execute(
        "INSERT INTO fleet_padlot (mark, supplier, note, in_stock) VALUES ('P-1', '', '', 9)"
    )
call_command("migrate")
"""


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the demo of before as it was."""
    var = tmp_path_factory.mktemp("before")
    (var / "ledger.sqlite3").write_bytes(lzma.decompress(DEMO_OF_BEFORE.read_bytes()))
    return var


@pytest.fixture(scope="module")
def after(tmp_path_factory: pytest.TempPathFactory, before: Path) -> Path:
    """A folder with the same database brought up to date."""
    var = tmp_path_factory.mktemp("after")
    (var / "ledger.sqlite3").write_bytes((before / "ledger.sqlite3").read_bytes())
    migrated = manage(var, "migrate")
    assert migrated.returncode == 0, migrated.stderr
    return var


def trigger_names() -> set[str]:
    """Return the names of every trigger that the guards of all migrations come to."""
    append_only = {
        f"{model._meta.db_table}_no_{verb}"
        for model in append_only_tables()
        for verb in ("update", "delete", "replace")
    }
    kept = {f"auth_group_no_{what}" for what in ("removal", "rename")}
    overlaps = {
        f"ratings_commitment_{owner}_{verb}"
        for owner in ("housing", "hammer")
        for verb in ("insert", "update")
    }
    return append_only | kept | overlaps


def test_no_migration_is_left_to_run(after: Path) -> None:
    assert manage(after, "migrate", "--check").returncode == 0


def test_every_trigger_stands_as_it_stood(before: Path, after: Path) -> None:
    stood = rows(before, TRIGGERS)
    assert stood
    stands = dict(rows(after, TRIGGERS))
    assert set(dict(stood)) <= set(stands)
    # Those of a row in the way are laid anew, each key looked up by its own index.
    changed = {
        name for name, sql in stood if stands[name] != sql and not name.endswith("_no_replace")
    }
    # Columns were added to these since, which the guards laid down again take account of.
    altered = ("fleet_hourreading", "inspections_inspection", "inspections_finding")
    assert all(name.startswith(altered) for name in changed)
    assert {name for name, _ in rows(after, TRIGGERS)} == trigger_names()
    for model, guard in append_only_tables().items():
        for name in guard.trigger_names("sqlite", model):
            assert guard.stands_as_laid("sqlite", model, name, stands[name])


def test_the_triggers_still_refuse(after: Path) -> None:
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        rows(after, "UPDATE ratings_ledgerentry SET pull_lbf = 1")


@pytest.mark.parametrize("record", RECORDS)
def test_documents_and_hashes_are_the_same_to_the_byte(
    before: Path, after: Path, record: str
) -> None:
    written = rows(before, RECORDS[record])
    assert written
    # Newer methods of rating add entries, and change none.
    assert rows(after, RECORDS[record])[: len(written)] == written


def test_every_unit_gets_one_entry_that_says_what_the_method_moved(
    before: Path, after: Path
) -> None:
    old, new = rows(before, RECORDS["entries"]), rows(after, RECORDS["entries"])
    posted = new[len(old) :]
    units = {housing for housing, *_ in old}
    assert sorted(housing for housing, *_ in posted) == sorted(units)
    last = {housing: (sequence, digest) for housing, sequence, _, _, digest in old}
    for housing, sequence, document, previous_hash, _ in posted:
        contents = json.loads(document)
        assert (contents["format"], sequence) == (FORMAT, last[housing][0] + 1)
        assert previous_hash == last[housing][1]
        assert contents["cause"]["kind"] == "rating method changed"
        assert contents["cause"]["words"].startswith(f"Rating method {FORMAT}: ")
        assert contents["recorded_by"]["name"] == "Line-Pull Ledger"


def test_what_moved_is_said_by_the_figures_of_both_entries(before: Path, after: Path) -> None:
    old = {housing: json.loads(document) for housing, _, document, *_ in rows(before, HEADS)}
    moved = 0
    for housing, _, document, *_ in rows(after, HEADS):
        was, now = old[housing]["results"], json.loads(document)
        words, found = now["cause"]["words"], now["results"]
        if was["pull_lbf"] is None or was["pull_lbf"] == found["pull_lbf"]:
            assert "line pull" not in words
            continue
        moved += 1
        assert f"line pull {was['pull_lbf']:,.0f} lbf → {found['pull_lbf']:,.0f} lbf" in words
        assert "measured curve" in words
        if was["standing"] != found["standing"]:
            assert f"{was['standing']} → {found['standing']}" in words
    assert moved


def test_every_head_is_the_entry_posted_last(after: Path) -> None:
    heads = rows(after, "SELECT housing_id, head_hash FROM ratings_currentrating ORDER BY 1")
    assert heads == [(housing, digest) for housing, *_, digest in sorted(rows(after, HEADS))]


def test_bringing_it_up_to_date_again_posts_nothing(tmp_path: Path, after: Path) -> None:
    again = tmp_path / "ledger.sqlite3"
    again.write_bytes((after / "ledger.sqlite3").read_bytes())
    migrated = manage(tmp_path, "migrate")
    assert migrated.returncode == 0, migrated.stderr
    assert rows(tmp_path, RECORDS["entries"]) == rows(after, RECORDS["entries"])


FIGURES = "SELECT id, clamp_weight_lb, clamp_force_lbf, figures_source FROM fleet_hammer ORDER BY 1"
CLAMPS = (
    "SELECT f.hammer_id, c.weight_lb, c.clamp_force_lbf, c.figures_source FROM fleet_clamp c "
    "JOIN fleet_clampfitting f ON f.clamp_id = c.id WHERE f.removed_at IS NULL ORDER BY 1"
)


def test_the_clamp_of_each_hammer_has_its_figures_and_is_fitted_to_it(
    before: Path, after: Path
) -> None:
    figures = rows(before, FIGURES)
    assert figures
    assert rows(after, CLAMPS) == figures
    marks = "SELECT 'clamp of ' || h.mark FROM fleet_hammer h ORDER BY h.id"
    made = "SELECT mark FROM fleet_clamp WHERE holds_h IS NULL ORDER BY id"
    assert rows(after, made) == rows(before, marks)


def test_each_clamp_was_there_before_any_answer_rested_on_it(before: Path, after: Path) -> None:
    late = (
        "SELECT count(*) FROM fleet_clampfitting f JOIN ratings_jobanswer a "
        "ON a.hammer_id = f.hammer_id WHERE f.fitted_at > a.recorded_at"
    )
    assert rows(after, late) == [(0,)]


def test_the_ledger_holds(after: Path) -> None:
    verified = manage(after, "ledger", "verify")
    assert verified.returncode == 0, verified.stderr
    # 57 of before, and one to each unit since the method of rating changed.
    assert "72 entries of 15 housings hold" in verified.stdout
    assert "2 answers given to jobs hold" in verified.stdout


@pytest.mark.parametrize(
    ("targets", "shelves"),
    [
        # Its pads lie on the shelf of no yard: nobody said which.
        pytest.param(FIRST_FACTS, [(None, 9)], id="first facts"),
        pytest.param(OWN_KINDS, [], id="own kinds"),
    ],
)
def test_a_database_of_an_older_version_comes_to_the_same(
    tmp_path: Path, after: Path, targets: str, shelves: list[tuple[int | None, int]]
) -> None:
    upgraded = manage(tmp_path, "shell", "-c", UPGRADE.format(targets=targets))
    assert upgraded.returncode == 0, upgraded.stderr
    assert rows(tmp_path, TRIGGERS) == rows(after, TRIGGERS)
    assert rows(tmp_path, COLUMNS) == rows(after, COLUMNS)
    assert rows(tmp_path, "SELECT yard_id, pads FROM fleet_shelfcount") == shelves
