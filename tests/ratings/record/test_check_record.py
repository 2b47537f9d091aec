"""The file that goes out alone, run by itself in an empty folder as a stranger would."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import timedelta
from hashlib import sha256
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.models import Leaf
from ratings import check_record
from ratings.models import Seal
from ratings.record.seals import make_seal
from tests.builders import MONDAY, Unit, count, rated_unit

pytestmark = pytest.mark.django_db
Files = dict[str, bytes]


def printed(*arguments: str) -> bytes:
    out = StringIO()
    call_command("ledger", *arguments, stdout=out)
    return out.getvalue().encode()


@pytest.fixture(scope="module")
def unit(module_db: None) -> Unit:
    return rated_unit()


@pytest.fixture(scope="module")
def files(unit: Unit) -> Files:
    """Two seals with a count between them, an export, and a proof of the unit’s last entry."""
    older = make_seal().text.encode()
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound={"A1": "cracked"},
        at=MONDAY + timedelta(days=1),
    )
    newer = make_seal().text.encode()
    return {
        "older.txt": older,
        "newer.txt": newer,
        "journal.jsonl": printed("export"),
        "proof.json": printed("prove", "--unit", unit.housing.mark),
    }


def verdict(folder: Path, files: Files) -> tuple[int, str]:
    """What the script says of files, with nothing beside it but them."""
    script = folder / "check_record.py"
    shutil.copy(str(check_record.__file__), script)
    for name, data in files.items():
        (folder / name).write_bytes(data)
    done = subprocess.run(
        [sys.executable, "-I", str(script), *files],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout + done.stderr


def test_what_the_site_gave_out_holds(tmp_path: Path, files: Files) -> None:
    code, said = verdict(tmp_path, files)
    assert (code, said.splitlines()[0]) == (0, "Yes. All of this holds together:")
    assert re.search(r"entry \d of S-\d+, recorded [\d-]+, stands in seal 2", said)
    assert "holds all that seal 1" in said


def altered(name: str, change: Callable[[bytes], bytes], files: Files) -> Files:
    return files | {name: change(files[name])}


ALTERED = {
    "a seal’s size": ("older.txt", b"leaves ", b"leaves 1", "No. "),
    "a seal’s root": ("newer.txt", b"root ", b"root 0", "Can’t tell: newer.txt"),
    "a line of the journal": ("journal.jsonl", b'"recorded"', b'"Recorded"', "was altered"),
    "a leaf of the proof": ("proof.json", b"occurred_at", b"occurred_on", "is not in the journal"),
}


@pytest.mark.parametrize("what", ALTERED)
def test_what_was_altered_is_found(tmp_path: Path, files: Files, what: str) -> None:
    name, before, after, words = ALTERED[what]
    code, said = verdict(tmp_path, altered(name, lambda d: d.replace(before, after, 1), files))
    assert code in (1, 2)
    assert words in said


def test_a_line_taken_out_of_the_journal_is_placed_between_two_seals(files: Files) -> None:
    older = check_record.Seal("older", files["older.txt"].decode())
    newer = check_record.Seal("newer", files["newer.txt"].decode())
    lines = files["journal.jsonl"].splitlines(keepends=True)
    del lines[older.size + 2]
    with pytest.raises(check_record.Wrong, match=f"one of lines {older.size + 1} to {newer.size}"):
        check_record.check_export("journal", b"".join(lines), [older, newer])


def test_a_seal_of_another_site_is_refused(files: Files) -> None:
    told = files["older.txt"].decode().rsplit("code ", 1)[0].replace("leaves ", "leaves 1", 1)
    text = f"{told}code {sha256(told.encode()).hexdigest()}\n".encode()
    with pytest.raises(check_record.Wrong, match="of one number and differ"):
        check_record.check([("a", files["older.txt"]), ("b", text)])


def test_a_seal_alone_is_held_to_nothing_and_so_not_called_true(
    tmp_path: Path, files: Files
) -> None:
    code, said = verdict(tmp_path, {"one.txt": files["older.txt"], "same.txt": files["older.txt"]})
    assert code == 2
    assert "Can’t tell: one.txt is a seal whole in itself" in said


@pytest.mark.parametrize("what", ["changed", "removed"])
def test_an_entry_that_a_leaf_says_was_rewritten_is_found(files: Files, what: str) -> None:
    leaf = Leaf.objects.filter(model="ratings.ledgerentry").earliest("pk").document
    told = json.loads(leaf) | {"what": what}
    if what == "removed":
        told["row"] = None
    lines = files["journal.jsonl"] + json.dumps(told).encode() + b"\n"
    with pytest.raises(check_record.Wrong, match=f"was {what}, which no entry ever is"):
        check_record.check([("older", files["older.txt"]), ("journal", b'{"at":' + lines[6:])])


def test_files_that_are_none_of_these_are_refused_with_their_name() -> None:
    for data in (b"", b"[" * 100_000, b"\xff\xfe", b'{"kind": 3}'):
        with pytest.raises(check_record.Unreadable, match="odd is no seal"):
            check_record.check([("odd", data)])


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_any_flipped_byte_of_a_leaf_or_a_seal_is_caught_and_located(
    files: Files, data: st.DataObject
) -> None:
    # What came after the last seal is told to be under none.
    size = check_record.Seal("newer", files["newer.txt"].decode()).size
    lines = files["journal.jsonl"].splitlines(keepends=True)
    files = files | {"journal.jsonl": b"".join(lines[:size])}
    name = data.draw(st.sampled_from(["older.txt", "newer.txt", "journal.jsonl"]))
    held = bytearray(files[name])
    place = data.draw(st.integers(0, len(held) - 1))
    held[place] ^= 1 << data.draw(st.integers(0, 7))
    given_out = [(each, files[each]) for each in ("older.txt", "newer.txt", "journal.jsonl")]
    told = [(each, bytes(held) if each == name else kept) for each, kept in given_out]
    with pytest.raises((check_record.Wrong, check_record.Unreadable)) as caught:
        check_record.check(told)
    said = str(caught.value)
    assert name in said
    if name != "journal.jsonl" or isinstance(caught.value, check_record.Unreadable):
        return
    line = files[name].count(b"\n", 0, place) + 1
    found = re.search(r"one of lines (\d+) to (\d+)|, line (\d+)", said)
    assert found is not None
    if found[3]:
        assert int(found[3]) == line
    else:
        assert int(found[1]) <= line <= int(found[2])


def test_an_export_is_the_leaves_as_they_were_hashed(files: Files) -> None:
    size = Seal.objects.latest("number").size
    lines = files["journal.jsonl"].decode().splitlines()
    leaves = Leaf.objects.filter(place__lt=size).order_by("place")
    assert lines[:size] == list(leaves.values_list("document", flat=True))
    assert all(json.loads(line)["what"] for line in lines[:20])
