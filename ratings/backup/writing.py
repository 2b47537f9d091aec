"""Back up: the database of one moment and every file it tells of, in one file, read back."""

from __future__ import annotations

import logging
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import BinaryIO, cast

from django.apps import apps
from django.core.files.storage import Storage
from django.db import DatabaseError, connection
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import FileField
from django.utils import timezone

from fleet.aside import is_full
from ratings.backup.databases import NoDatabase, dumped, engine
from ratings.backup.package import Contents, NoBackup, PackageWriter, read_package
from ratings.ledger.canonical import time_text
from ratings.record.seals import make_seal, read_seal

logger = logging.getLogger(__name__)

ENDING = ".backup"


class NotBackedUp(Exception):
    """No backup was made, and nothing is left of one; in words."""


@dataclass(frozen=True)
class Made:
    """A backup that is whole: where it is, its size in bytes, and what it holds."""

    path: Path
    size: int
    contents: Contents


def back_up(where: Path, passphrase: str = "") -> Made:
    """Write a backup, read it back, and only then give it its name.

    where: the file to be, or a folder in which it is named by the time. Raises NotBackedUp.
    """
    path = where
    if not where.parent.is_dir():
        raise NotBackedUp(
            f"Nothing was backed up: the folder {where.parent} is not there. Make it, or name "
            "another."
        )
    if where.suffix != ENDING and not where.exists():
        raise NotBackedUp(
            f"Nothing was backed up: there is no folder {where}. Make it, or give the file to be a "
            f"name that ends in {ENDING}."
        )
    if where.is_dir():
        path = where / f"ledger-{timezone.localtime():%Y-%m-%d-%H%M%S}{ENDING}"
    try:
        return _back_up(path, passphrase)
    except (NoDatabase, NoBackup) as trouble:
        raise NotBackedUp(f"Nothing was backed up. {trouble}") from trouble
    except (OSError, DatabaseError) as trouble:
        if is_full(trouble):
            words = (
                f"the disk is full. Make room where {path} is to be, and in the data folder for a "
                "copy of the database."
            )
        else:
            words = f"{trouble}."
        raise NotBackedUp(f"Nothing was backed up: {words}") from trouble


def _back_up(path: Path, passphrase: str) -> Made:
    _refuse_one_that_is_there(path)
    seal = _seal()
    # Only its owner reads it, and it has another name until it is whole.
    with NamedTemporaryFile(
        dir=path.parent, prefix=f"{path.name}.", suffix=".part", delete=False
    ) as out:
        part = Path(out.name)
        try:
            written = _write(cast(BinaryIO, out), seal, passphrase)
            out.flush()
            os.fsync(out.fileno())
            if read_package(part, passphrase) != written:
                raise NoBackup("What was read back is not what was written: look at that disk.")
            _refuse_one_that_is_there(path)
            part.rename(path)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
    _keep_name(path.parent)
    return Made(path, path.stat().st_size, written)


def _refuse_one_that_is_there(path: Path) -> None:
    if path.exists():
        raise NoBackup(f"{path} is there already, and no backup is written over: name another.")


def _seal() -> str:
    try:
        return make_seal().text
    except Exception:
        # A record that can't be sealed is the one that most needs a copy.
        logger.exception("the record could not be sealed before it was backed up")
        return ""


def _write(out: BinaryIO, seal: str, passphrase: str) -> Contents:
    with dumped() as database:
        contents = Contents(
            made_at=time_text(timezone.now()),
            engine=engine(),
            seal=seal,
            migrations=sorted(map(list, MigrationRecorder(connection).applied_migrations())),
        )
        kept = list(_kept_files())
        if connection.vendor == "sqlite":
            # Its log goes into the file with the last connection.
            connection.close()
        package = PackageWriter(out, contents, passphrase)
        with database.open("rb") as file:
            package.add_database(file, database.stat().st_size)
        for name, storage in kept:
            try:
                opened = storage.open(name)
            except FileNotFoundError:
                contents.missing.append(name)
                continue
            with opened:
                package.add_file(name, cast(BinaryIO, opened), opened.size)
        package.finish()
    return contents


def _kept_files() -> Iterator[tuple[str, Storage]]:
    """Yield the name of every file that a record tells of, each once."""
    for model in apps.get_models():
        for field in model._meta.concrete_fields:
            if isinstance(field, FileField) and not model._meta.proxy:
                named = model._base_manager.exclude(**{field.name: ""}).exclude(
                    **{f"{field.name}__isnull": True}
                )
                for name in (
                    named.order_by(field.name).values_list(field.name, flat=True).distinct()
                ):
                    yield name, field.storage


def _keep_name(folder: Path) -> None:
    """See to it that the name of a new file outlasts a power cut."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def seal_words(seal: str) -> str:
    """Say which seal a backup is under."""
    if not seal:
        return "The record could not be sealed: look at “manage.py ledger verify”"
    told = read_seal(seal)
    return f"Seal {told.number}, code {told.hash}"
