"""The one gate through which every file comes in that somebody sends.

What a file is says its content, never its name. Size, dots, parts and depth are bounded before
anything is unpacked or decoded. A picture is made anew, so that neither tags, nor where it was
taken, nor what hides behind its end comes along; a PDF stays as it came and is only ever given out
to be saved. What is only held to the record, an archive of another site or a paper, is looked at in
place by `let_in_place`, and nothing of it is unpacked here.
"""

from __future__ import annotations

import hashlib
import re
import zipfile
import zlib
from dataclasses import dataclass
from enum import Enum
from io import BytesIO
from typing import IO, Any
from xml.parsers import expat

from django.core.files.uploadhandler import FileUploadHandler
from django.http import QueryDict
from django.http.multipartparser import MultiPartParser
from django.utils.datastructures import MultiValueDict

from fleet.picture import FORMATS, MOST_BYTES, BadUpload, NoPicture, read_picture

JPEG, PDF = "image/jpeg", "application/pdf"
# A workbook of a large yard has some dozens; each costs work before any of it is read.
MOST_PARTS = 5_000
MOST_UNPACKED = 200 * 1024**2
# Sheets that repeat themselves pack to a hundredth; zeros to a thousandth.
MOST_SWELLING = 400
SWELLS_FROM = 4 * 1024**2
MOST_DEPTH = 60
# Lines of a sheet one after another with nothing in them, before what stands below.
MOST_BLANK = 65_536
MOST_CELLS_SAID = 100_000_000
MOST_SHEETS = 250
# Elements of a sheet that put something into a line: a value, a text, a formula.
FILL = {"v", "t", "f"}
CHUNK = 256 * 1024
SPAN = re.compile(r"[A-Z]{1,3}\d{1,7}:([A-Z]{1,3})(\d{1,7})", re.ASCII)


UNNAMED = "unnamed"
# What is raised of a package that is damaged, locked or packed in a way nobody here reads.
UNREADABLE_PACKAGE = (
    zipfile.BadZipFile,
    zlib.error,
    NotImplementedError,
    RuntimeError,
    OSError,
    EOFError,
)


class _AnyName(MultiPartParser):
    """Reads forms of files, one with a name of nothing but what can't be shown among them."""

    def sanitize_file_name(self, file_name: str) -> str:
        return super().sanitize_file_name(file_name) or UNNAMED


class TakeAnyName(FileUploadHandler):
    """Has files read whatever they are called.

    By itself Django drops one whose name holds nothing to show, reads what stands in it as fields,
    and breaks the whole form off; what was dropped is then asked for as if it had not been sent.
    """

    def handle_raw_input(
        self,
        input_data: IO[bytes],
        META: dict[str, str],  # noqa: N803
        content_length: int,
        boundary: str,
        encoding: str | None = None,
    ) -> tuple[QueryDict, MultiValueDict[str, Any]]:
        # Both stand in META too, where the parser finds them.
        del content_length, boundary
        assert self.request is not None
        others = [each for each in self.request.upload_handlers if each is not self]
        read: Any = input_data
        return _AnyName(META, read, others, encoding).parse()


class Form(Enum):
    """What a file may be."""

    PICTURE = "a picture"
    PDF = "a PDF"
    # A workbook, tables packed together, or text parted into cells.
    TABLES = "tables"
    # A unit's record in one file, its parts as they are and one after another.
    ARCHIVE = "an archive of a unit"


@dataclass(frozen=True)
class Upload:
    """A file as it may be kept, or read on. width, height: of a picture, in dots."""

    form: Form
    content: bytes
    width: int = 0
    height: int = 0

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.content).hexdigest()

    @property
    def content_type(self) -> str:
        return {Form.PICTURE: JPEG, Form.PDF: PDF}[self.form]


def let_in(
    sent: bytes,
    *taken: Form,
    most_bytes: int = MOST_BYTES,
    most_unpacked: int = MOST_UNPACKED,
    pictures: tuple[str, ...] = FORMATS,
    keep_place: bool = False,
) -> Upload:
    """Return a sent file as it may be kept, where it is what is taken here.

    pictures: formats taken. keep_place: leave in a picture where it was taken. Raises BadUpload;
    where a picture alone is taken, that is NoPicture.
    """
    if len(sent) > most_bytes:
        most = f"This file is larger than {most_bytes // 1024**2} MB"
        if Form.TABLES in taken:
            raise BadUpload(f"{most}: send it in parts.")
        raise NoPicture(f"{most}: send a smaller one.")
    if Form.PDF in taken and sent.startswith(b"%PDF-"):
        _check_pdf(sent)
        return Upload(Form.PDF, sent)
    if Form.TABLES in taken:
        if sent.startswith(b"PK"):
            _check_package(sent, most_unpacked)
        return Upload(Form.TABLES, sent)
    made = read_picture(sent, keep_place=keep_place, formats=pictures)
    return Upload(Form.PICTURE, made.content, made.width, made.height)


STARTS = {Form.PDF: b"%PDF-", Form.ARCHIVE: b"PK\x03\x04"}


def let_in_place(sent: IO[bytes], size_bytes: int, *taken: Form, most_bytes: int) -> None:
    """Let through a file that is held to the record where it lies, and kept by nobody here.

    Raises BadUpload for one too large, or that does not begin as such a file does.
    """
    if size_bytes > most_bytes:
        raise BadUpload(
            f"it has {size_bytes:,} bytes, and {most_bytes:,} is the most that is taken"
        )
    sent.seek(0)
    begins = sent.read(max(map(len, STARTS.values())))
    sent.seek(0)
    if not begins.startswith(tuple(STARTS[each] for each in taken)):
        raise BadUpload(f"it is not {' or '.join(each.value for each in taken)}")


