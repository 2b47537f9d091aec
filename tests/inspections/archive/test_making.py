"""An archive is made, checked by the script that goes out alone, and altered in every way."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import uuid
import zipfile
from collections.abc import Callable
from datetime import timedelta
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.models import SuppressorHousing
from inspections.archive.making import Options, make_archive
from inspections.machines.documents import keep_document
from inspections.models import MachineDocument
from inspections.models.document import DocumentKind
from ratings import check_record
from ratings.models import CurrentRating, LedgerEntry, Seal
from ratings.record.packing import Packing
from ratings.record.seals import make_seal
from tests.builders import MONDAY, Unit, count, picture, rated_unit
from tests.factories import ManagerFactory, PadLotFactory, YardFactory
from tests.inspections.field.sent import signed_in
from tests.job_builders import commit, figured_unit

pytestmark = pytest.mark.django_db


def made(unit: Unit, **options: object) -> bytes:
    """The bytes of an archive of a unit."""
    _, opened = make_archive(unit.housing, maker=unit.manager, options=Options(**options))  # type: ignore[arg-type]
    with opened:
        return opened.read()


@pytest.fixture(scope="module")
def unit(module_db: None) -> Unit:
    """A rated unit beside another, with a photo of it and a seal before its last count."""
    rated_unit()
    unit = rated_unit()
    unit.manager.email = "who@keeps.example"
    unit.manager.save()
    keep_document(
        submission_id=uuid.uuid4(),
        machine=unit.hammer,
        kind=DocumentKind.PLATE,
        title="Plate",
        sent=picture().read(),
        by=unit.manager,
    )
    make_seal()
    count(
        unit.housing,
        unit.manager,
        unit.lot,
        unsound={"A1": "cracked"},
        at=MONDAY + timedelta(days=1),
    )
    return unit


@pytest.fixture(scope="module")
def archive(unit: Unit) -> bytes:
    return made(unit)


@pytest.fixture(scope="module")
def seals(archive: bytes) -> list[bytes]:
    """The seal before the last count, and that of the archive."""
    return [seal.text.encode() for seal in Seal.objects.order_by("number")]


def verdict(folder: Path, files: dict[str, bytes]) -> tuple[int, str]:
    """What the script says of files, with nothing beside it but them."""
    script = folder / "check_record.py"
    shutil.copy(str(check_record.__file__), script)
    for name, data in files.items():
        (folder / name).write_bytes(data)
    command = [sys.executable, "-I", str(script), *files]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


def test_an_archive_holds_under_any_seal_of_its_site(
    tmp_path: Path, unit: Unit, archive: bytes, seals: list[bytes]
) -> None:
    entries = LedgerEntry.objects.filter(housing=unit.housing).count()
    for seal in seals:
        code, said = verdict(tmp_path, {"unit.zip": archive, "seal.txt": seal})
        # Whoever makes an archive writes the seal in it: of what came later only that one tells.
        is_own = seal == seals[-1]
        begins = "Yes. All of this holds together:" if is_own else "Can’t tell all of it:"
        assert (code, said.splitlines()[0]) == (0 if is_own else 2, begins)
        assert is_own is not ("is named by the archive’s own seal" in said)
        assert f"{entries} entries of unit {unit.housing.mark} follow each other" in said
        assert sha256(archive).hexdigest() in said


def test_its_certificates_are_held_to_the_records(archive: bytes) -> None:
    told = " ".join(check(archive))
    assert re.search(r"papers/certificate-\d+\S*\.pdf: it shows spring rate, 1,000 lbf/in", told)
    assert "carries no proof of its own" not in told


def test_a_pull_sheet_of_it_is_held_to_the_records() -> None:
    made_of = commit(figured_unit())
    unit = Unit(made_of.housing, made_of.hammer, PadLotFactory(), ManagerFactory())
    told = " ".join(check(made(unit, with_pull_sheet=True)))
    assert "papers/pull-sheet.pdf: not compared with the record: " in told
    assert "carries no proof of its own" not in told


def cut_short(archive: bytes) -> bytes:
    """An archive without its unit's last entry, under a seal that whoever cut it off wrote."""
    with zipfile.ZipFile(BytesIO(archive)) as packed:
        chain = packed.read("chain.jsonl").splitlines(keepends=True)
        own = packed.read("seal.txt").decode()
        unit = json.loads(packed.read("manifest.json"))["unit"]
    last, before = (
        f"unit {len(chain) - back} {sha256(line.rstrip()).hexdigest()} {unit}\n"
        for back, line in enumerate((chain[-1], chain[-2]))
    )
    assert last in own
    number = check_record.Seal("own", own).number + 1
    body = own.rsplit("code ", 1)[0].replace(last, before)
    body = body.replace(f"{check_record.SEAL} {number - 1}\n", f"{check_record.SEAL} {number}\n")
    text = f"{body}code {sha256(body.encode()).hexdigest()}\n"
    seal = check_record.Seal("forged", text)
    digest = sha256(chain[-1].rstrip()).hexdigest().encode()

    def left_out(line: bytes) -> bytes:
        if b"ratings.ledgerentry" not in line or b'"hash":"' + digest not in line:
            return line
        root = check_record.leaf_hash(line[:-1]).hex()
        return f'{{"leaves":1,"root":"{root}"}}\n'.encode()

    return repacked(
        archive,
        {"seal": {"code": seal.hash, "made": seal.made, "number": number}},
        seal=lambda _: text.encode(),
        chain=lambda _: b"".join(chain[:-1]),
        journal=lambda held: b"".join(map(left_out, held.splitlines(keepends=True))),
        papers=None,
    )


