"""The drill: backed up while people sign, restored elsewhere, and held to its seal."""

from __future__ import annotations

import errno
import itertools
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db import connections
from django.test import override_settings

from fleet.models import Yard
from inspections.models import Inspection
from ratings.models import BenchTest, LedgerEntry
from ratings.record.seals import make_seal
from tests.builders import MONDAY, Unit, bench_test, count, picture, rated_unit
from tests.factories import PadLotFactory

pytestmark = pytest.mark.django_db(transaction=True)
PASSPHRASE = "four words nobody says together"
Elsewhere = Callable[[], AbstractContextManager[None]]


def told(command: str, *arguments: object) -> str:
    """What a command prints, or the words it fails with."""
    out = StringIO()
    try:
        call_command(command, *map(str, arguments), stdout=out, stderr=out)
    except CommandError as trouble:
        return f"{out.getvalue()}failed: {trouble}"
    return out.getvalue()


@pytest.fixture
def elsewhere(tmp_path: Path) -> Iterator[Elsewhere]:
    """A context in which the site is another one: an empty database, and a folder of its own."""
    real: Any = connections["default"]
    postgres = real.vendor == "postgresql"
    name = f"{real.settings_dict['NAME']}_drill" if postgres else tmp_path / "elsewhere.sqlite3"
    media = tmp_path / "media"

    def sql(text: str) -> None:
        with real.cursor() as cursor:
            cursor.execute(text)

    @contextmanager
    def there() -> Iterator[None]:
        other = type(real)({**real.settings_dict, "NAME": str(name)}, "default")
        connections["default"] = other
        try:
            with override_settings(MEDIA_ROOT=media):
                yield
        finally:
            connections["default"] = real
            other.close()

    if postgres:
        sql(f"DROP DATABASE IF EXISTS {name}")
        sql(f"CREATE DATABASE {name} TEMPLATE template0")
    yield there
    if postgres:
        sql(f"DROP DATABASE {name}")


@pytest.fixture
def unit() -> Unit:
    """A unit, and a lot whose bench test has a photo."""
    unit = rated_unit()
    bench_test(PadLotFactory(), unit.manager, photo=picture())
    return unit


def photo_name() -> str:
    return str(BenchTest.objects.exclude(photo="").get().photo)


@contextmanager
def signing(unit: Unit) -> Iterator[list[int]]:
    """Let somebody sign counts of a unit for as long as the block runs; gives those that were."""
    signed: list[int] = []
    is_over, has_begun = threading.Event(), threading.Event()

    def sign() -> None:
        try:
            for minute in itertools.count(1):
                unsound = {"A1": "cracked"} if minute % 2 else {}
                at = MONDAY + timedelta(minutes=minute)
                count(unit.housing, unit.manager, unit.lot, unsound=unsound, at=at)
                signed.append(minute)
                has_begun.set()
                if is_over.is_set():
                    return
        finally:
            connections.close_all()

    thread = threading.Thread(target=sign)
    thread.start()
    try:
        assert has_begun.wait(20)
        yield signed
    finally:
        is_over.set()
        thread.join()


def test_what_is_backed_up_while_people_sign_holds_elsewhere(
    unit: Unit, elsewhere: Elsewhere, tmp_path: Path
) -> None:
    word, backup = tmp_path / "passphrase", tmp_path / "all.backup"
    word.write_text(f"{PASSPHRASE}\n")
    older = tmp_path / "older.seal"
    older.write_text(make_seal().text)
    with signing(unit) as signed:
        before = len(signed)
        assert "Read back and whole" in told("backup", backup, "--passphrase-file", word)
        after = len(signed) + 1
    name = photo_name()

    with elsewhere():
        answer = told("restore", backup, "--passphrase-file", word, "--seal", older)
        assert answer.endswith("Restored, and all of it holds.\n"), answer
        # The first count is the unit's own.
        assert before <= Inspection.objects.count() - 1 <= after
        assert default_storage.exists(name)


def test_files_of_a_bucket_are_backed_up_and_restored_into_it(
    bucket: Any, unit: Unit, elsewhere: Elsewhere, tmp_path: Path
) -> None:
    kept = bucket.Object(photo_name())
    whole = kept.get()["Body"].read()
    assert "Read back and whole" in told("backup", tmp_path / "all.backup")
    kept.delete()
    with elsewhere():
        answer = told("restore", tmp_path / "all.backup")
    assert answer.endswith("Restored, and all of it holds.\n"), answer
    assert kept.get()["Body"].read() == whole


def test_a_record_of_before_a_seal_is_not_passed_off_as_the_one_sealed(
    unit: Unit, elsewhere: Elsewhere, tmp_path: Path
) -> None:
    told("backup", tmp_path / "old.backup")
    count(unit.housing, unit.manager, unit.lot, unsound={"A1": "cracked"}, at=MONDAY)
    later = tmp_path / "later.seal"
    later.write_text(make_seal().text)
    with elsewhere():
        answer = told("restore", tmp_path / "old.backup", "--seal", later)
    assert "It is restored, and does not hold." in answer


