"""A PDF file written object by object, so that a paper of any length is never held in memory.

Numbers of objects are given before they are written, small ones are kept together in compressed
streams, and what is remembered of each is where it stands: eight bytes.
"""

from __future__ import annotations

import zlib
from array import array
from hashlib import sha256
from typing import BinaryIO

# Of small objects in one stream.
_TOGETHER = 200
_PLAIN, _IN_STREAM = 1, 2


def name_of(text: str) -> str:
    """Return text as a name in a PDF."""
    return "/" + "".join(
        each if each.isascii() and each.isalnum() else "".join(f"#{b:02X}" for b in each.encode())
        for each in text
    )


def text_of(text: str) -> str:
    """Return text as a string in a PDF, whatever its letters."""
    return f"<FEFF{text.encode('utf-16-be', 'replace').hex().upper()}>"


class PdfFile:
    """Writes objects as they come. Every one that was reserved must be put before it is closed."""

    def __init__(self, out: BinaryIO) -> None:
        self._out = out
        self._at = 0
        self._hash = sha256()
        # By number: its kind, then its offset, or its stream and its place in that.
        self._places = array("Q", [0])
        self._small: list[tuple[int, bytes]] = []
        self._write(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")

    def reserve(self) -> int:
        """Return the number of an object that is written later."""
        self._places.append(0)
        return len(self._places) - 1

    def put(self, body: str, number: int | None = None) -> int:
        """Write a dictionary or an array, and return its number."""
        number = self.reserve() if number is None else number
        self._small.append((number, body.encode("latin-1")))
        if len(self._small) >= _TOGETHER:
            self._put_small()
        return number

    def put_stream(
        self, entries: str, data: bytes, number: int | None = None, *, is_packed: bool = False
    ) -> int:
        """Write a stream with the entries of its dictionary, and return its number.

        is_packed: its data are in the filter that the entries name.
        """
        number = self.reserve() if number is None else number
        if not is_packed:
            data = zlib.compress(data, 6)
            entries += " /Filter /FlateDecode"
        self._place(number, _PLAIN, self._at)
        self._write(f"{number} 0 obj\n<<{entries} /Length {len(data)}>>\nstream\n".encode())
        self._write(data)
        # Both ends of a line: data whose own last byte is one of them lose nothing to a reader who
        # looks for the word and not at the length.
        self._write(b"\r\nendstream\nendobj\n")
        return number

    def close(self, root: int, info: int) -> None:
        """Write where every object stands. The file's id is made of all that is in it."""
        self._put_small()
        digest = self._hash.hexdigest()[:32].upper()
        own, at = self.reserve(), self._at
        self._place(own, _PLAIN, at)
        rows = bytearray(b"\x00\x00\x00\x00\x00\x00\xff\xff")
        for place in self._places[1:]:
            kind, where, within = place >> 60, place >> 16 & (1 << 44) - 1, place & 0xFFFF
            rows += bytes([kind]) + where.to_bytes(5, "big") + within.to_bytes(2, "big")
        self.put_stream(
            f"/Type /XRef /Size {len(self._places)} /W [1 5 2] /Root {root} 0 R /Info {info} 0 R "
            f"/ID [<{digest}> <{digest}>]",
            bytes(rows),
            own,
        )
        self._write(f"startxref\n{at}\n%%EOF\n".encode())

    def _put_small(self) -> None:
        if not self._small:
            return
        number, index, bodies = self.reserve(), [], bytearray()
        for place, (each, body) in enumerate(self._small):
            index.append(f"{each} {len(bodies)}")
            bodies += body + b"\n"
            self._place(each, _IN_STREAM, number, place)
        head = (" ".join(index) + "\n").encode()
        count, self._small = len(self._small), []
        self.put_stream(
            f"/Type /ObjStm /N {count} /First {len(head)}", head + bytes(bodies), number
        )

    def _place(self, number: int, kind: int, where: int, within: int = 0) -> None:
        self._places[number] = kind << 60 | where << 16 | within

    def _write(self, data: bytes) -> None:
        self._out.write(data)
        self._hash.update(data)
        self._at += len(data)
