"""A ZIP in which each file lies as it is, written one after another and never held whole.

The same files give the same bytes. `ratings/check_record.py` says how it is laid out, and takes no
other.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Mapping
from hashlib import sha256
from typing import Any, BinaryIO

from ratings.check_record import MANIFEST_FILE, MOST_MEMBERS, directory, local_header

MOST_BYTES = 2**31


class TooMuch(ValueError):
    """More than goes into one archive."""


class Packing:
    """Files on their way into a ZIP."""

    def __init__(self, opened: BinaryIO) -> None:
        self._opened = opened
        self._members: list[tuple[str, int, int, int]] = []
        self.files: dict[str, dict[str, Any]] = {}

    def add(self, name: str, pieces: Iterable[bytes]) -> None:
        """Put a file in. Raises TooMuch where it has no room, and of its files too many."""
        begins = self._opened.tell()
        self._opened.write(local_header(name, 0, 0))
        digest, crc, size = sha256(), 0, 0
        for piece in pieces:
            digest.update(piece)
            crc, size = zlib.crc32(piece, crc), size + len(piece)
            self._opened.write(piece)
            if begins + size > MOST_BYTES:
                raise TooMuch("These files take more than 2 GB together: leave the photos out.")
        if len(self._members) >= MOST_MEMBERS - 1:
            raise TooMuch(f"These are more than {MOST_MEMBERS} files: leave the photos out.")
        ends = self._opened.tell()
        self._opened.seek(begins)
        self._opened.write(local_header(name, size, crc))
        self._opened.seek(ends)
        self._members.append((name, size, crc, begins))
        self.files[name] = {"bytes": size, "sha256": digest.hexdigest()}

    def finish(self, manifest: Mapping[str, Any]) -> None:
        """Put the manifest in, which names all files, and end it."""
        told = {**manifest, "files": dict(self.files)}
        text = json.dumps(told, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
        self.add(MANIFEST_FILE, [text.encode()])
        self._opened.write(directory(self._members, self._opened.tell()))
