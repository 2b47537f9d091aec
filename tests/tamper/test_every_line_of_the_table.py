"""Somebody with the database in hand alters it: each way is caught, and located.

Those who also write the journal anew are caught by a seal that somebody else kept.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable
from datetime import timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from django.core.files.storage import default_storage
from django.db import IntegrityError, connection, transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.guards import AppendOnly
from fleet.journal.sequence import give_places
from fleet.models import Leaf, StockMove
from inspections.models import Finding, Inspection
from ratings.ledger import verify
from ratings.models import BenchReading, CurrentRating, JobAnswer, LedgerEntry, Paper
from ratings.record.chains import look_at_chains, look_at_triggers
from ratings.record.daily import seal_and_verify
from ratings.record.faults import Fault, Scope
from ratings.record.journal_tree import look_at_tree
from ratings.record.seals import _heads_within, make_seal, read_seal
from tests.builders import MONDAY, count, rated_unit
from tests.factories import YardFactory
from tests.tamper.yard import (
    TUESDAY,
    Yard,
    forge_the_journal,
    found_amiss,
    small_yard,
    with_the_file_in_hand,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def yard(module_db: None) -> Yard:
    return small_yard()


def test_the_yard_as_it_was_recorded_holds_against_its_seal(yard: Yard) -> None:
    assert found_amiss(yard.seal) == {}


def last_entry(yard: Yard) -> LedgerEntry:
    return LedgerEntry.objects.filter(housing=yard.unit.housing).latest("sequence")


def keys(yard: Yard) -> dict[str, Any]:
    """What the statements below are filled in with."""
    return {
        "entry": last_entry(yard).pk,
        "housing": yard.unit.housing.pk,
        "hammer": yard.unit.hammer.pk,
        "manager": yard.unit.manager.pk,
        "other": yard.committed.manager.pk,
        "lot": yard.unit.lot.pk,
        "old": yard.old_count.pk,
        "new": yard.new_count.pk,
        "finding": yard.finding.pk,
        "outage": yard.outage.pk,
        "hours": yard.hours.pk,
        "move": yard.move.pk,
        "mounting": yard.mounting.pk,
        "calibration": yard.calibration.pk,
        "commitment": yard.commitment.pk,
        "answer": yard.commitment.answer_id,
        "tons": dict(Paper.objects.get().contents["figures"])["Line pull"].partition(" (")[0],
    }


ENTRY = "UPDATE ratings_ledgerentry SET {} WHERE id = {{entry}}"
ANSWER = "UPDATE ratings_jobanswer SET {} WHERE id = {{answer}}"
# What is done, and the row that verifying must name: its table's name and its key.
LINES = {
    "pull column": (ENTRY.format("pull_lbf = pull_lbf * 1.5"), "ledger entry {entry}"),
    "document": (
        ENTRY.format("document = REPLACE(document, 'sound', 'worn ')"),
        "ledger entry {entry}",
    ),
    "a signer's name": (
        "UPDATE ratings_ledgerentry SET document = REPLACE(document, 'record', 'recorx') "
        "WHERE id = {entry}",
        "ledger entry {entry}",
    ),
    "pad count, new": (
        "UPDATE inspections_padcount SET condition = 'missing', lot_id = NULL "
        "WHERE inspection_id = {new} AND side = 'A' AND number = 3",
        "pad count",
    ),
    "pad count, old": (
        "UPDATE inspections_padcount SET condition = 'sound' WHERE inspection_id = {old}",
        "pad count",
    ),
    "travel": (
        "UPDATE inspections_inspection SET travel_in = 7 WHERE id = {new}",
        "inspection {new}",
    ),
    "seen at": (
        "UPDATE inspections_inspection SET seen_at = '2026-02-01 09:00:00+00:00' WHERE id = {new}",
        "inspection {new}",
    ),
    "inspection removed": (
        "DELETE FROM inspections_inspection WHERE id = {old}",
        "inspection {old}",
    ),
    "bench reading": (
        "UPDATE ratings_benchreading SET gauge_psi = gauge_psi + 1",
        "bench reading",
    ),
    "pads in test": ("UPDATE ratings_benchtest SET pads_in_test = 2", "bench test"),
    "bore": ("UPDATE ratings_benchtest SET bore_in = bore_in + 0.1", "bench test"),
    "gauge due date": ("UPDATE ratings_gauge SET due_on = '2031-01-01'", "gauge"),
    "gauge certificate": (
        "UPDATE ratings_gaugecalibration SET due_on = '2031-01-01' WHERE id = {calibration}",
        "gauge calibration {calibration}",
    ),
    "approver": (
        "UPDATE ratings_ratingapproval SET recorded_by_id = {manager}",
        "rating approval",
    ),
    "date of approval": (
        "UPDATE ratings_ratingapproval SET recorded_at = '2025-01-01 09:00:00+00:00'",
        "rating approval",
    ),
    "superseded rating": (
        "UPDATE ratings_lotrating SET rate_lbf_in = rate_lbf_in * 1.5 WHERE id = "
        "(SELECT MIN(id) FROM ratings_lotrating WHERE lot_id = {lot})",
        "lot rating",
    ),
    "answer's inputs": (
        ANSWER.format("document = REPLACE(document, '120000', '180000')"),
        "job answer {answer}",
    ),
    "answer's site": (
        ANSWER.format("document = REPLACE(document, 'Ferry slip', 'Other slip')"),
        "job answer {answer}",
    ),
    "who answered": (ANSWER.format("recorded_by_id = {manager}"), "job answer {answer}"),
    "when it was answered": (
        ANSWER.format("recorded_at = '2025-01-01 09:00:00+00:00'"),
        "job answer {answer}",
    ),
    "commitment released": (
        "UPDATE ratings_commitment SET released_at = '2026-03-04 09:00:00+00:00', "
        "released_by_id = {manager}, release_reason = 'Not so' WHERE id = {commitment}",
        "commitment {commitment}",
    ),
    "commitment removed": (
        "DELETE FROM ratings_commitment WHERE id = {commitment}",
        "commitment {commitment}",
    ),
    "stock row": (
        "UPDATE fleet_stockmove SET change = change + 4 WHERE id = {move}",
        "stock move {move}",
    ),
    "stock row removed": ("DELETE FROM fleet_stockmove WHERE id = {move}", "stock move {move}"),
    "outage removed": (
        "DELETE FROM fleet_outofservice WHERE id = {outage}",
        "time out of service {outage}",
    ),
    "outage released": (
        "UPDATE fleet_outofservice SET released_at = '2026-03-04 09:00:00+00:00', "
        "released_by_id = {manager}, release_reason = 'Not so' WHERE id = {outage}",
        "time out of service {outage}",
    ),
    "finding lowered": (
        "UPDATE inspections_finding SET severity = 'note' WHERE id = {finding}",
        "finding {finding}",
    ),
    "mounting date": (
        "UPDATE fleet_mounting SET mounted_at = '2026-02-01 09:00:00+00:00' WHERE id = {mounting}",
        "mounting {mounting}",
    ),
    "checklist answer": ("UPDATE inspections_itemanswer SET state = 'done'", "item answer"),
    "hours": (
        "UPDATE fleet_hourreading SET hours = 1200 WHERE id = {hours}",
        "hour reading {hours}",
    ),
    "a hammer's figures": (
        "UPDATE fleet_hammer SET eccentric_moment_lb_in = 9000 WHERE id = {hammer}",
        "hammer {hammer}",
    ),
    "design travel": (
        "UPDATE fleet_suppressorhousing SET design_travel_in = 12 WHERE id = {housing}",
        "suppressor housing {housing}",
    ),
    "user renamed": (
        "UPDATE auth_user SET last_name = 'Somebody' WHERE id = {manager}",
        "user {manager}",
    ),
    "two users swapped": (
        "UPDATE auth_user SET username = CASE WHEN id = {manager} THEN 'swapped' "
        "ELSE 'swapped too' END WHERE id IN ({manager}, {other})",
        "user {manager}",
    ),
    "closing inserted": (
        "INSERT INTO inspections_findingclosing "
        "(finding_id, closed_at, done, recorded_at, recorded_by_id, submission_id) "
        "VALUES ({finding}, '2026-03-04 09:00:00+00:00', 'Welded', "
        "'2026-03-04 09:00:00+00:00', {manager}, '{uuid}')",
        "finding closing",
    ),
    "inspection inserted": (
        "INSERT INTO inspections_inspection ({copied}, submission_id) "
        "SELECT {copied}, '{uuid}' FROM inspections_inspection WHERE id = {new}",
        "inspection",
    ),
    "a name of then": (
        "UPDATE fleet_personname SET name = 'Somebody' WHERE user_id = {manager}",
        "person name",
    ),
    "a paper given out": (
        "UPDATE ratings_paper SET document = REPLACE(document, '{tons}', '99.0 tons')",
        "paper given out",
    ),
    "an attachment's bytes": (
        "UPDATE ratings_jobattachment SET sha256 = '{zeros}'",
        "job attachment",
    ),
    "log rows removed": (
        "DELETE FROM fleet_leaf WHERE id = (SELECT MAX(id) FROM fleet_leaf)",
        "",
    ),
    "log rows of the middle removed": (
        "DELETE FROM fleet_leaf WHERE place = 40",
        "leaf 40",
    ),
}


COPIED = ", ".join(
    f'"{field.column}"'
    for field in Inspection._meta.concrete_fields
    if field.name not in {"id", "submission_id"}
)


@pytest.mark.parametrize("line", LINES)
def test_a_line_of_the_table_is_refused_or_caught_and_located(yard: Yard, line: str) -> None:
    statement, named = LINES[line]
    given = keys(yard) | {"uuid": uuid.uuid4().hex, "copied": COPIED, "zeros": "0" * 64}
    with with_the_file_in_hand() as cursor:
        try:
            cursor.execute(statement.format(**given))
        except IntegrityError:
            return
        assert cursor.rowcount > 0, "nothing was altered"
        found = found_amiss()
    told = [each for faults in found.values() for each in faults]
    assert any(named.format(**given) in each for each in told), told


def test_a_photo_file_changed_or_removed_is_caught_and_located(yard: Yard) -> None:
    name, where = yard.photo.file.name, f"photo file {yard.photo.pk}"
    path = Path(default_storage.path(str(name)))
    held = path.read_bytes()
    try:
        path.write_bytes(held[:-1] + b"x")
        assert any(where in each for each in found_amiss()["rows"])
        path.unlink()
        assert any(where in each for each in found_amiss()["rows"])
    finally:
        path.write_bytes(held)
    assert found_amiss() == {}


def test_a_photo_file_removed_is_caught_though_its_letting_go_is_written_in_by_hand(
    yard: Yard,
) -> None:
    photo = yard.photo
    path = Path(default_storage.path(str(photo.file.name)))
    held = path.read_bytes()
    let_go = (
        "INSERT INTO fleet_lettinggo (recorded_at, submission_id, kind, reason, recorded_by_id) "
        "VALUES ('2026-03-04 09:00:00+00:00', %s, 'inspection-photos', 'old', %s)",
        "INSERT INTO fleet_fileletgo "
        '(letting_go_id, model, row_key, "column", name, sha256, words) '
        "SELECT MAX(id), 'inspections.photofile', %s, 'file', %s, %s, 'a photo' "
        "FROM fleet_lettinggo",
    )
    given = (
        [uuid.uuid4().hex, yard.unit.manager.pk],
        [str(photo.pk), photo.file.name, photo.sha256],
    )
    try:
        path.unlink()
        with with_the_file_in_hand() as cursor:
            for statement, values in zip(let_go, given, strict=True):
                cursor.execute(statement, values)
            found = found_amiss()["rows"]
        assert any("file let go" in each for each in found), found
        assert any("letting go of files" in each for each in found), found
    finally:
        path.write_bytes(held)
    assert found_amiss() == {}


def rechained(entries: list[LedgerEntry], change: Callable[[dict[str, Any]], None]) -> None:
    """Change each entry of a chain and give it the hashes that fit; its head and answers too."""
    before = entries[0].previous_hash
    for entry in entries:
        contents = json.loads(entry.document)
        change(contents)
        contents["previous_hash"] = before
        document = rfc8785.dumps(contents).decode()
        before = sha256(document.encode()).hexdigest()
        was = entry.hash
        LedgerEntry.objects.filter(pk=entry.pk).update(
            document=document, hash=before, previous_hash=contents["previous_hash"]
        )
        for answer in JobAnswer.objects.filter(entry=entry.pk):
            told = answer.document.replace(was, before)
            JobAnswer.objects.filter(pk=answer.pk).update(
                document=told, hash=sha256(told.encode()).hexdigest()
            )
    CurrentRating.objects.filter(housing=entries[-1].housing_id).update(head_hash=before)


def chain(yard: Yard) -> list[LedgerEntry]:
    return list(LedgerEntry.objects.filter(housing=yard.committed.housing).order_by("sequence"))


def test_every_entry_chained_again_and_the_journal_written_anew_is_caught_by_an_old_seal(
    yard: Yard,
) -> None:
    with with_the_file_in_hand() as cursor:
        rechained(chain(yard), lambda told: told["recorded_by"].update(name="Somebody Else"))
        forge_the_journal(cursor)
        # Nothing on this site itself shows it.
        assert found_amiss() == {}
        found = found_amiss(yard.seal)
    mark = yard.committed.housing.mark
    assert any("rewritten since" in each for each in found["journal"])
    assert any(each.startswith(f"unit {mark}, entry") for each in found["seals"])


GONE = {
    "the last entry with its records": (
        "DELETE FROM inspections_padcount WHERE inspection_id = {new}",
        "DELETE FROM inspections_inspection WHERE id = {new}",
        "DELETE FROM ratings_ledgerentry WHERE id = {entry}",
    ),
    "a whole chain": (
        "DELETE FROM ratings_jobanswer",
        "DELETE FROM ratings_currentrating WHERE housing_id = {housing}",
        "DELETE FROM ratings_ledgerentry WHERE housing_id = {housing}",
    ),
    "a whole housing": (
        "DELETE FROM ratings_currentrating WHERE housing_id = {housing}",
        "DELETE FROM ratings_ledgerentry WHERE housing_id = {housing}",
        "DELETE FROM fleet_padposition WHERE housing_id = {housing}",
        "DELETE FROM fleet_suppressorhousing WHERE id = {housing}",
    ),
}


@pytest.mark.parametrize("what", GONE)
def test_records_taken_away_with_their_leaves_are_caught_by_an_old_seal(
    yard: Yard, what: str
) -> None:
    sealed, given, last = make_seal().text, keys(yard), last_entry(yard).sequence
    with with_the_file_in_hand() as cursor:
        for statement in GONE[what]:
            cursor.execute(statement.format(**given))
        forge_the_journal(cursor)
        found = found_amiss(sealed)
    named = f"unit {yard.unit.housing.mark}, entry {last}"
    assert "journal" in found
    assert any(each.startswith(named) for each in found["seals"]), found["seals"]


def test_an_old_copy_put_back_is_caught_by_a_seal_made_since(yard: Yard) -> None:
    with transaction.atomic():
        unit = yard.unit
        count(unit.housing, unit.manager, unit.lot, at=TUESDAY + timedelta(days=2))
        sealed = make_seal().text
        transaction.set_rollback(True)
    found = found_amiss(sealed)
    assert "an older copy was put back" in found["journal"][0]
    assert "an older copy was put back" in found["seals"][0]


def test_a_forged_next_entry_is_caught_and_located(yard: Yard) -> None:
    last = last_entry(yard)
    contents = json.loads(last.document)
    contents |= {"sequence": last.sequence + 1, "previous_hash": last.hash}
    document = rfc8785.dumps(contents).decode()
    digest = sha256(document.encode()).hexdigest()
    columns = [str(f.column) for f in LedgerEntry._meta.concrete_fields if f.name != "id"]
    forged = {"sequence": "%s", "previous_hash": "%s", "document": "%s", "hash": "%s"}
    taken = ", ".join(forged.get(column, column) for column in columns)
    values = {
        "sequence": last.sequence + 1,
        "previous_hash": last.hash,
        "document": document,
        "hash": digest,
    }
    with with_the_file_in_hand() as cursor:
        cursor.execute(
            f"INSERT INTO ratings_ledgerentry ({', '.join(columns)}) "
            f"SELECT {taken} FROM ratings_ledgerentry WHERE id = %s",
            [*(values[column] for column in columns if column in forged), last.pk],
        )
        CurrentRating.objects.filter(housing=last.housing_id).update(
            sequence=last.sequence + 1,
            head_hash=digest,
            head=LedgerEntry.objects.get(hash=digest),
        )
        found = found_amiss()
    assert any(f"sequence {last.sequence + 1}" in each for each in found["rows"])


def test_document_and_hash_changed_together_are_caught_and_located(yard: Yard) -> None:
    last = last_entry(yard)
    contents = json.loads(last.document)
    contents["recorded_by"]["name"] = "Somebody Else"
    document = rfc8785.dumps(contents).decode()
    with with_the_file_in_hand() as cursor:
        cursor.execute(
            "UPDATE ratings_ledgerentry SET document = %s, hash = %s WHERE id = %s",
            [document, sha256(document.encode()).hexdigest(), last.pk],
        )
        found = found_amiss()
    assert any(f"ledger entry {last.pk}" in each for each in found["rows"])


def test_triggers_dropped_are_named(yard: Yard) -> None:
    with with_the_file_in_hand():
        faults = list(look_at_triggers(Scope()))
    assert "it is not there" in str(faults[0])
    assert list(look_at_triggers(Scope())) == [1]


REFUSES = f"SELECT RAISE(ABORT, 'inspections_finding {AppendOnly.refusal}')"
# Triggers of the right name that let through what they were laid to refuse.
LAX: dict[str, tuple[str, str]] = {
    "nothing is refused": ("no_delete", "BEFORE DELETE ON {table} BEGIN SELECT 1; END"),
    "it never fires": ("no_delete", f"BEFORE DELETE ON {{table}} WHEN 0 BEGIN {REFUSES}; END"),
    "it is of another table": (
        "no_delete",
        f"BEFORE DELETE ON inspections_itemanswer BEGIN {REFUSES}; END",
    ),
    "it is of one column": (
        "no_update",
        f"BEFORE UPDATE OF id ON {{table}} BEGIN {REFUSES}; END",
    ),
    "nothing is in its way": (
        "no_replace",
        f"BEFORE INSERT ON {{table}} WHEN 0 BEGIN {REFUSES}; END",
    ),
    "one key of two is in its way": (
        "no_replace",
        "BEFORE INSERT ON {table} WHEN EXISTS (SELECT 1 FROM {table} WHERE "
        f"id = NEW.id) BEGIN {REFUSES}; END",
    ),
    "a key is held to nothing": (
        "no_replace",
        "BEFORE INSERT ON {table} WHEN EXISTS (SELECT 1 FROM {table} WHERE "
        f"id = NEW.id AND 0) BEGIN {REFUSES}; END",
    ),
}
LAX_ON_POSTGRESQL = {
    "it never fires": (
        "no_change",
        "BEFORE UPDATE OR DELETE ON {table} FOR EACH ROW WHEN (false) "
        "EXECUTE FUNCTION refuse_change()",
    ),
    "another function is called": (
        "no_change",
        "BEFORE UPDATE OR DELETE ON {table} FOR EACH ROW EXECUTE FUNCTION lets_pass()",
    ),
    "it is of one column": (
        "no_change",
        "BEFORE UPDATE OF id OR DELETE ON {table} FOR EACH ROW EXECUTE FUNCTION refuse_change()",
    ),
    "it fires once and too late": (
        "no_change",
        "AFTER UPDATE OR DELETE ON {table} FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()",
    ),
}
LAX_HERE = LAX if connection.vendor == "sqlite" else LAX_ON_POSTGRESQL


@pytest.mark.parametrize("how", LAX_HERE)
def test_a_trigger_of_the_right_name_that_lets_something_through_is_named(
    yard: Yard, how: str
) -> None:
    table = "inspections_finding"
    name, does = f"{table}_{LAX_HERE[how][0]}", LAX_HERE[how][1].format(table=table)
    with transaction.atomic(), connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(f"DROP TRIGGER {name}")
        else:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute(
                "CREATE FUNCTION lets_pass() RETURNS trigger LANGUAGE plpgsql AS "
                "$$ BEGIN RETURN COALESCE(NEW, OLD); END $$"
            )
            cursor.execute(f"DROP TRIGGER {name} ON {table}")
        cursor.execute(f"CREATE TRIGGER {name} {does}")
        assert str(next(iter(look_at_triggers(Scope())))).startswith(f"trigger {name}:")
        transaction.set_rollback(True)
    assert list(look_at_triggers(Scope())) == [1]


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite’s triggers call no function")
def test_a_function_of_triggers_that_was_emptied_is_found_by_all_of_them(yard: Yard) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RETURN COALESCE(NEW, OLD); END $$"
        )
        assert " and " in str(next(iter(look_at_triggers(Scope()))))
        transaction.set_rollback(True)


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite can switch none off")
def test_a_trigger_switched_off_is_named(yard: Yard) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for how in ("DISABLE TRIGGER", "ENABLE REPLICA TRIGGER"):
            cursor.execute(f"ALTER TABLE inspections_finding {how} inspections_finding_no_change")
            assert "inspections_finding_no_change" in str(next(iter(look_at_triggers(Scope()))))
        transaction.set_rollback(True)


def test_a_row_is_named_as_an_auditor_finds_it(yard: Yard) -> None:
    with with_the_file_in_hand() as cursor:
        for line in ("pad count, new", "stock row", "outage removed", "seen at"):
            cursor.execute(LINES[line][0].format(**keys(yard)))
        told = " ".join(found_amiss()["rows"])
    unit = yard.unit
    assert f"(number 3, side A, inspection {yard.new_count.pk} of {unit.housing}" in told
    assert f"lot {unit.lot}" in told
    assert f"hammer {yard.outage.hammer}" in told
    assert f"signed by {unit.manager.username}" in told
    assert f"lot {unit.lot}, of {MONDAY:%Y-%m-%d})" in told


@pytest.fixture(scope="module")
def leaves(yard: Yard) -> list[int]:
    give_places()
    return list(Leaf.objects.order_by("place").values_list("pk", flat=True))


COLUMNS_OF_A_LEAF = ("document", "leaf_hash", "model", "row_key", "what")


@settings(max_examples=20, deadline=None)
@given(data=st.data())
def test_any_character_changed_in_any_leaf_is_caught_and_located(
    yard: Yard, leaves: list[int], data: st.DataObject
) -> None:
    column = data.draw(st.sampled_from(COLUMNS_OF_A_LEAF))
    leaf = Leaf.objects.get(pk=data.draw(st.sampled_from(leaves)))
    held = getattr(leaf, column)
    place = data.draw(st.integers(0, len(held) - 1))
    # One bit of an ASCII letter, so that the row can still be kept as text.
    other = chr(ord(held[place]) ^ 1 if ord(held[place]) < 128 else ord("x"))
    with with_the_file_in_hand() as cursor:
        cursor.execute(
            f"UPDATE fleet_leaf SET {column} = %s WHERE id = %s",
            [held[:place] + other + held[place + 1 :], leaf.pk],
        )
        faults = [each for each in look_at_tree(Scope()) if isinstance(each, Fault)]
    assert faults
    assert faults[0].where.startswith(f"leaf {leaf.place} ")


def test_a_fact_rewritten_with_a_leaf_of_its_own_is_caught_and_located(yard: Yard) -> None:
    reading = BenchReading.objects.earliest("pk")
    with with_the_file_in_hand():
        Finding.objects.filter(pk=yard.finding.pk).update(severity="note")
        BenchReading.objects.filter(pk=reading.pk).update(gauge_psi=reading.gauge_psi + 1)
        found = found_amiss(yard.seal)["rows"]
    assert any(each.startswith(f"finding {yard.finding.pk}") for each in found)
    assert any(each.startswith(f"bench reading {reading.pk}") for each in found)
    assert all("it is never changed or removed, and yet" in each for each in found)


def test_a_fact_removed_with_a_leaf_that_says_so_is_caught_and_located(yard: Yard) -> None:
    with with_the_file_in_hand():
        StockMove.objects.filter(pk=yard.move.pk)._raw_delete("default")
        found = found_amiss()["rows"]
    assert any(f"stock move {yard.move.pk}" in each and "removed" in each for each in found)


def test_what_hung_on_what_is_worked_out_again_and_no_fault(yard: Yard) -> None:
    with transaction.atomic():
        Finding.objects.filter(pk=yard.finding.pk).update(hammer=yard.unit.hammer)
        assert found_amiss() == {}
        transaction.set_rollback(True)


def test_the_last_entry_of_an_older_seal_kept_here_is_held_too(yard: Yard) -> None:
    with with_the_file_in_hand() as cursor:
        make_seal()
        head = read_seal(yard.seal).heads[0]
        cursor.execute(
            "UPDATE ratings_ledgerentry SET hash = %s WHERE hash = %s", ["0" * 64, head.hash]
        )
        found = found_amiss()
    assert any("seal 1 names it" in each for each in found["seals"])


# What is done to the journal or a row, and what verifying must say rather than break off.
UNREADABLE = {
    "the last leaf with a place removed": (
        "DELETE FROM fleet_leaf WHERE place = (SELECT MAX(place) FROM fleet_leaf)",
        "can’t be",
    ),
    "a node of the tree": ("UPDATE fleet_treenode SET node_hash = 'zz'", "can’t be"),
    "the hash of a leaf that waits": (
        "UPDATE fleet_leaf SET leaf_hash = 'zz' WHERE place IS NULL",
        "can’t be",
    ),
    "the key of a leaf": (
        "UPDATE fleet_leaf SET row_key = 'abc' WHERE model = 'fleet.stockmove'",
        "stock move abc",
    ),
    "the name of a file": (
        "UPDATE inspections_photofile SET file = '../../x'",
        "it can’t be read (SuspiciousFileOperation",
    ),
}


@pytest.mark.parametrize("what", UNREADABLE)
def test_what_can_no_longer_be_read_is_named_and_the_letter_goes_out(yard: Yard, what: str) -> None:
    statement, words = UNREADABLE[what]
    with with_the_file_in_hand() as cursor:
        YardFactory()
        cursor.execute(statement)
        assert cursor.rowcount > 0
        told = seal_and_verify().words
    assert "THE RECORD DOES NOT HOLD" in told
    assert words in told


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL takes no such value")
def test_words_in_a_column_of_numbers_are_named(yard: Yard) -> None:
    with with_the_file_in_hand() as cursor:
        cursor.execute("PRAGMA ignore_check_constraints = ON")
        cursor.execute("UPDATE fleet_stockmove SET change = 'abc' WHERE id = %s", [yard.move.pk])
        cursor.execute("PRAGMA ignore_check_constraints = OFF")
        found = found_amiss()
    assert any(f"stock move {yard.move.pk}" in each for each in found["rows"])


def test_an_entry_committed_after_places_were_given_is_left_to_the_next_seal(yard: Yard) -> None:
    with transaction.atomic():
        size = give_places()
        unit = yard.unit
        at, torn = TUESDAY + timedelta(days=3), {"A1": "cracked", "A3": "missing"}
        count(unit.housing, unit.manager, unit.lot, at=at, unsound=torn)
        before = {head.hash for head in read_seal(make_seal().text).heads}
        heads = _heads_within(size)
        last = last_entry(yard)
        transaction.set_rollback(True)
    mark = yard.unit.housing.mark
    assert last.hash in before
    assert [told for told in heads if told[2] == mark] == [
        (last.sequence - 1, last.previous_hash, mark)
    ]


# What is taken from the records of one unit, or made unreadable there.
OF_ONE_UNIT = {
    "its lot": "DELETE FROM fleet_padlot WHERE id = {lot}",
    "the lot of a pad": (
        "UPDATE fleet_padposition SET lot_id = 987654 WHERE housing_id = {housing} AND number = 1"
    ),
    "its positions": "DELETE FROM fleet_padposition WHERE housing_id = {housing}",
    "its hammer": "DELETE FROM fleet_hammer WHERE id = {hammer}",
    "its mounting": "DELETE FROM fleet_mounting WHERE housing_id = {housing}",
    "its listing": "DELETE FROM ratings_listing WHERE hammer_id = {hammer}",
    "its guides": "DELETE FROM fleet_housingguide WHERE housing_id = {housing}",
    "the rate of its lot": "DELETE FROM ratings_lotrating WHERE lot_id = {lot}",
    "what the rate of its lot came to": (
        "UPDATE ratings_lotrating SET figures = '{{}}' WHERE lot_id = {lot}"
    ),
    "its head": "DELETE FROM ratings_currentrating WHERE housing_id = {housing}",
    "the entry of its head": "DELETE FROM ratings_ledgerentry WHERE id = {entry}",
}
if connection.vendor == "sqlite":
    # PostgreSQL takes no such value.
    OF_ONE_UNIT |= {
        "when an entry was recorded": (
            "UPDATE ratings_ledgerentry SET recorded_at = 'abc' WHERE id = {entry}"
        ),
        "the listed figure": (
            "UPDATE ratings_listing SET listed_lbf = 'abc' WHERE hammer_id = {hammer}"
        ),
    }


def faults_of_chains() -> list[tuple[str, str]]:
    """Each fault found at chains: the housing it is of, and what differs."""
    faults = [each for each in look_at_chains(Scope()) if isinstance(each, Fault)]
    return sorted((each.where.split(",")[0], each.differs) for each in faults)


def alter(cursor: Any, statement: str, *given: Any) -> None:
    """Alter rows whatever their table checks, and see that there were some."""
    if connection.vendor == "sqlite":
        cursor.execute("PRAGMA ignore_check_constraints = ON")
    cursor.execute(statement, given)
    assert cursor.rowcount > 0, "nothing was altered"
    if connection.vendor == "sqlite":
        cursor.execute("PRAGMA ignore_check_constraints = OFF")


LISTED_OTHERWISE = "UPDATE ratings_listing SET listed_lbf = listed_lbf * 2 WHERE hammer_id = %s"


@pytest.mark.parametrize("what", OF_ONE_UNIT)
def test_what_is_gone_from_the_records_of_one_unit_hides_no_other(yard: Yard, what: str) -> None:
    with with_the_file_in_hand() as cursor:
        alter(cursor, OF_ONE_UNIT[what].format(**keys(yard)))
        alter(cursor, LISTED_OTHERWISE, yard.committed.hammer.pk)
        named = [housing for housing, _ in faults_of_chains()]
    assert named == sorted(f"housing {each.housing.mark}" for each in (yard.unit, yard.committed))


def test_a_lot_that_is_gone_hides_no_chain_read_later_and_no_orphan(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(verify, "AT_ONCE", 2)
    with with_the_file_in_hand() as cursor:
        units = sorted(
            (yard.unit, yard.committed, rated_unit(), rated_unit()),
            key=lambda each: each.housing.mark,
        )
        first, _sound, later, orphan = units
        alter(cursor, "DELETE FROM fleet_padlot WHERE id = %s", first.lot.pk)
        second = LedgerEntry.objects.get(housing=later.housing, sequence=2)
        alter(cursor, "UPDATE ratings_ledgerentry SET pull_lbf = 99999 WHERE id = %s", second.pk)
        alter(cursor, "DELETE FROM fleet_suppressorhousing WHERE id = %s", orphan.housing.pk)
        found = dict(faults_of_chains())
    assert found.keys() == {
        f"housing {first.housing.mark}",
        f"housing {later.housing.mark}",
        f"housing with key {orphan.housing.pk}",
    }
    assert "the records now have other positions" in found[f"housing {first.housing.mark}"]
