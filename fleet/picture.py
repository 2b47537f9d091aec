"""Make a sent file into a picture we keep: small enough, and telling nobody where it was taken."""

from __future__ import annotations

import hashlib
import struct
import warnings
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image

MOST_BYTES = 12 * 1024 * 1024
MOST_PIXELS = 40_000_000
LONGEST_SIDE = 2400
QUALITY = 85
FORMATS = ("JPEG", "PNG", "WEBP")
NAMES = {"JPEG": "JPEG", "PNG": "PNG", "WEBP": "WebP"}
# What the library raises for a file that is no picture, is broken off, or has tags that unpack to
# more than any picture needs.
DAMAGED = (
    ArithmeticError,
    AttributeError,
    EOFError,
    LookupError,
    MemoryError,
    OSError,
    SyntaxError,
    TypeError,
    ValueError,
    struct.error,
)


class BadUpload(ValueError):
    """A file that is not let in, in words for whoever sent it."""


class NoPicture(BadUpload):
    """A file that isn't a picture we can keep, in words for whoever sent it."""


@dataclass(frozen=True)
class Picture:
    """A picture as kept: JPEG without the tags it came with."""

    content: bytes
    width: int
    height: int

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.content).hexdigest()


def read_picture(
    sent: bytes, *, keep_place: bool = False, formats: tuple[str, ...] = FORMATS
) -> Picture:
    """Return the picture in a file, turned upright, its tags left out.

    keep_place: leave in the tag that says where it was taken, and no other. formats: taken, by the
    names the library of pictures gives them.

    Its size is read before any of its pixels. Raises NoPicture for anything else.
    """
    # Imported on need: the site must not wait for the picture library at start.
    from PIL import Image

    if len(sent) > MOST_BYTES:
        raise NoPicture(f"This file is larger than {MOST_BYTES // 1024**2} MB: send a smaller one.")
    try:
        with warnings.catch_warnings():
            # Pillow warns of what may be a bomb; the check of size below refuses it.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            opened = Image.open(BytesIO(sent), formats=tuple(formats))
    except (*DAMAGED, Image.DecompressionBombError):
        *others, last = (NAMES[each] for each in formats)
        raise NoPicture(f"This file is no picture: send a {', '.join(others)} or {last}.") from None
    if opened.width * opened.height > MOST_PIXELS:
        raise NoPicture(
            f"This picture is {opened.width:,} × {opened.height:,} dots: "
            f"{MOST_PIXELS // 1_000_000} million at the most."
        )
    return _kept(opened, keep_place)


def _kept(opened: Image.Image, keep_place: bool) -> Picture:
    # Imported on need: the site must not wait for the picture library at start.
    from PIL import ImageOps

    try:
        place = _place(opened) if keep_place else b""
        upright = ImageOps.exif_transpose(opened).convert("RGB")
    except DAMAGED:
        raise NoPicture("This picture is broken off or damaged: take it again.") from None
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    held = BytesIO()
    # Only the pixels go in: whatever tags and words the file had stay behind.
    upright.info.clear()
    upright.save(held, "JPEG", quality=QUALITY, exif=place)
    return Picture(held.getvalue(), upright.width, upright.height)


def _place(opened: Image.Image) -> bytes:
    """Return the tag of where a picture was taken, and nothing else of its tags."""
    # Imported on need: the site must not wait for the picture library at start.
    from PIL import ExifTags, Image

    kept, tag = Image.Exif(), ExifTags.IFD.GPSInfo
    for name, value in opened.getexif().get_ifd(tag).items():
        kept.get_ifd(tag)[name] = value
    return kept.tobytes()