def picture_anew(kept: bytes) -> bytes | None:
    """Return a picture that was kept as it came, made anew; None where it is none.

    For files of before this gate: what was made here has no tags, and stays as it is.
    """
    if kept.startswith(b"\xff\xd8\xff") and b"Exif\0" not in kept[: 64 * 1024]:
        return kept
    try:
        return let_in(kept, Form.PICTURE, most_bytes=len(kept)).content
    except BadUpload:
        return None


def _check_pdf(sent: bytes) -> None:
    # Imported on need: the site must not wait for the PDF library at start.
    from pypdf import PdfReader
    from pypdf.errors import PyPdfError

    try:
        reader = PdfReader(BytesIO(sent))
        if reader.is_encrypted:
            raise BadUpload("This PDF is locked with a password: send it without.")
        pages = len(reader.pages)
    except (PyPdfError, KeyError, TypeError, RecursionError, OSError):
        pages = 0
    except ValueError as trouble:
        if isinstance(trouble, BadUpload):
            raise
        pages = 0
    if not pages:
        raise BadUpload("This PDF is broken off or damaged: save it anew and send that.")


def _check_package(sent: bytes, most_unpacked: int) -> None:
    """Refuse a package that swells, or whose XML costs more than it tells.

    One that is damaged or locked is left to its reader, which says so.
    """
    if sent.count(b"PK\x01\x02") > MOST_PARTS:
        raise BadUpload(f"This file has more than {MOST_PARTS:,} parts: send it in parts.")
    try:
        with zipfile.ZipFile(BytesIO(sent)) as packed:
            _check_parts(packed, most_unpacked)
    except UNREADABLE_PACKAGE:
        return


def _check_parts(packed: zipfile.ZipFile, most_unpacked: int) -> None:
    parts = packed.infolist()
    unpacked = sum(part.file_size for part in parts)
    if unpacked > most_unpacked:
        raise BadUpload(
            f"This file unpacks to {unpacked // 1024**2:,} MB: {most_unpacked // 1024**2} MB at "
            "the most. Send it in parts."
        )
    for part in parts:
        if part.file_size > max(SWELLS_FROM, MOST_SWELLING * part.compress_size):
            raise BadUpload(
                f"Its part {part.filename[:60]} swells to {part.file_size // 1024**2:,} MB from "
                f"{part.compress_size // 1024:,} kB, as no table does: save it again."
            )
    if not any(part.filename == "xl/workbook.xml" for part in parts):
        return
    for part in parts:
        if part.filename.endswith((".xml", ".rels")):
            with packed.open(part) as opened:
                _Look(part.filename, len(parts)).at(opened)


class _Look:
    """Looks over a part of a workbook as it is unpacked, keeping none of it."""

    def __init__(self, name: str, parts: int) -> None:
        self.name = name[:60]
        self.most_sheets = min(MOST_SHEETS, parts)
        self.depth = 0
        self.sheets = 0
        # The line looked at, the last that holds something, and how many were told of since.
        self.line = self.filled = self.blank = 0

    def at(self, opened: IO[bytes]) -> None:
        """Raise BadUpload for XML that would cost more than a table may."""
        parser = expat.ParserCreate()
        parser.StartDoctypeDeclHandler = self._doctype
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        try:
            while chunk := opened.read(CHUNK):
                parser.Parse(chunk, False)
        except expat.ExpatError:
            # No XML, or broken off: its reader says so.
            return

    def _doctype(self, *_: Any) -> None:
        raise BadUpload(
            f"Its part {self.name} declares words of its own, as no workbook does: save it again "
            "as XLSX, and send that."
        )

    def _start(self, named: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        tag = named.rpartition(":")[2]
        if self.depth > MOST_DEPTH:
            raise BadUpload(
                f"Its part {self.name} is nested deeper than {MOST_DEPTH}, as no workbook is: save "
                "it again as XLSX, and send that."
            )
        if tag == "row":
            self._count_line(attributes.get("r", ""))
        elif tag in FILL:
            self._refuse_blank(self.line - 1 - self.filled)
            self.filled, self.blank = self.line, 0
        elif tag == "dimension":
            self._refuse_span(attributes.get("ref", ""))
        elif tag == "sheet":
            self.sheets += 1
            if self.sheets > self.most_sheets:
                raise BadUpload("This workbook names more sheets than it has: save it again.")

    def _end(self, _tag: str) -> None:
        self.depth -= 1

    def _count_line(self, said: str) -> None:
        """Count a line, which a few bytes are; its reader makes it a row of cells."""
        is_said = said.isascii() and said.isdecimal() and len(said) < 10
        self.line = int(said) if is_said else self.line + 1
        self.blank += 1
        self._refuse_blank(self.blank - 1)

    def _refuse_blank(self, lines: int) -> None:
        """Refuse too many blank lines, told of or before something; a format far below is none."""
        if lines > MOST_BLANK:
            raise BadUpload(
                f"Its part {self.name} has more than {MOST_BLANK:,} blank lines up to line "
                f"{self.line:,}: take them away, and what stands far below the table."
            )

    def _refuse_span(self, said: str) -> None:
        found = SPAN.fullmatch(said)
        if found is None:
            return
        columns, rows = _column_number(found[1]), int(found[2])
        if columns * rows > MOST_CELLS_SAID:
            raise BadUpload(
                f"Its part {self.name} claims {rows:,} rows × {columns:,} columns: take away the "
                "blank ones below and beside the table, save it, and send that."
            )


def _column_number(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number
