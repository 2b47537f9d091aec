from __future__ import annotations

import json
import threading
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections
from django.test import Client
from django.urls import reverse

from fleet.journal import tree
from fleet.journal.sequence import consistency, give_places, inclusion, root_of
from fleet.models import Leaf, Yard
from inspections.models import Inspection
from ratings.models import Seal, Verification
from ratings.record.faults import Scope
from ratings.record.seals import NoSeal, make_seal, read_seal
from ratings.record.verify import last_held, since_last_held, verify_record
from tests.builders import MONDAY, count, rated_unit
from tests.conftest import append_only_lifted
from tests.factories import YardFactory
from tests.site.html_form import words

pytestmark = pytest.mark.django_db


def test_an_auditor_verifies_the_record_on_its_page(auditor_client: Client) -> None:
    rated_unit()
    page = auditor_client.post(reverse("record"), {"act": "verify"})
    told = b"".join(page.streaming_content).decode()  # type: ignore[attr-defined]
    assert "✓ All of it holds." in told
    assert told.count("<li>✓") == 8
    assert last_held() is not None
    run = Leaf.objects.get(model="ratings.verification")
    assert json.loads(run.document)["by"] == int(auditor_client.session["_auth_user_id"])
    assert "never verified" not in words(auditor_client.get(reverse("record")))


def test_the_page_says_what_differs(auditor_client: Client) -> None:
    yard = YardFactory()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE fleet_yard SET place = 'elsewhere' WHERE id = %s", [yard.pk])
    page = auditor_client.post(reverse("record"), {"act": "verify"})
    told = b"".join(page.streaming_content).decode()  # type: ignore[attr-defined]
    assert f"yard {yard.pk}" in told
    assert "⚠ The record does not hold." in told
    assert last_held() is None
    assert "⚠ Did not hold" in words(auditor_client.get(reverse("record")))


def test_a_seal_is_made_kept_and_sent(auditor_client: Client) -> None:
    rated_unit()
    auditor_client.post(reverse("record"), {"act": "seal"})
    sent = auditor_client.get(reverse("seal-text", args=[1])).content.decode()
    assert read_seal(sent).size == Seal.objects.get().size
    assert root_of(read_seal(sent).size).hex() == read_seal(sent).root
    assert auditor_client.get(reverse("seal-text", args=[9])).status_code == 404


def test_a_seal_is_not_made_again_where_nothing_came_since() -> None:
    YardFactory()
    assert make_seal() == make_seal()
    YardFactory()
    assert make_seal().number == 2


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "does not begin as a seal does"),
        ("Line-Pull Ledger seal 1\n", "does not begin"),
        ("leaves", "names no unit"),
        ("made", "its code is not that of its lines"),
    ],
)
def test_a_text_that_is_no_seal_is_refused(text: str, words: str) -> None:
    if text in ("leaves", "made"):
        whole = make_seal().text
        before, after = ("code", "cod") if text == "leaves" else ("made 20", "made 21")
        text = whole.replace(before, after, 1)
    with pytest.raises(NoSeal, match=words):
        read_seal(text)


def test_places_and_proofs_come_from_the_nodes_kept() -> None:
    Yard.objects.bulk_create(Yard(name=f"Yard of the tree {n}") for n in range(300))
    size = give_places()
    leaves = Leaf.objects.order_by("place").values_list("leaf_hash", flat=True)
    hashes = [bytes.fromhex(each) for each in leaves]
    assert root_of(size) == tree.fold(hashes)
    for place in (0, 15, 16, 255, 256, size - 1):
        path = inclusion(place, size)
        assert tree.root_by_inclusion(hashes[place], place, size, path) == root_of(size)
    for older in (1, 16, 37, 256, size):
        proof = consistency(older, size)
        assert tree.is_consistent(older, root_of(older), size, root_of(size), proof)


def test_what_was_written_since_it_last_held_is_verified_alone() -> None:
    YardFactory()
    list(verify_record())
    yard = YardFactory()
    looked = {each.part.name: each.many for each in verify_record(since_last_held())}
    assert 0 < looked["journal"] < Leaf.objects.count()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE fleet_yard SET place = 'elsewhere' WHERE id = %s", [yard.pk])
    # What came since the whole last held is looked at again, however often a part of it was.
    faults = [each.faults for each in verify_record(since_last_held(), ["rows"])]
    assert faults[-1]


def test_what_does_not_hold_is_said_until_all_of_it_holds(auditor_client: Client) -> None:
    old, new = YardFactory(), YardFactory()
    list(verify_record())
    with connection.cursor() as cursor:
        cursor.execute("UPDATE fleet_yard SET place = 'elsewhere' WHERE id = %s", [old.pk])
    list(verify_record())
    assert since_last_held() == Scope()
    list(verify_record(Scope(since=Leaf.objects.count(), since_root=root_of(give_places()).hex())))
    list(verify_record(only=["seals"]))
    assert "⚠ Did not hold" in words(auditor_client.get(reverse("record")))
    with connection.cursor() as cursor:
        cursor.execute("UPDATE fleet_yard SET place = %s WHERE id = %s", [new.place, old.pk])
    list(verify_record())
    assert "⚠ Did not hold" not in words(auditor_client.get(reverse("record")))


def test_an_older_seal_is_held_to_the_whole_record_alone(tmp_path: Path) -> None:
    (tmp_path / "old.txt").write_text(make_seal().text)
    for also in (["--since"], ["--part", "journal"]):
        with pytest.raises(CommandError, match="give --seal alone"):
            call_command("ledger", "verify", "--seal", str(tmp_path / "old.txt"), *also)


def test_parts_are_verified_by_name_and_an_unknown_seal_is_refused(tmp_path: object) -> None:
    call_command("ledger", "verify", "--part", "journal", "--part", "seals")
    assert not Verification.objects.get().is_whole
    with pytest.raises(CommandError, match="can’t be opened"):
        call_command("ledger", "verify", "--seal", f"{tmp_path}/none.txt")


def test_a_leaf_whose_text_was_changed_is_located() -> None:
    YardFactory()
    give_places()
    leaf = Leaf.objects.filter(model="fleet.yard").latest("place")
    with append_only_lifted(), connection.cursor() as cursor:
        cursor.execute(
            "UPDATE fleet_leaf SET document = REPLACE(document, 'name', 'Name') WHERE place = %s",
            [leaf.place],
        )
    found = [str(fault) for each in verify_record() for fault in each.faults]
    assert any(each.startswith(f"leaf {leaf.place} (fleet.yard") for each in found)


@pytest.mark.django_db(transaction=True)
def test_verifying_raises_no_false_alarm_while_others_sign() -> None:
    unit = rated_unit()
    done, signed = threading.Event(), []

    def sign() -> None:
        try:
            for hour in range(1, 60):
                if done.is_set():
                    break
                at = MONDAY + timedelta(hours=hour)
                faults = {"A1": "cracked"} if hour % 2 else {"A1": "cracked", "A2": "cracked"}
                count(unit.housing, unit.manager, unit.lot, at=at, unsound=faults)
                signed.append(hour)
        finally:
            connections.close_all()

    before = Inspection.objects.count()
    other = threading.Thread(target=sign)
    other.start()
    try:
        runs = 0
        while runs < 3 or (len(signed) < 3 and other.is_alive()):
            faults = [fault for each in verify_record() for fault in each.faults]
            assert faults == []
            runs += 1
    finally:
        done.set()
        other.join()
    assert Inspection.objects.count() > before