def test_an_archive_that_leaves_out_an_entry_which_a_seal_given_names_is_refused(
    archive: bytes, seals: list[bytes]
) -> None:
    forged = cut_short(archive)
    given = [(f"seal-{number}.txt", seal) for number, seal in enumerate(seals)]
    with pytest.raises(check_record.Wrong, match="entries were left out, or altered"):
        check_record.check([("unit.zip", forged), *given])
    # By an older seal alone it can't be told, and isn't called true.
    told = check_record.check([("unit.zip", forged), given[0]])
    [doubt] = [each for each in told if isinstance(each, check_record.Doubt)]
    assert "named by the archive’s own seal 3 alone" in doubt


def test_a_paper_taken_out_of_its_archive_is_not_called_altered(archive: bytes) -> None:
    """Whoever bought the unit sends the history on, alone."""
    with zipfile.ZipFile(BytesIO(archive)) as packed:
        [name] = [each for each in packed.namelist() if each.startswith("papers/history")]
        paper = packed.read(name)
    YardFactory()
    make_seal()
    files = [(f"{each.number}.txt", each.text.encode()) for each in Seal.objects.all()]
    told = check_record.check([("paper.pdf", paper), *files])
    [doubt] = [each for each in told if isinstance(each, check_record.Doubt)]
    assert "check it with the archive it came in" in doubt


def test_a_plain_zip_reader_sees_the_same_files(archive: bytes) -> None:
    with zipfile.ZipFile(BytesIO(archive)) as packed:
        assert packed.testzip() is None
        manifest = json.loads(packed.read("manifest.json"))
        assert set(packed.namelist()) == {*manifest["files"], "manifest.json"}
        for name, told in manifest["files"].items():
            assert sha256(packed.read(name)).hexdigest() == told["sha256"]


def test_the_same_record_and_choices_give_the_same_bytes(unit: Unit, archive: bytes) -> None:
    assert made(unit) == archive


def test_no_address_password_or_other_unit_goes_along(unit: Unit, archive: bytes) -> None:
    with zipfile.ZipFile(BytesIO(archive)) as packed:
        records = packed.read("journal.jsonl").decode()
    others = SuppressorHousing.objects.exclude(pk=unit.housing.pk)
    digest = sha256(unit.manager.email.encode()).hexdigest()
    assert unit.housing.mark in records
    for told in ("auth.user", unit.manager.email, digest, *(other.mark for other in others)):
        assert f'"{told}"' not in records


def test_its_photos_are_called_by_what_they_are(unit: Unit, archive: bytes) -> None:
    kept = MachineDocument.objects.get().sha256
    with zipfile.ZipFile(BytesIO(archive)) as packed:
        assert sha256(packed.read(f"files/{kept}")).hexdigest() == kept
    without = made(unit, with_files=False)
    assert f"files/{kept}".encode() not in without
    assert check(without)


