"""Take a piece of a photo, and keep the photo once it has come whole."""

from __future__ import annotations

import uuid
from contextlib import suppress
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.contrib.auth.models import User
from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models import QuerySet

from fleet import clock
from fleet.people.yards import in_no_yard
from fleet.picture import NoPicture
from fleet.uploads import Form, let_in
from inspections.models import Photo, PhotoFile, PullPhoto, PullPhotoFile
from inspections.photos.pieces import add_piece, begun, drop, last_came_at, received, take_whole

# What names a photo, and what keeps its file.
AnyPhoto = Photo | PullPhoto


class UnknownPhoto(LookupError):
    """No signed record names this photo."""


@in_no_yard("it completes what was signed, and was looked at when that was")
@transaction.atomic
def take_piece(
    *, photo_id: uuid.UUID, offset: int, length: int, piece: bytes, by: User
) -> tuple[int, bool]:
    """Add a piece to a photo that a signed record names; return what is here, and if whole.

    One that is whole already stays as it is. Raises UnknownPhoto, OutOfStep, TooLarge, TooSmall,
    and NoPicture once it is whole and none.
    """
    photo = photo_named(photo_id, is_locked=True)
    if _files_of(photo).exists():
        return length, True
    here = add_piece(photo_id, offset, length, piece)
    if here < length:
        return here, False
    try:
        keep_photo(photo, take_whole(photo_id), by)
    except NoPicture:
        drop(photo_id)
        raise
    transaction.on_commit(lambda: drop(photo_id))
    return here, True


# A sign-in lasts a month from its last use, and a phone may be at sea as long again. It lets go of
# a photo only once that is here whole, and after this sends it anew from its beginning.
DAYS_OF_PIECES = 90


def clear_pieces() -> int:
    """Clear the pieces of photos of which none came for long, and return of how many photos.

    Of a photo that is named on record nothing is added meanwhile.
    """
    cleared = 0
    for photo_id in begun():
        with transaction.atomic():
            with suppress(UnknownPhoto):
                photo_named(photo_id, is_locked=True)
            came_at = last_came_at(photo_id)
            if came_at is None or clock.now() - came_at < timedelta(days=DAYS_OF_PIECES):
                continue
            drop(photo_id)
            cleared += 1
    return cleared


def progress(photo_id: uuid.UUID) -> tuple[int, bool]:
    """Return how many bytes of a photo are here, and whether it is kept whole.

    Raises UnknownPhoto.
    """
    return received(photo_id), _files_of(photo_named(photo_id)).exists()


def photo_named(photo_id: uuid.UUID, *, is_locked: bool = False) -> AnyPhoto:
    """Return the photo an inspection or a pull names by this id. Raises UnknownPhoto."""
    for model in (Photo, PullPhoto):
        rows: QuerySet[Any] = model._default_manager.filter(pk=photo_id)
        found: AnyPhoto | None = (rows.select_for_update() if is_locked else rows).first()
        if found is not None:
            return found
    raise UnknownPhoto(photo_id)


def keep_photo(photo: AnyPhoto, sent: bytes, by: User) -> None:
    """Keep the file of a photo. Raises NoPicture where it is none."""
    picture = let_in(sent, Form.PICTURE, keep_place=settings.KEEP_PHOTO_PLACE)
    _files_of(photo).create(
        photo=photo,
        file=ContentFile(picture.content, name=f"{photo.pk}.jpg"),
        sha256=picture.sha256,
        width=picture.width,
        height=picture.height,
        recorded_by=by,
    )


def _files_of(photo: AnyPhoto) -> QuerySet[Any]:
    model = PhotoFile if isinstance(photo, Photo) else PullPhotoFile
    return model._default_manager.filter(photo=photo.pk)