def test_records_are_replaced_only_when_told_and_kept_beside(
    unit: Unit, elsewhere: Elsewhere, tmp_path: Path
) -> None:
    if connections["default"].vendor == "postgresql":
        pytest.skip("there nothing is put over what is there: see the next test")
    backup = tmp_path / "all.backup"
    told("backup", backup)
    with elsewhere():
        told("restore", backup)
        Yard.objects.create(name="Made since", place="Here")
        assert "give --replace" in told("restore", backup)
        assert Yard.objects.filter(name="Made since").exists()
        answer = told("restore", backup, "--replace")
        assert answer.endswith("Restored, and all of it holds.\n"), answer
        assert not Yard.objects.filter(name="Made since").exists()
    assert len(list(tmp_path.glob("elsewhere.sqlite3.replaced-*"))) == 1


def test_a_database_with_tables_is_never_filled_on_postgresql(unit: Unit, tmp_path: Path) -> None:
    if connections["default"].vendor == "sqlite":
        pytest.skip("there it is replaced when told: see the test before")
    told("backup", tmp_path / "all.backup")
    answer = told("restore", tmp_path / "all.backup", "--replace")
    assert "has tables already" in answer
    assert LedgerEntry.objects.exists()


def test_a_file_of_another_content_is_not_overwritten_untold(
    unit: Unit, elsewhere: Elsewhere, tmp_path: Path
) -> None:
    told("backup", tmp_path / "all.backup")
    name = photo_name()
    (tmp_path / "media" / name).parent.mkdir(parents=True)
    (tmp_path / "media" / name).write_bytes(b"another picture")
    with elsewhere():
        answer = told("restore", tmp_path / "all.backup")
        assert f"such as {name}: give --replace" in answer
        assert connections["default"].introspection.table_names() == []
    assert (tmp_path / "media" / name).read_bytes() == b"another picture"


def test_a_backup_cut_off_or_of_another_passphrase_restores_nothing(
    unit: Unit, elsewhere: Elsewhere, tmp_path: Path
) -> None:
    word, other = tmp_path / "passphrase", tmp_path / "other"
    word.write_text(PASSPHRASE)
    other.write_text("four words of somebody else")
    whole, cut = tmp_path / "all.backup", tmp_path / "cut.backup"
    told("backup", whole, "--passphrase-file", word)
    cut.write_bytes(whole.read_bytes()[:-1])
    with elsewhere():
        assert "is not the one" in told("restore", whole, "--passphrase-file", other)
        assert "is encrypted: give --passphrase-file" in told("restore", whole)
        assert "is no whole backup" in told("restore", cut, "--passphrase-file", word)
        assert connections["default"].introspection.table_names() == []
    assert not (tmp_path / "media").exists()


def test_a_disk_that_fills_leaves_no_backup_that_looks_whole(unit: Unit, tmp_path: Path) -> None:
    full = OSError(errno.ENOSPC, "No space left on device")
    with patch("ratings.backup.package.PackageWriter.finish", side_effect=full):
        answer = told("backup", tmp_path / "all.backup")
    assert "failed: Nothing was backed up: the disk is full" in answer
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_fills_while_restoring_leaves_the_database_as_it_was(
    unit: Unit, elsewhere: Elsewhere, tmp_path: Path
) -> None:
    told("backup", tmp_path / "all.backup")
    full = OSError(errno.ENOSPC, "No space left on device")
    with elsewhere(), patch("ratings.backup.restoring.default_storage.save", side_effect=full):
        assert "The disk is full: the database is as it was" in told(
            "restore", tmp_path / "all.backup"
        )
        assert connections["default"].introspection.table_names() == []


def test_no_backup_is_written_over(unit: Unit, tmp_path: Path) -> None:
    there = tmp_path / "all.backup"
    there.write_bytes(b"the one of yesterday")
    assert "is there already" in told("backup", there)
    assert there.read_bytes() == b"the one of yesterday"


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    assert f"the folder {tmp_path / 'safer'} is not there" in told(
        "backup", tmp_path / "safer" / "all.backup"
    )


def test_a_folder_mistyped_is_no_name_of_a_backup(tmp_path: Path) -> None:
    mistyped = tmp_path / "safre"
    assert f"there is no folder {mistyped}" in told("backup", mistyped)
    assert not mistyped.exists()


def test_a_kept_file_that_is_gone_is_named(unit: Unit, tmp_path: Path) -> None:
    name = photo_name()
    default_storage.delete(name)
    assert f"{name} is on record and not where it was kept" in told(
        "backup", tmp_path / "all.backup"
    )


def test_a_backup_of_a_newer_release_is_refused(
    unit: Unit, elsewhere: Elsewhere, tmp_path: Path
) -> None:
    newer = {("fleet", "9999_of_tomorrow"): None}
    with patch("ratings.backup.writing.MigrationRecorder.applied_migrations", return_value=newer):
        told("backup", tmp_path / "all.backup")
    with elsewhere():
        assert "which knows fleet.9999_of_tomorrow: upgrade" in told(
            "restore", tmp_path / "all.backup"
        )