def test_a_photo_that_is_gone_is_named_as_left_out(
    unit: Unit, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("inspections.archive.making.file_hash", lambda storage, name: None)
    held, _ = check_record.check_archive("unit.zip", BytesIO(made(unit)), [])
    document = MachineDocument.objects.get()
    record = f"inspections.machinedocument {document.pk}"
    assert held.manifest["left_out"] == {document.sha256: record}


def check(archive: bytes) -> list[str]:
    """What holds of an archive under the last seal, which came another way."""
    seal = Seal.objects.latest("number").text.encode()
    return check_record.check([("unit.zip", archive), ("seal.txt", seal)])


def refusal(archive: bytes) -> str:
    with pytest.raises((check_record.Wrong, check_record.Unreadable)) as caught:
        check(archive)
    return str(caught.value)


def test_the_ledger_alone_is_given_out_in_the_same_form(unit: Unit) -> None:
    chain = made(unit, is_chain=True)
    assert any("follow each other to the seal’s last" in each for each in check(chain))
    with zipfile.ZipFile(BytesIO(chain)) as packed:
        assert packed.namelist() == ["seal.txt", "journal.jsonl", "chain.jsonl", "manifest.json"]
        last = packed.read("chain.jsonl").splitlines()[-1]
    head = CurrentRating.objects.get(housing=unit.housing)
    assert sha256(last).hexdigest() == head.head_hash


Change = Callable[[bytes], bytes]


def repacked(archive: bytes, manifest: dict[str, Any], **changes: Change | None) -> bytes:
    """An archive made again with other files, by somebody who knows how one is made.

    changes: by the beginning of a file’s name what becomes of it; None where it is left out.
    """
    opened = BytesIO()
    packing = Packing(opened)
    with zipfile.ZipFile(BytesIO(archive)) as packed:
        for name in packed.namelist()[:-1]:
            change = next((c for part, c in changes.items() if name.startswith(part)), bytes)
            if change is not None:
                packing.add(name, [change(packed.read(name))])
        packing.finish(json.loads(packed.read("manifest.json")) | manifest)
    return opened.getvalue()


def without_line(number: int) -> Change:
    def change(held: bytes) -> bytes:
        lines = held.splitlines(keepends=True)
        del lines[number]
        return b"".join(lines)

    return change


def swapped(before: bytes, after: bytes) -> Change:
    return lambda held: held.replace(before, after)


ALTERED: dict[str, tuple[dict[str, Change | None], str]] = {
    "a count": ({"journal": swapped(b'"cracked"', b'"sound"')}, "are not those of"),
    "a leaf taken out": (
        {"journal": without_line(0)},
        "left out like that|are not those|and seal 2 ",
    ),
    "the last entry": ({"chain": without_line(-1)}, "entries were left out, or altered"),
    "an entry in the middle": ({"chain": without_line(1)}, "is not the one that the records have"),
    "an entry": ({"chain": swapped(b"pull_lbf", b"pull_lbs")}, "entry 1 of its chain is not the"),
    "a photo": ({"files": lambda held: held + b"."}, "its bytes don’t give its name"),
    "a photo left out": ({"files": None}, "is not in it, and not said to be left out"),
    "a certificate": ({"papers/certificate": swapped(b"1,000 lbf/in", b"1,100 lbf/in")}, "no page"),
    "a figure on paper": ({"papers/history": lambda held: b"%PDF EmbeddedFile"}, "no proof"),
    "the seal": ({"seal": swapped(b"leaves ", b"leaves 1")}, "its code is not that"),
    "no journal": ({"journal": None}, "journal.jsonl is not in it"),
}


@pytest.mark.parametrize("what", ALTERED)
def test_what_was_altered_and_packed_again_is_found(archive: bytes, what: str) -> None:
    changes, words = ALTERED[what]
    assert re.search(words, refusal(repacked(archive, {}, **changes)))


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("unit", "S-99", "tells of the unit “S-99”"),
        ("site", "Elsewhere", "tells of the site"),
        ("made_by", "Nobody", "tells of the maker"),
        ("made_by", [1], "not one as the site writes it"),
        ("kind", "another", "of another kind"),
        ("more", 1, "not one as the site writes it"),
        ("seal", {}, "names another seal"),
    ],
)
def test_a_manifest_that_says_otherwise_is_refused(
    archive: bytes, name: str, value: Any, words: str
) -> None:
    assert words in refusal(repacked(archive, {name: value}))


