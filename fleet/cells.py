"""Values as the text of a spreadsheet's cells, such that none of it runs as a formula."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, tzinfo
from functools import lru_cache
from io import StringIO
from itertools import islice
from tempfile import TemporaryFile
from typing import IO, Any

from django.http import FileResponse, HttpResponse, StreamingHttpResponse
from django.utils import timezone

from fleet.numbers import PLAIN

# A spreadsheet takes a cell that begins with one of these for a formula, some the wide ones too.
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
GUARD = "'"

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
# What a workbook's sheet and cell can hold.
ROWS_OF_SHEET = 1_048_576
LETTERS_OF_CELL = 32_767
# No workbook holds these control characters.
NOT_OF_A_CELL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
# Rows of a CSV file sent together.
AT_ONCE = 500


def written(value: Any, zone: tzinfo | None = None) -> str:
    """Return a value as the text of a cell, moments by the yard's clock unless a zone is given."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        # A spreadsheet's own times name no zone: they are as they stand there.
        return timezone.localtime(value, zone).isoformat() if value.tzinfo else value.isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return repr(value)
    return str(value)


def guarded(text: str) -> str:
    """Return text so that no spreadsheet runs it: a formula's beginning gets an apostrophe.

    So does text that had apostrophes before one, for `unguarded` to give back what it was.
    """
    is_like_one = text.lstrip(GUARD).startswith(FORMULA)
    return GUARD + text if is_like_one and not PLAIN.fullmatch(text) else text


def unguarded(text: str) -> str:
    """Take the apostrophe of `guarded` away again."""
    is_guarded = text.startswith(GUARD) and text.lstrip(GUARD).startswith(FORMULA)
    return text[1:] if is_guarded else text


def csv_download(name: str, header: Sequence[str], rows: Iterable[Sequence[Any]]) -> HttpResponse:
    """Return rows under a header as a CSV file in UTF-8 to be kept by this name and of today."""
    text = StringIO()
    writer = csv.writer(text)
    writer.writerow(header)
    writer.writerows([guarded(written(value)) for value in row] for row in rows)
    kept_as = f"{name}-{timezone.localdate():%Y-%m-%d}.csv"
    return HttpResponse(
        text.getvalue(),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{kept_as}"'},
    )


def csv_stream(
    name: str, header: Sequence[str], rows: Iterable[Sequence[Any]]
) -> StreamingHttpResponse:
    """Return the same of rows however many: they are written as they are read, and never held."""
    return StreamingHttpResponse(
        _csv_pieces(header, rows),
        content_type="text/csv; charset=utf-8",
        headers=_kept_as(f"{name}.csv"),
    )


def _csv_pieces(header: Sequence[str], rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    each = iter(rows)
    some: list[Sequence[Any]] = [header]
    while some:
        text = StringIO()
        csv.writer(text).writerows([guarded(written(value)) for value in row] for row in some)
        yield text.getvalue()
        some = list(islice(each, AT_ONCE))


def xlsx_download(
    name: str,
    header: Sequence[str],
    rows: Iterable[Sequence[Any]],
    rows_of_sheet: int = ROWS_OF_SHEET,
) -> FileResponse:
    """Return rows as a workbook, on as many sheets as they need, each with its header.

    Rows go to disk as they are read. A text too long for a cell ends with how long it is.
    """
    held = TemporaryFile()  # noqa: SIM115  # closed once it is sent
    write_rows(held, header, rows, rows_of_sheet)
    held.seek(0)
    return FileResponse(held, content_type=WORKBOOK, headers=_kept_as(f"{name}.xlsx"))


def write_rows(
    held: IO[bytes], header: Sequence[str], rows: Iterable[Sequence[Any]], rows_of_sheet: int
) -> None:
    """Write a workbook of rows to a file."""
    # Imported on need: the site must not wait for the workbook library at start.
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    each, number = iter(rows), 0
    some = list(islice(each, 1))
    while some or not number:
        number += 1
        sheet = book.create_sheet(f"Rows {number}")
        sheet.freeze_panes = "A2"
        sheet.append(list(header))
        left = rows_of_sheet - 1
        while some and left:
            for row in some:
                sheet.append([sheet_cell(sheet, value) for value in row])
            left -= len(some)
            some = list(islice(each, min(AT_ONCE, max(left, 1))))
    book.save(held)


def sheet_cell(sheet: object, value: object) -> object:
    """Return what to put into a cell of a workbook: a number, or text that is no formula.

    None where there is nothing to say: the library writes no cell for that, and reads one that says
    nothing as none.
    """
    if type(value) is str:
        text = _as_cell(value)
    elif isinstance(value, int | float) and not isinstance(value, bool) and _is_kept_whole(value):
        return value
    else:
        text = _as_cell(written(value))
    # The library takes what begins with this for an error; of formulas none is left.
    return _text_cell(sheet, text) if text.startswith("#") else text or None


@lru_cache(maxsize=2_000)
def _as_cell(text: str) -> str:
    """Return text as a cell can hold it; what is said of many rows is looked at once."""
    # Most is a mark, a word or a moment, which begins like no formula and holds no odd character.
    if text[:1].isalnum() and text.isprintable() and len(text) <= LETTERS_OF_CELL:
        return text
    text = NOT_OF_A_CELL.sub("\ufffd", guarded(text))
    if len(text) > LETTERS_OF_CELL:
        words = f"… (cut: {len(text):,} letters)"
        text = text[: LETTERS_OF_CELL - len(words)] + words
    return text


def _text_cell(sheet: object, text: str) -> object:
    """Return a cell that is text whatever it begins with."""
    # Imported on need: the site must not wait for the workbook library at start.
    from openpyxl.cell import WriteOnlyCell

    cell = WriteOnlyCell(sheet, text)
    cell.data_type = "s"
    return cell


def _is_kept_whole(value: float) -> bool:
    """A workbook's numbers have 16 digits; one that needs 17 goes in as text."""
    return float(f"{value:.16g}") == value


def _kept_as(name: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="{name}"'}
