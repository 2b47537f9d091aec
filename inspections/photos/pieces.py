"""A photo that comes in pieces: kept where it stands, so that the phone can go on from there."""

from __future__ import annotations

import uuid
from pathlib import Path

from django.conf import settings

from fleet.picture import MOST_BYTES

MOST_PIECE_BYTES = 256 * 1024


class OutOfStep(Exception):
    """A piece doesn't begin where the last one ended; `received` says where that is."""

    def __init__(self, received: int) -> None:
        self.received = received
        super().__init__(f"{received} bytes are here")


class TooLarge(ValueError):
    """A photo, or a piece of one, of more bytes than we take."""


def received(photo_id: uuid.UUID) -> int:
    """Return how many bytes of a photo are here."""
    path = _path(photo_id)
    return path.stat().st_size if path.exists() else 0


def add_piece(photo_id: uuid.UUID, offset: int, length: int, piece: bytes) -> int:
    """Add a piece and return how many bytes are here now.

    The caller holds a lock on the photo. Raises OutOfStep and TooLarge.
    """
    if length > MOST_BYTES or len(piece) > MOST_PIECE_BYTES:
        raise TooLarge(f"A photo may have {MOST_BYTES // 1024**2} MB: take it again, smaller.")
    here = received(photo_id)
    if offset != here:
        raise OutOfStep(here)
    if offset + len(piece) > length:
        raise TooLarge("This piece goes beyond the end of its photo.")
    path = _path(photo_id)
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("ab") as file:
        file.write(piece)
    return here + len(piece)


def take_whole(photo_id: uuid.UUID) -> bytes:
    """Return all that came of a photo."""
    return _path(photo_id).read_bytes()


def drop(photo_id: uuid.UUID) -> None:
    """Forget the pieces of a photo."""
    _path(photo_id).unlink(missing_ok=True)


def _path(photo_id: uuid.UUID) -> Path:
    return Path(settings.MEDIA_ROOT) / "pieces" / f"{photo_id}.part"
