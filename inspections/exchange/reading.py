"""Workbooks and CSV files, read with care: small ones that swell, and broken ones, are refused."""

from __future__ import annotations

import csv
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from io import BytesIO
from typing import Any

from fleet.cells import unguarded, written
from fleet.csvtable import TextTable, as_text, is_filled, read_csv, with_header
from fleet.numbers import Decimals
from fleet.picture import BadUpload
from fleet.uploads import MOST_BLANK, Form, let_in
from inspections.exchange.tables import BY_NAME

MOST_BYTES = 20 * 1024 * 1024
# What a file may unpack to: a small one that swells beyond this is no register.
MOST_UNPACKED = 200 * 1024 * 1024
# Of some 900 bytes each in memory, with what is made of them: 360 MB.
MOST_ROWS = 400_000
# Of the texts of a table, of which each is held once.
MOST_HELD = 50_000
# Blank ones too, of which a few bytes can claim as many as a sheet may have.
MOST_LINES = 1_048_576
MOST_COLUMNS = 64
# Of a cell of a workbook, as many as one can hold: fewer bytes can claim more than a table needs.
MOST_LETTERS = 32_767
# What the libraries raise for a file that is damaged, locked, or none of theirs.
UNREADABLE = (
    csv.Error,
    zipfile.BadZipFile,
    zlib.error,
    # An XML that can't be parsed is one.
    SyntaxError,
    LookupError,
    ValueError,
    OSError,
    EOFError,
    NotImplementedError,
    RuntimeError,
)

# Columns of registers of before, and where what they said stands now.
_CLAMP = "give it in tables clamps and clamp_fittings"
MOVED = {("hammers", "clamp_weight_lb"): _CLAMP, ("hammers", "clamp_force_lbf"): _CLAMP}

# The number of a line, its cells by column, and what parts decimals off in its file.
Line = tuple[int, dict[str, str], Decimals]
# By table.
Lines = dict[str, list[Line]]
Sheet = tuple[str, TextTable]


class BadFile(Exception):
    """A file that can't be read, in words that say what would do."""


def read_file(name: str, content: bytes) -> Lines:
    """Return the rows of every table in a workbook, a CSV file or a ZIP of CSV files.

    Raises BadFile.
    """
    let_tables_in(content, MOST_BYTES, MOST_UNPACKED)
    try:
        return _tables(_sheets(name, content))
    except UnicodeDecodeError:
        raise BadFile("This is no CSV file in UTF-8: save it as that, or as XLSX.") from None
    except UNREADABLE:
        raise BadFile(
            "This file is damaged, or locked with a password: save it again as XLSX or as CSV in "
            "UTF-8, and send that."
        ) from None


def _sheets(name: str, content: bytes) -> Iterator[Sheet]:
    if not content.startswith(b"PK"):
        yield _stem(name), read_csv(as_text(BytesIO(content)))
        return
    with zipfile.ZipFile(BytesIO(content)) as packed:
        if "xl/workbook.xml" in packed.namelist():
            yield from _workbook(content)
            return
        for each in packed.namelist():
            if each.lower().endswith(".csv"):
                with packed.open(each) as file:
                    yield _stem(each), read_csv(as_text(file))


def let_tables_in(content: bytes, most_bytes: int, most_unpacked: int) -> None:
    """Let a file of tables in by the gate of all files. Raises BadFile."""
    try:
        let_in(content, Form.TABLES, most_bytes=most_bytes, most_unpacked=most_unpacked)
    except BadUpload as refusal:
        raise BadFile(str(refusal)) from None


def _workbook(content: bytes) -> Iterator[Sheet]:
    # Imported on need: the site must not wait for the workbook library at start.
    from openpyxl import load_workbook

    # Values as last calculated: no formula is ever run here. One never calculated has no value, and
    # is read as it is written, so that it is refused and not taken for a blank.
    calculated = load_workbook(BytesIO(content), read_only=True, data_only=True)
    as_written = load_workbook(BytesIO(content), read_only=True)
    for values, formulas in zip(calculated.worksheets, as_written.worksheets, strict=True):
        yield values.title, with_header(_cells(values, formulas))


def _cells(values: Any, formulas: Any) -> Iterator[list[str]]:
    for sheet in (values, formulas):
        # What a sheet says of its own size may be wrong, and rows would be lost.
        sheet.reset_dimensions()
    rows = (sheet.iter_rows(max_col=MOST_COLUMNS, values_only=True) for sheet in (values, formulas))
    for calculated, as_written in zip(*rows, strict=True):
        if calculated.count(None) == len(calculated) == as_written.count(None):
            # A few bytes can claim a million of them.
            yield []
            continue
        cells = zip(calculated, as_written, strict=True)
        yield [
            written(_short(_typed(formula) if value is None else value)) for value, formula in cells
        ]


def _short(value: Any) -> Any:
    if isinstance(value, str) and len(value) > MOST_LETTERS:
        raise BadFile(f"A cell holds {len(value):,} characters: {MOST_LETTERS:,} at the most.")
    return value


def _typed(formula: Any) -> Any:
    """A formula as it was typed; one over a range of cells is a record that holds it."""
    return getattr(formula, "text", formula)


def _tables(given: Iterable[Sheet]) -> Lines:
    read: Lines = {}
    for title, table in given:
        name = _named(title)
        if name:
            held = read.setdefault(name, [])
            for row in _rows(name, table):
                held.append(row)
                if sum(len(each) for each in read.values()) > MOST_ROWS:
                    raise BadFile(f"There are more than {MOST_ROWS:,} rows: send them in parts.")
    if not read:
        raise BadFile(
            f"No table of the register is in it: name sheets or files {', '.join(BY_NAME)}."
        )
    return read


def _rows(name: str, table: TextTable) -> Iterator[Line]:
    header, known = table.header, BY_NAME[name].header
    strange = [column for column in header if column and column not in known]
    if strange:
        if (name, strange[0]) in MOVED:
            raise BadFile(
                f"Table {name} has no column {strange[0]} any more: {MOVED[name, strange[0]]}."
            )
        raise BadFile(f"Table {name} has no column “{strange[0][:40]}”: give {', '.join(known)}.")
    lacking = [
        each.name for each in BY_NAME[name].columns if each.needed and each.name not in header
    ]
    if lacking:
        raise BadFile(f"Table {name} lacks the column {lacking[0]}: it can’t be read without.")
    blank = 0
    # Most cells of a long table say what others say: each text is held once.
    held: dict[str, str] = {}
    for line, row in table.lines:
        if line > MOST_LINES:
            raise BadFile(f"Table {name} has more than {MOST_LINES:,} lines: send it in parts.")
        blank = 0 if is_filled(row) else blank + 1
        if blank > MOST_BLANK:
            raise BadFile(
                f"Table {name} has more than {MOST_BLANK:,} blank lines up to line {line:,}: take "
                "them away, and what stands far below the table."
            )
        if not blank:
            cells = zip(header, row, strict=False)
            yield (
                line,
                {column: _once(unguarded(cell), held) for column, cell in cells if column},
                table.decimals,
            )


def _once(text: str, held: dict[str, str]) -> str:
    if len(held) >= MOST_HELD:
        return held.get(text, text)
    return held.setdefault(text, text)


def _named(name: str) -> str:
    plain = name.strip().lower().replace(" ", "_").replace("-", "_")
    return plain if plain in BY_NAME else ""


def _stem(name: str) -> str:
    return name.replace("\\", "/").rsplit("/", 1)[-1].rsplit(".", 1)[0]