def zipped(name: str, data: bytes, method: int) -> bytes:
    """A ZIP as any program makes one."""
    held = BytesIO()
    with zipfile.ZipFile(held, "w", method) as packed:
        packed.writestr(name, data)
    return held.getvalue()


def test_zips_that_are_no_archive_are_refused_in_words(archive: bytes) -> None:
    outside = zipped("../../etc/passwd", b"", zipfile.ZIP_STORED)
    assert "called “../../etc/passwd”" in refusal(outside)
    bomb = zipped("seal.txt", b"0" * 10_000_000, zipfile.ZIP_DEFLATED)
    assert "seal.txt is packed or locked" in refusal(bomb)
    twice = BytesIO()
    packing = Packing(twice)
    packing.add("seal.txt", [b""])
    packing.add("seal.txt", [b""])
    packing.finish({})
    assert "seal.txt is in it twice" in refusal(twice.getvalue())
    assert "came only in part" in refusal(archive[:-1])
    assert "came only in part" in refusal(archive + b"PK")
    assert "ends before" in refusal(archive[:900])
    assert "is no archive" in refusal(b"PK\x03\x04")


def test_an_archive_with_no_seal_from_outside_is_not_called_true(
    tmp_path: Path, archive: bytes
) -> None:
    code, said = verdict(tmp_path, {"unit.zip": archive})
    assert (code, "no seal was given" in said) == (1, True)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_any_flipped_byte_of_an_archive_is_caught_and_located(
    archive: bytes, data: st.DataObject
) -> None:
    parts = check_record.parts_of("unit.zip", BytesIO(archive))
    held = bytearray(archive)
    place = data.draw(st.integers(0, len(held) - 1))
    held[place] ^= data.draw(st.integers(1, 255))
    said = refusal(bytes(held))
    at = [name for name, part in parts.items() if 0 <= place - part.begins < part.size]
    assert all(f"unit.zip: {name} was altered" in said for name in at)
    assert "unit.zip" in said


def test_an_entry_is_given_out_with_its_proof(unit: Unit, archive: bytes) -> None:
    client = signed_in(unit.manager)
    entry = LedgerEntry.objects.filter(housing=unit.housing).latest("sequence")
    text = client.get(reverse("entry-document", args=[entry.pk])).content
    proof = client.get(reverse("entry-proof", args=[entry.pk])).content
    assert sha256(text).hexdigest() == entry.hash
    seal = Seal.objects.latest("number").text.encode()
    told = check_record.check([("entry", text), ("proof", proof), ("seal", seal)])
    assert "entry is an entry whose hash stands in proof" in told
    with pytest.raises(check_record.Wrong, match="no proof or export given tells of it"):
        check_record.check([("entry", text.replace(b"1", b"2")), ("proof", proof), ("seal", seal)])


def test_an_entry_of_after_the_last_seal_leads_to_making_one(unit: Unit, archive: bytes) -> None:
    later = rated_unit()
    entry = LedgerEntry.objects.filter(housing=later.housing).latest("sequence")
    asked = reverse("entry-proof", args=[entry.pk])
    response = signed_in(unit.manager).get(asked, follow=True)
    assert response.redirect_chain[-1][0] == reverse("record")
    assert "came after the last seal" in response.content.decode()


def test_the_page_gives_out_the_archive_it_says(unit: Unit) -> None:
    client = signed_in(unit.manager)
    url = reverse("unit-archive", args=[unit.housing.pk])
    assert "Make the archive" in client.get(url).content.decode()
    response = client.post(url, {"what": "chain"})
    assert response["Content-Disposition"].startswith('attachment; filename="ledger-')
    assert check(response.getvalue())
    refused = client.post(url, {"what": "everything"})
    assert "No archive was made" in refused.content.decode()
