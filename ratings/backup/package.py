"""The one file of a backup: a compressed tar of the database, the kept files and a list of both.

The list comes last, and names each by its size and SHA-256: a file that was not written to its end
has none. What is not encrypted opens with any tar.
"""

from __future__ import annotations

import gzip
import io
import json
import tarfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any, BinaryIO, cast

from ratings.backup.cipher import MAGIC, Damaged, EncryptedReader, EncryptedWriter

FORMAT = 1
DATABASE, FILES, CONTENTS = "database", "files/", "contents.json"
# A list of contents is text of a line a file: more is none.
_MOST_CONTENTS = 2**30
_AT_ONCE = 2**20
_GZIP = b"\x1f\x8b"


class NoBackup(Exception):
    """A file that can't be restored, and why, in words that continue “It is no backup: …”."""


class NeedsPassphrase(Exception):
    """The file is encrypted, and no passphrase was given."""


@dataclass
class Contents:
    """What a backup holds. files: size and SHA-256 of each kept file, by its name.

    missing: kept files that the records tell of and that were not where they were kept.
    migrations: the state of the database's tables, by app and name. seal: its text, made before.
    """

    made_at: str
    engine: str
    seal: str
    migrations: list[list[str]]
    format: int = FORMAT
    database: tuple[int, str] = (0, "")
    files: dict[str, tuple[int, str]] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)

    @property
    def size(self) -> int:
        """Bytes it takes once restored, about."""
        return self.database[0] + sum(size for size, _ in self.files.values())


class _Summed:
    """Reads a file through, and keeps its SHA-256 and how much was read."""

    def __init__(self, file: BinaryIO) -> None:
        self._file, self._sum, self.size = file, sha256(), 0

    def read(self, size: int = -1) -> bytes:
        data = self._file.read(size)
        self._sum.update(data)
        self.size += len(data)
        return data

    @property
    def told(self) -> tuple[int, str]:
        return self.size, self._sum.hexdigest()


class PackageWriter:
    """Writes a backup into an open file, member by member."""

    def __init__(self, out: BinaryIO, contents: Contents, passphrase: str) -> None:
        self.contents = contents
        self._encrypted = EncryptedWriter(out, passphrase) if passphrase else None
        under = cast(BinaryIO, self._encrypted or out)
        # Photos hardly get smaller: the quickest level is for the database.
        self._packed = gzip.GzipFile(filename="", fileobj=under, mode="wb", compresslevel=1)
        self._tar = tarfile.TarFile(fileobj=self._packed, mode="w", format=tarfile.PAX_FORMAT)

    def add_database(self, file: BinaryIO, size: int) -> None:
        self.contents.database = self._add(DATABASE, file, size)

    def add_file(self, name: str, file: BinaryIO, size: int) -> None:
        self.contents.files[name] = self._add(FILES + name, file, size)

    def finish(self) -> None:
        """Write the list of contents: from now on the file is a whole one."""
        told = json.dumps(asdict(self.contents)).encode()
        self._add(CONTENTS, io.BytesIO(told), len(told))
        self._tar.close()
        self._packed.close()
        if self._encrypted is not None:
            self._encrypted.finish()

    def _add(self, name: str, file: BinaryIO, size: int) -> tuple[int, str]:
        member, summed = tarfile.TarInfo(name), _Summed(file)
        member.size, member.mode = size, 0o600
        self._tar.addfile(member, cast(BinaryIO, summed))
        return summed.told


# Takes a member's name and an open file with what it holds.
Take = Callable[[str, BinaryIO], None]


def _leave(_name: str, _file: BinaryIO) -> None:
    """Take nothing of a member: it is read all the same, to its end."""


def read_package(path: Path, passphrase: str, take: Take = _leave) -> Contents:
    """Read a backup to its end, giving out each member, and return what it holds.

    Every byte is held to the list of contents. Raises NoBackup, NeedsPassphrase or
    WrongPassphrase; OSError where the file can't be opened.
    """
    found: dict[str, tuple[int, str]] = {}
    listed: bytes | None = None
    with path.open("rb") as file, _in_words(), _opened(file, passphrase) as packed:
        with tarfile.open(fileobj=packed, mode="r|") as tar:
            for member in tar:
                opened = tar.extractfile(member) if member.isreg() else None
                if opened is None or listed is not None:
                    raise NoBackup(f"it holds {member.name!r}, which no backup does there")
                if member.name == CONTENTS:
                    listed = opened.read(_MOST_CONTENTS)
                    continue
                summed = _Summed(cast(BinaryIO, opened))
                take(member.name, cast(BinaryIO, summed))
                while summed.read(_AT_ONCE):
                    pass
                found[member.name] = summed.told
        # What follows the tar's own end: the sum of the compressed stream, or the last piece.
        while packed.read(_AT_ONCE):
            pass
    if listed is None:
        raise NoBackup("it was not written to its end, and has no list of what it holds")
    contents = _contents_in(listed)
    _hold(contents, found)
    return contents


@contextmanager
def _opened(file: BinaryIO, passphrase: str) -> Iterator[BinaryIO]:
    begin = file.read(len(MAGIC))
    file.seek(0)
    under: Any = file
    if begin == MAGIC:
        if not passphrase:
            raise NeedsPassphrase
        under = EncryptedReader(file, passphrase)
    elif begin and MAGIC.startswith(begin):
        raise NoBackup("it is cut off at its very beginning")
    elif not begin.startswith(_GZIP):
        raise NoBackup("it does not begin as one that “manage.py backup” wrote")
    with gzip.GzipFile(fileobj=under, mode="rb") as packed:
        yield cast(BinaryIO, packed)


@contextmanager
def _in_words() -> Iterator[None]:
    try:
        yield
    except Damaged as trouble:
        raise NoBackup(str(trouble)) from None
    except EOFError:
        raise NoBackup("it is cut off before its end") from None
    except (tarfile.TarError, gzip.BadGzipFile, zlib.error) as trouble:
        raise NoBackup(f"it is cut off or altered ({trouble})") from None


def _contents_in(listed: bytes) -> Contents:
    try:
        told = json.loads(listed)
        if told["format"] != FORMAT:
            raise NoBackup(
                f"it is of format {told['format']}, and this release reads format {FORMAT}: "
                "restore it with the release that wrote it"
            )
        contents = Contents(**told)
        contents.database = (contents.database[0], contents.database[1])
        contents.files = {name: (size, sum_) for name, (size, sum_) in contents.files.items()}
    except (ValueError, KeyError, TypeError, AttributeError, IndexError) as trouble:
        raise NoBackup(f"its list of contents can’t be read ({trouble})") from None
    return contents


def _hold(contents: Contents, found: dict[str, tuple[int, str]]) -> None:
    """Refuse a backup that holds other things than its list says."""
    told = {DATABASE: contents.database} | {
        FILES + name: each for name, each in contents.files.items()
    }
    for name in sorted(told.keys() | found.keys()):
        if told.get(name) != found.get(name):
            raise NoBackup(f"its {name} is not what its list of contents says")
