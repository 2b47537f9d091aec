"""A photo that comes in pieces: kept where it stands, so that the phone can go on from there.

Each piece is a kept file of its own, named by where in the photo it begins, since a store of
objects adds to none.
"""

from __future__ import annotations

import uuid
from contextlib import suppress
from datetime import datetime

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from fleet.picture import MOST_BYTES

MOST_PIECE_BYTES = 256 * 1024
# A phone sends eight times as many; less would keep a photo as thousands of files.
LEAST_PIECE_BYTES = 16 * 1024
# Where its pieces lie, in a folder for each photo.
PIECES = "pieces"


class OutOfStep(Exception):
    """A piece doesn't begin where the last one ended; `received` says where that is."""

    def __init__(self, received: int) -> None:
        self.received = received
        super().__init__(f"{received} bytes are here")


class TooLarge(ValueError):
    """A photo, or a piece of one, of more bytes than we take."""


class TooSmall(ValueError):
    """A piece of fewer bytes than we take, which is not the last of its photo."""


def received(photo_id: uuid.UUID) -> int:
    """Return how many bytes of a photo are here."""
    names = _names(photo_id)
    # Each began where the one before it ended, which may be less than was sent of it.
    return _beginning(names[-1]) + default_storage.size(names[-1]) if names else 0


def add_piece(photo_id: uuid.UUID, offset: int, length: int, piece: bytes) -> int:
    """Add a piece and return how many bytes are here now.

    The caller holds a lock on the photo. Raises OutOfStep, TooLarge and TooSmall.
    """
    if length > MOST_BYTES or len(piece) > MOST_PIECE_BYTES:
        raise TooLarge(f"A photo may have {MOST_BYTES // 1024**2} MB: take it again, smaller.")
    here = received(photo_id)
    if offset != here:
        raise OutOfStep(here)
    if offset + len(piece) > length:
        raise TooLarge("This piece goes beyond the end of its photo.")
    if len(piece) < LEAST_PIECE_BYTES and offset + len(piece) < length:
        raise TooSmall(
            f"A piece of a photo has {LEAST_PIECE_BYTES // 1024} kB or more, but for its last."
        )
    if piece:
        name = f"{_folder(photo_id)}/{offset:010d}.part"
        # One of which nothing came, where the machine stopped over it.
        default_storage.delete(name)
        default_storage.save(name, ContentFile(piece))
    return here + len(piece)


def take_whole(photo_id: uuid.UUID) -> bytes:
    """Return all that came of a photo."""
    pieces = []
    for name in _names(photo_id):
        with default_storage.open(name) as file:
            pieces.append(file.read())
    return b"".join(pieces)


def begun() -> list[uuid.UUID]:
    """Return the photos of which pieces are here.

    Whatever else lies there, such as a folder that a copy of the store brought, is none.
    """
    try:
        folders, _ = default_storage.listdir(PIECES)
    except FileNotFoundError:
        return []
    found = []
    for name in sorted(folders):
        with suppress(ValueError):
            found.append(uuid.UUID(name))
    return found


def last_came_at(photo_id: uuid.UUID) -> datetime | None:
    """Return when the last piece of a photo came; None where none is here."""
    names = _names(photo_id)
    return default_storage.get_modified_time(names[-1]) if names else None


def drop(photo_id: uuid.UUID) -> None:
    """Forget the pieces of a photo."""
    names = _names(photo_id)
    for name in names:
        default_storage.delete(name)
    if names:
        # A folder is something only where files are kept in folders.
        default_storage.delete(_folder(photo_id))


def _names(photo_id: uuid.UUID) -> list[str]:
    folder = _folder(photo_id)
    try:
        _, files = default_storage.listdir(folder)
    except FileNotFoundError:
        return []
    return [f"{folder}/{name}" for name in sorted(files)]


def _beginning(name: str) -> int:
    return int(name.rsplit("/", 1)[-1].removesuffix(".part"))


def _folder(photo_id: uuid.UUID) -> str:
    return f"{PIECES}/{photo_id}"
