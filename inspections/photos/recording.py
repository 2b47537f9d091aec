"""Take a piece of a photo, and keep the photo once it has come whole."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.contrib.auth.models import User
from django.core.files.base import ContentFile
from django.db import transaction

from inspections.models import Photo, PhotoFile
from inspections.photos.picture import NoPicture, read_picture
from inspections.photos.pieces import add_piece, drop, received, take_whole


@transaction.atomic
def take_piece(
    *, photo_id: uuid.UUID, offset: int, length: int, piece: bytes, by: User
) -> tuple[int, bool]:
    """Add a piece to a photo that a signed inspection names; return what is here, and if whole.

    One that is whole already stays as it is. Raises Photo.DoesNotExist, OutOfStep, TooLarge,
    and NoPicture once it is whole and none.
    """
    photo = Photo.objects.select_for_update().get(pk=photo_id)
    if PhotoFile.objects.filter(photo=photo).exists():
        return length, True
    here = add_piece(photo_id, offset, length, piece)
    if here < length:
        return here, False
    _keep(photo, by)
    return here, True


def progress(photo_id: uuid.UUID) -> tuple[int, bool]:
    """Return how many bytes of a photo are here, and whether it is kept whole."""
    photo = Photo.objects.get(pk=photo_id)
    is_whole = PhotoFile.objects.filter(photo=photo).exists()
    return received(photo_id), is_whole


def _keep(photo: Photo, by: User) -> None:
    try:
        picture = read_picture(take_whole(photo.pk), keep_place=settings.KEEP_PHOTO_PLACE)
    except NoPicture:
        drop(photo.pk)
        raise
    PhotoFile.objects.create(
        photo=photo,
        file=ContentFile(picture.content, name=f"{photo.pk}.jpg"),
        sha256=picture.sha256,
        width=picture.width,
        height=picture.height,
        recorded_by=by,
    )
    transaction.on_commit(lambda: drop(photo.pk))
