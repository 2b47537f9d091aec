"""Files kept beside the records: photos and papers, and what to say where one is gone."""

from __future__ import annotations

from django.core.files import File
from django.db.models.fields.files import FieldFile
from django.http import Http404

from fleet.dates import day_words
from fleet.models import FileLetGo
from fleet.signers import signer_words


def is_there(file: FieldFile) -> bool:
    """Whether a kept file still lies where its record says."""
    return file.name is not None and file.storage.exists(file.name)


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


def open_kept(file: FieldFile) -> File[bytes]:
    """Open a kept file to be sent. Raises Http404 where it is gone."""
    try:
        opened: File[bytes] = file.open("rb")
    except (OSError, ValueError):
        gone = let_go_words(file)
        if gone:
            raise Http404(f"The file {file.name} was {gone}.") from None
        raise Http404(
            f"The file {file.name} is on record and not where it was kept: ask whoever keeps the "
            "backup."
        ) from None
    return opened
