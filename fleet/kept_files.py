"""Files kept beside the records: photos and papers, and what to say where one is gone."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from django.core.files import File
from django.core.files.storage import FileSystemStorage
from django.db.models.fields.files import FieldFile
from django.http import Http404

from fleet.dates import day_words
from fleet.models import FileLetGo
from fleet.signers import signer_words

NOT_FOUND, GONE, UNAVAILABLE = 404, 410, 503


class StoreDown(OSError):
    """The store that keeps the files, on another machine, does not answer: in words why."""


class SyncedFolder(FileSystemStorage):
    """Keeps files in a folder, each on the disk itself before a record says that it is kept.

    Else a power cut may leave the record, which is synced, and a photo of no bytes, which the phone
    that sent it keeps no more.
    """

    def _save(self, name: str, content: File[Any]) -> str:
        kept: str = super()._save(name, content)  # type: ignore[misc]  # the stubs leave it out
        place, folder = Path(self.path(kept)), Path(self.location)
        # The name stands in its folder, and the folder in the one above, which may be new too.
        for each in (place, *place.parents):
            _sync(each)
            if each == folder:
                break
        return kept


def _sync(place: Path) -> None:
    opened = os.open(place, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


class NotKept(Http404):
    """A file that a record tells of is not kept. Its words are for the reader.

    status: of the answer; 410 where it was let go for good, 503 where it may be asked for again.
    """

    def __init__(self, words: str, status: int = NOT_FOUND) -> None:
        self.status = status
        super().__init__(words)


def is_there(file: FieldFile) -> bool:
    """Whether a kept file still lies where its record says."""
    try:
        return file.name is not None and file.storage.exists(file.name)
    except StoreDown:
        # Not known to be gone: whoever opens it is told.
        return True


def let_go_words(file: FieldFile) -> str:
    """Return when, by whom and why a file was let go; "" of one that was not."""
    found = (
        FileLetGo.objects.filter(
            model=file.instance._meta.label_lower,
            row_key=str(file.instance.pk),
            column=file.field.name,
        )
        .select_related("letting_go__recorded_by")
        .first()
    )
    if found is None:
        return ""
    letting = found.letting_go
    return (
        f"let go on {day_words(letting.recorded_at)} by {signer_words(letting)}: "
        f"{letting.reason.rstrip('.')}"
    )


def absence_words(file: FieldFile) -> str:
    """Say where a file stood why it is not there: let go, or missing; "" where it is."""
    return "" if is_there(file) else str(_not_kept(file))


def photos_gone(photos: Iterable[tuple[object, FieldFile]]) -> Iterator[str]:
    """Say on paper of photos, each by its number, which were let go and which are missing."""
    gone = [(key, let_go_words(file)) for key, file in photos if not is_there(file)]
    yield from (f"photo {key} {words}" for key, words in gone if words)
    missing = [str(key) for key, words in gone if not words]
    if missing:
        yield f"THE FILE IS MISSING of photo {', '.join(missing)}"


def open_kept(file: FieldFile) -> File[bytes]:
    """Open a kept file to be sent. Raises NotKept where it is gone."""
    try:
        opened: File[bytes] = file.open("rb")
    except StoreDown:
        words = "The store of files does not answer at present: ask for it again in a minute."
        raise NotKept(words, UNAVAILABLE) from None
    except (OSError, ValueError):
        raise _not_kept(file) from None
    return opened


def _not_kept(file: FieldFile) -> NotKept:
    gone = let_go_words(file)
    if gone:
        return NotKept(f"It was {gone}.", GONE)
    return NotKept(
        f"The file {file.name} is on record and not where it was kept: ask whoever keeps the "
        "backup."
    )
