"""Files kept beside the records: photos and papers, and what to say where one is gone."""

from __future__ import annotations

from django.core.files import File
from django.db.models.fields.files import FieldFile
from django.http import Http404


def is_there(file: FieldFile) -> bool:
    """Whether a kept file still lies where its record says."""
    return file.name is not None and file.storage.exists(file.name)


def open_kept(file: FieldFile) -> File[bytes]:
    """Open a kept file to be sent. Raises Http404 where it is gone."""
    try:
        opened: File[bytes] = file.open("rb")
    except (OSError, ValueError):
        raise Http404(
            f"The file {file.name} is on record and not where it was kept: ask whoever keeps the "
            "backup."
        ) from None
    return opened
