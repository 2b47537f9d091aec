"""The file of a backup: what was not written to its end, or altered since, is seen."""

from __future__ import annotations

import io
import tarfile
from pathlib import Path

import pytest

from ratings.backup.cipher import MAGIC, WrongPassphrase
from ratings.backup.package import (
    Contents,
    NeedsPassphrase,
    NoBackup,
    PackageWriter,
    read_package,
)

PASSPHRASE = "four words nobody says together"
# Longer than a piece of the cipher, and nothing that gets smaller.
DATABASE = bytes((number * number * 7 + number // 251) % 256 for number in range(300_000))
EITHER = pytest.mark.parametrize("passphrase", ["", PASSPHRASE], ids=["plain", "encrypted"])


def write(path: Path, passphrase: str = "") -> Contents:
    contents = Contents("2026-03-02T09:00:00.000000Z", "SQLite", "", [["fleet", "0001_initial"]])
    with path.open("wb") as out:
        package = PackageWriter(out, contents, passphrase)
        package.add_database(io.BytesIO(DATABASE), len(DATABASE))
        package.add_file("photos/1.jpg", io.BytesIO(b"one"), 3)
        package.finish()
    return contents


@EITHER
def test_what_is_read_is_what_was_written(tmp_path: Path, passphrase: str) -> None:
    path, read = tmp_path / "it.backup", {}
    written = write(path, passphrase)
    found = read_package(path, passphrase, lambda name, file: read.update({name: file.read()}))
    assert found == written
    assert read == {"database": DATABASE, "files/photos/1.jpg": b"one"}


@EITHER
@pytest.mark.parametrize("part", [0.0, 0.00001, 0.0005, 0.3, 0.8, 0.999, 1.0])
def test_one_cut_off_anywhere_is_refused(tmp_path: Path, passphrase: str, part: float) -> None:
    path = tmp_path / "it.backup"
    write(path, passphrase)
    whole = path.read_bytes()
    path.write_bytes(whole[: min(int(len(whole) * part), len(whole) - 1)])
    with pytest.raises(NoBackup):
        read_package(path, passphrase)


@EITHER
@pytest.mark.parametrize("part", [0.001, 0.4, 0.9])
def test_one_altered_anywhere_is_refused(tmp_path: Path, passphrase: str, part: float) -> None:
    path = tmp_path / "it.backup"
    write(path, passphrase)
    altered = bytearray(path.read_bytes())
    altered[int(len(altered) * part)] ^= 1
    path.write_bytes(altered)
    with pytest.raises(NoBackup):
        read_package(path, passphrase)


def test_another_passphrase_and_none_are_told_apart(tmp_path: Path) -> None:
    path = tmp_path / "it.backup"
    write(path, PASSPHRASE)
    assert path.read_bytes().startswith(MAGIC)
    assert b"one" not in path.read_bytes()
    with pytest.raises(WrongPassphrase):
        read_package(path, "four words of somebody else")
    with pytest.raises(NeedsPassphrase):
        read_package(path, "")


def test_what_is_not_encrypted_opens_with_any_tar(tmp_path: Path) -> None:
    path = tmp_path / "it.backup"
    write(path)
    with tarfile.open(path) as tar:
        assert tar.getnames() == ["database", "files/photos/1.jpg", "contents.json"]


def test_one_without_its_list_of_contents_is_not_whole(tmp_path: Path) -> None:
    path = tmp_path / "it.backup"
    with tarfile.open(path, "w:gz") as tar:
        member = tarfile.TarInfo("database")
        member.size = 3
        tar.addfile(member, io.BytesIO(b"one"))
    with pytest.raises(NoBackup, match="not written to its end"):
        read_package(path, "")


def test_another_file_is_no_backup(tmp_path: Path) -> None:
    path = tmp_path / "letter.txt"
    path.write_text("Dear yard")
    with pytest.raises(NoBackup, match="does not begin as one"):
        read_package(path, "")
