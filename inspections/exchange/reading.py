"""Workbooks and CSV files: read with care, written so that nothing in them runs."""

from __future__ import annotations

import csv
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from io import BytesIO, StringIO

from openpyxl import Workbook, load_workbook
from openpyxl.cell import WriteOnlyCell

from inspections.exchange.cells import guarded, unguarded, written
from inspections.exchange.tables import BY_NAME, TABLES

MOST_BYTES = 20 * 1024 * 1024
# What a file may unpack to: a small one that swells beyond this is no register.
MOST_UNPACKED = 200 * 1024 * 1024
MOST_ROWS = 200_000

# By table: rows of text, each with the number of its line.
Lines = dict[str, list[tuple[int, dict[str, str]]]]


class BadFile(ValueError):
    """A file that can't be read, in words that say what would do."""


def read_file(name: str, content: bytes) -> Lines:
    """Return the rows of every table in a workbook, a CSV file or a ZIP of CSV files."""
    if len(content) > MOST_BYTES:
        raise BadFile(f"This file is larger than {MOST_BYTES // 1024**2} MB: send it in parts.")
    if not content.startswith(b"PK"):
        return _tables([(_stem(name), _csv_rows(content))])
    _refuse_bombs(content)
    with zipfile.ZipFile(BytesIO(content)) as packed:
        if "xl/workbook.xml" in packed.namelist():
            return _tables(list(_sheets(content)))
        names = [each for each in packed.namelist() if each.lower().endswith(".csv")]
        return _tables([(_stem(each), _csv_rows(packed.read(each))) for each in names])


def write_workbook(tables: Mapping[str, Sequence[Sequence[object]]]) -> bytes:
    """Return a workbook with a sheet for each table; every cell is text or a number."""
    book = Workbook(write_only=True)
    for table in TABLES:
        sheet = book.create_sheet(table.name)
        sheet.append(table.header)
        for row in tables.get(table.name, ()):
            sheet.append([_cell(sheet, value) for value in row])
    held = BytesIO()
    book.save(held)
    return held.getvalue()


def write_csvs(tables: Mapping[str, Sequence[Sequence[object]]]) -> bytes:
    """Return a ZIP with a CSV file for each table, in UTF-8."""
    held = BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
        for table in TABLES:
            text = StringIO()
            writer = csv.writer(text)
            writer.writerow(table.header)
            for row in tables.get(table.name, ()):
                writer.writerow([guarded(written(value)) for value in row])
            packed.writestr(f"{table.name}.csv", text.getvalue().encode("utf-8"))
    return held.getvalue()


def _cell(sheet: object, value: object) -> object:
    if isinstance(value, int | float) and not isinstance(value, bool) and _is_kept_whole(value):
        return value
    cell = WriteOnlyCell(sheet, guarded(written(value)))
    # As a string, whatever it begins with.
    cell.data_type = "s"
    return cell


def _is_kept_whole(value: float) -> bool:
    """A workbook's numbers have 16 digits; one that needs 17 goes in as text."""
    return float(f"{value:.16g}") == value


def _refuse_bombs(content: bytes) -> None:
    try:
        with zipfile.ZipFile(BytesIO(content)) as packed:
            unpacked = sum(entry.file_size for entry in packed.infolist())
    except zipfile.BadZipFile:
        raise BadFile("This file is broken off: send it again.") from None
    if unpacked > MOST_UNPACKED:
        raise BadFile(
            f"This file unpacks to {unpacked // 1024**2:,} MB: {MOST_UNPACKED // 1024**2} MB at "
            "the most. Send it in parts."
        )


def _sheets(content: bytes) -> Iterator[tuple[str, Iterator[list[str]]]]:
    try:
        # Values as last reckoned: no formula is ever run here.
        book = load_workbook(BytesIO(content), read_only=True, data_only=True)
    except (KeyError, ValueError, OSError, zipfile.BadZipFile):
        raise BadFile("This workbook can’t be read: save it as XLSX and send that.") from None
    for sheet in book.worksheets:
        yield sheet.title, ([written(value) for value in row] for row in sheet.values)


def _csv_rows(content: bytes) -> Iterator[list[str]]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadFile("This is no CSV file in UTF-8: save it as that, or as XLSX.") from None
    first = text.split("\n", 1)[0]
    delimiter = max("\t;,", key=first.count)
    csv.field_size_limit(1_000_000)
    return csv.reader(StringIO(text), delimiter=delimiter)


def _tables(given: list[tuple[str, Iterator[list[str]]]]) -> Lines:
    read: Lines = {}
    try:
        for name, rows in given:
            table = _named(name)
            if table:
                read.setdefault(table, []).extend(_rows(table, rows))
    except csv.Error as trouble:
        raise BadFile(f"This CSV file can’t be read: {trouble}.") from None
    if not read:
        raise BadFile(
            f"No table of the register is in it: name sheets or files {', '.join(BY_NAME)}."
        )
    if sum(len(rows) for rows in read.values()) > MOST_ROWS:
        raise BadFile(f"There are more than {MOST_ROWS:,} rows: send them in parts.")
    return read


def _rows(table: str, rows: Iterator[list[str]]) -> Iterator[tuple[int, dict[str, str]]]:
    header = [cell.strip().lower() for cell in next(rows, [])]
    known, needed = BY_NAME[table].header, BY_NAME[table].columns
    strange = [name for name in header if name and name not in known]
    if strange:
        raise BadFile(f"Table {table} has no column “{strange[0][:40]}”: give {', '.join(known)}.")
    lacking = [column.name for column in needed if column.needed and column.name not in header]
    if lacking:
        raise BadFile(f"Table {table} lacks the column {lacking[0]}: it can’t be read without.")
    for line, row in enumerate(rows, start=2):
        cells = {name: unguarded(cell) for name, cell in zip(header, row, strict=False) if name}
        if any(cell.strip() for cell in cells.values()):
            yield line, cells


def _named(name: str) -> str:
    plain = name.strip().lower().replace(" ", "_").replace("-", "_")
    return plain if plain in BY_NAME else ""


def _stem(name: str) -> str:
    return name.replace("\\", "/").rsplit("/", 1)[-1].rsplit(".", 1)[0]
