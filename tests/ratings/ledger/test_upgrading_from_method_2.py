"""A database rated by the second method brought up to date: what it says holds, and one entry more.

The words "rating method changed" are the third method's to every unit, whether a figure moved.
"""

from __future__ import annotations

import json
import lzma
from pathlib import Path

import pytest

from ratings.mechanics.record import FORMAT
from tests.commands import ROOT, manage, rows

# Made by `manage.py demo` of the last version that rated by the second method.
DEMO_OF_METHOD_2 = ROOT / "fixtures" / "demo_of_rating_method_2.sqlite3.xz"
ENTRIES = (
    "SELECT housing_id, sequence, document, previous_hash, hash "
    "FROM ratings_ledgerentry ORDER BY id"
)
ANSWERS = "SELECT id, document, hash FROM ratings_jobanswer ORDER BY id"


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Path:
    var = tmp_path_factory.mktemp("method_2")
    (var / "ledger.sqlite3").write_bytes(lzma.decompress(DEMO_OF_METHOD_2.read_bytes()))
    return var


@pytest.fixture(scope="module")
def after(tmp_path_factory: pytest.TempPathFactory, before: Path) -> Path:
    var = tmp_path_factory.mktemp("method_3")
    (var / "ledger.sqlite3").write_bytes((before / "ledger.sqlite3").read_bytes())
    migrated = manage(var, "migrate")
    assert migrated.returncode == 0, migrated.stderr
    return var


def test_each_unit_gets_one_entry_and_no_entry_of_before_changes(before: Path, after: Path) -> None:
    old, new = rows(before, ENTRIES), rows(after, ENTRIES)
    assert {json.loads(document)["format"] for _, _, document, *_ in old} == {2}
    assert new[: len(old)] == old
    units = {housing for housing, *_ in old}
    assert sorted(housing for housing, *_ in new[len(old) :]) == sorted(units)
    last = {housing: json.loads(document) for housing, _, document, *_ in old}
    for housing, _, document, *_ in new[len(old) :]:
        contents = json.loads(document)
        assert contents["format"] == FORMAT
        assert contents["cause"]["kind"] == "rating method changed"
        assert contents["cause"]["words"].startswith(f"Rating method {FORMAT}: ")
        # No lot of the demo is in more doubt than it pulls: what is new of each moves no figure.
        assert contents["cause"]["words"].endswith("no figure moved")
        for name in ("pull_lbf", "working_capacity_lbf", "degrees_of_freedom"):
            assert contents["results"][name] == last[housing]["results"][name]


def test_answers_that_rest_on_it_are_as_they_were(before: Path, after: Path) -> None:
    written = rows(before, ANSWERS)
    assert written
    assert {json.loads(document)["unit"]["rating_format"] for _, document, _ in written} == {2}
    assert rows(after, ANSWERS) == written


def test_ledger_and_answers_hold(before: Path, after: Path) -> None:
    verified = manage(after, "ledger", "verify")
    assert verified.returncode == 0, verified.stderr
    entries = len(rows(after, ENTRIES))
    assert f"{entries} entries of " in verified.stdout
    assert f"{len(rows(before, ANSWERS))} answers given to jobs hold" in verified.stdout
