"""A stream that a passphrase opens, written and read piece by piece, however long it is.

The pieces are AES-256-GCM, numbered and the last one marked, so that none can be altered, left out,
moved or cut off. The key is made of the passphrase by scrypt.
"""

from __future__ import annotations

import os
from hashlib import scrypt, sha256
from hmac import compare_digest
from typing import BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

MAGIC = b"Line-Pull Ledger backup, encrypted 1\n"
LEAST_LETTERS = 12
_PIECE, _TAG = 256 * 1024, 16
_SALT, _CHECK = 16, 16
# What guessing one passphrase costs: 64 MB of memory, and a part of a second.
_COST, _BLOCK = 2**16, 8
_HEADER = len(MAGIC) + _SALT + _CHECK


class WrongPassphrase(Exception):
    """The passphrase given is not the one the file was encrypted with."""


class Damaged(Exception):
    """The file is not, or no longer, what was written: where, in words."""


def _keys(passphrase: str, salt: bytes) -> tuple[bytes, bytes]:
    """Return the key of a passphrase, and what a file holds to know the passphrase again."""
    made = scrypt(
        passphrase.encode(), salt=salt, n=_COST, r=_BLOCK, p=1, maxmem=2**27, dklen=32 + 32
    )
    return made[:32], sha256(made[32:]).digest()[:_CHECK]


def _nonce(number: int, is_last: bool) -> bytes:
    # The key is of this file alone, by its salt: a number never serves twice.
    return number.to_bytes(11) + (b"\1" if is_last else b"\0")


class EncryptedWriter:
    """Encrypts what is written to it into a file. `finish` marks its end."""

    def __init__(self, out: BinaryIO, passphrase: str) -> None:
        salt = os.urandom(_SALT)
        key, check = _keys(passphrase, salt)
        self._header = MAGIC + salt + check
        self._out, self._cipher, self._held, self._number = out, AESGCM(key), bytearray(), 0
        out.write(self._header)

    def write(self, data: bytes) -> int:
        self._held += data
        # One piece is held back: which is the last is known at the end alone.
        while len(self._held) > _PIECE:
            self._seal(bytes(self._held[:_PIECE]), is_last=False)
            del self._held[:_PIECE]
        return len(data)

    def flush(self) -> None:
        """Nothing is written before its piece is full."""

    def finish(self) -> None:
        self._seal(bytes(self._held), is_last=True)

    def _seal(self, piece: bytes, is_last: bool) -> None:
        nonce = _nonce(self._number, is_last)
        self._out.write(self._cipher.encrypt(nonce, piece, self._header))
        self._number += 1


class EncryptedReader:
    """Reads what an EncryptedWriter wrote, and gives out no byte that isn't as it was written.

    Raises WrongPassphrase when it is made, Damaged when it is read.
    """

    def __init__(self, file: BinaryIO, passphrase: str) -> None:
        self._header = file.read(_HEADER)
        if len(self._header) < _HEADER:
            raise Damaged("it is cut off at its very beginning")
        salt = self._header[len(MAGIC) : len(MAGIC) + _SALT]
        key, check = _keys(passphrase, salt)
        if not compare_digest(check, self._header[-_CHECK:]):
            raise WrongPassphrase
        self._file, self._cipher, self._number = file, AESGCM(key), 0
        self._held, self._next = b"", file.read(_PIECE + _TAG)
        self._is_over = False

    def read(self, size: int = -1) -> bytes:
        while not self._is_over and (size < 0 or len(self._held) < size):
            self._held += self._open()
        given = self._held if size < 0 else self._held[:size]
        self._held = self._held[len(given) :]
        return given

    def _open(self) -> bytes:
        piece, self._next = self._next, self._file.read(_PIECE + _TAG)
        self._is_over = not self._next
        try:
            opened = self._cipher.decrypt(_nonce(self._number, self._is_over), piece, self._header)
        except (InvalidTag, ValueError):
            end = f"after {self._number * _PIECE / 1e6:.1f} MB"
            raise Damaged(f"it is cut off or altered {end}") from None
        self._number += 1
        return opened
