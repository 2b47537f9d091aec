"""Workbooks, CSV files and pasted text as grids of cells, whatever a yard made them with.

Values only: no formula is ever run. Small files that swell, pictures, locked and broken files are
refused in words that say what would do.
"""

from __future__ import annotations

import csv
import json
import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time
from io import BytesIO, StringIO
from typing import Any

from fleet.cells import unguarded
from fleet.numbers import Decimals
from inspections.exchange.reading import UNREADABLE, BadFile, let_tables_in

MOST_BYTES = 8 * 1024 * 1024
MOST_UNPACKED = 80 * 1024 * 1024
MOST_ROWS = 20_000
MOST_COLUMNS = 120
MOST_SHEETS = 40
MOST_CELL = 4_000
# Blank rows in a row after which a sheet is taken to be over: formats reach down to the last line.
MOST_BLANK = 2_000
DELIMITERS = "\t;,|"

# What files begin with that are no tables.
PICTURES = (b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"BM", b"II*\x00", b"MM\x00*", b"RIFF")
OLD_OR_LOCKED = b"\xd0\xcf\x11\xe0"


@dataclass(frozen=True)
class Formula:
    """A formula that was never calculated, so that nobody knows its value."""

    text: str


Cell = str | float | int | datetime | time | Formula | None
Cells = list[Cell]


@dataclass
class Grid:
    """A sheet: its name, its rows of cells, and how its text writes decimals.

    note: how it was read, where that is worth a word.
    """

    name: str
    rows: list[Cells] = field(default_factory=list)
    decimals: Decimals = Decimals.EITHER
    note: str = ""
    counts_from_1904: bool = False


def read_grids(name: str, content: bytes) -> list[Grid]:
    """Return the sheets of a file. Raises BadFile."""
    if not content.strip():
        raise BadFile("This file is empty: send one that holds a table.")
    if content.startswith(PICTURES):
        raise BadFile("This is a picture: send the table itself, as XLSX, CSV or pasted cells.")
    if content.startswith(b"%PDF"):
        raise BadFile("This is a PDF: send the table itself, as XLSX, CSV or pasted cells.")
    if content.startswith(OLD_OR_LOCKED):
        raise BadFile(
            "This workbook is locked with a password, or of the old XLS kind: save it as XLSX "
            "without a password, and send that."
        )
    let_tables_in(content, MOST_BYTES, MOST_UNPACKED)
    try:
        grids = _workbook(content) if content.startswith(b"PK") else [_csv(name, content)]
    except UNREADABLE:
        raise BadFile(
            "This file is damaged, or no table: save it again as XLSX or CSV, and send that."
        ) from None
    return _with_something(grids)


def read_pasted(text: str) -> list[Grid]:
    """Return the one sheet of cells pasted from a spreadsheet or a message. Raises BadFile."""
    if len(text.encode("utf-8", "replace")) > MOST_BYTES:
        raise BadFile("This is too much to paste: send it as a file.")
    return _with_something([_parted("Pasted text", text, "")])


def _with_something(grids: list[Grid]) -> list[Grid]:
    if not any(cell is not None for grid in grids for row in grid.rows for cell in row):
        raise BadFile("There is nothing in it: send a table with a row in it at least.")
    return grids


def _csv(name: str, content: bytes) -> Grid:
    title = name.replace("\\", "/").rsplit("/", 1)[-1].rsplit(".", 1)[0] or "Sheet"
    text, note = _decoded(content)
    if "\x00" in text:
        raise BadFile("This is no table: send it as XLSX, CSV or pasted cells.")
    return _parted(title, text, note)


def _decoded(content: bytes) -> tuple[str, str]:
    """Return a file's text, and a word on its encoding where that had to be guessed."""
    for mark, encoding in (
        (b"\xef\xbb\xbf", "utf-8-sig"),
        (b"\xff\xfe", "utf-16"),
        (b"\xfe\xff", "utf-16"),
    ):
        if content.startswith(mark):
            return content.decode(encoding, "strict"), ""
    try:
        return content.decode("utf-8"), ""
    except UnicodeDecodeError:
        pass
    # Imported on need: few files are in none of the ways looked for above.
    from charset_normalizer import from_bytes

    likely = from_bytes(content[:200_000], cp_isolation=["cp1252", "cp1250", "cp1251", "cp1253"])
    best = likely.best()
    encoding = best.encoding if best is not None else "cp1252"
    return content.decode(encoding, "replace"), f"read as {encoding}"


def _parted(title: str, text: str, note: str) -> Grid:
    delimiter = _delimiter(text)
    csv.field_size_limit(1_000_000)
    lines = csv.reader(StringIO(text, newline=""), delimiter=delimiter)
    decimals = Decimals.POINT if delimiter == "," else Decimals.EITHER
    grid = Grid(title, decimals=decimals, note=note)
    grid.rows = _bounded(title, ([_text(cell) for cell in cells] for cells in lines))
    return grid


def _delimiter(text: str) -> str:
    """Return what parts the cells: what stands in most lines, and as often in each.

    A line with hardly any is a title; a comma inside of text is no cell's end.
    """
    lines = [line for line in text.splitlines()[:60] if line.strip()]

    def how_well(delimiter: str) -> tuple[int, int]:
        parted = [len(row) - 1 for row in csv.reader(lines, delimiter=delimiter)]
        often = max(set(parted), key=lambda each: (each > 0, parted.count(each), each), default=0)
        return (parted.count(often) * bool(often), often)

    try:
        return max(DELIMITERS, key=how_well)
    except csv.Error:
        return ","


def _text(cell: Any) -> Cell:
    text = unguarded(str(cell)).replace("\xa0", " ").strip()
    if len(text) > MOST_CELL:
        raise BadFile(f"A cell holds {len(text):,} characters: {MOST_CELL:,} at the most.")
    return text or None


def _workbook(content: bytes) -> list[Grid]:
    # Imported on need: the site must not wait for the workbook library at start.
    from openpyxl import load_workbook
    from openpyxl.utils.datetime import CALENDAR_MAC_1904

    with zipfile.ZipFile(BytesIO(content)) as packed:
        names = packed.namelist()
        if "xl/workbook.xml" not in names:
            kind = "an OpenDocument table" if "content.xml" in names else "no workbook"
            raise BadFile(f"This is {kind}: save it as XLSX or CSV, and send that.")
        parts = {each: packed.read(each) for each in names if "worksheets/sheet" in each}
        book = load_workbook(BytesIO(content), read_only=True, data_only=True)
        has_formulas = any(b"<f" in part for part in parts.values())
        typed = load_workbook(BytesIO(content), read_only=True) if has_formulas else book
        if len(book.worksheets) > MOST_SHEETS:
            raise BadFile(f"This workbook has more than {MOST_SHEETS} sheets: send it in parts.")
        return [
            _sheet(values, formulas, parts, counts_from_1904=book.epoch == CALENDAR_MAC_1904)
            for values, formulas in zip(book.worksheets, typed.worksheets, strict=True)
        ]


def _sheet(values: Any, formulas: Any, parts: dict[str, bytes], *, counts_from_1904: bool) -> Grid:
    for sheet in {id(values): values, id(formulas): formulas}.values():
        # What a sheet says of its own size may be wrong.
        sheet.reset_dimensions()
    note = "hidden in the workbook" if values.sheet_state != "visible" else ""
    grid = Grid(values.title, note=note, counts_from_1904=counts_from_1904)
    shown = values.iter_rows(max_col=MOST_COLUMNS, values_only=True)
    if formulas is values:
        lines: Iterable[Cells] = ([_cell(value) for value in row] for row in shown)
    else:
        as_typed = formulas.iter_rows(max_col=MOST_COLUMNS, values_only=True)
        lines = (
            [
                _cell(value) if value is not None or formula is None else _formula(formula)
                for value, formula in zip(row, row_typed, strict=True)
            ]
            for row, row_typed in zip(shown, as_typed, strict=True)
        )
    grid.rows = _bounded(values.title, lines)
    _fill_merged(grid, parts.get(values._worksheet_path.lstrip("/"), b""))
    return grid


def _cell(value: Any) -> Cell:
    if value is None or (isinstance(value, int | float) and not isinstance(value, bool)):
        return value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime | time):
        return value
    if isinstance(value, date):
        return datetime(value.year, value.month, value.day)
    return _text(value)


def _formula(typed: Any) -> Cell:
    text = str(getattr(typed, "text", typed))
    return Formula(text[:200]) if text.startswith("=") else _text(text)


def _bounded(title: str, lines: Iterable[Cells]) -> list[Cells]:
    """Return rows without the blank ones at the end. Raises BadFile where there are too many."""
    rows: list[Cells] = []
    blank = 0
    for line in lines:
        cells = list(line[:MOST_COLUMNS])
        while cells and cells[-1] is None:
            cells.pop()
        blank = 0 if cells else blank + 1
        if blank > MOST_BLANK:
            break
        rows.append(cells)
        if len(rows) - blank > MOST_ROWS:
            raise BadFile(
                f"Sheet “{title[:40]}” has more than {MOST_ROWS:,} rows: send it in parts."
            )
    while rows and not rows[-1]:
        rows.pop()
    return rows


MERGED = re.compile(rb'<mergeCell\s+ref="([A-Z]{1,3}\d{1,7}:[A-Z]{1,3}\d{1,7})"')
MOST_MERGED = 20_000


def _fill_merged(grid: Grid, part: bytes) -> None:
    """Write what stands in a merged cell into every cell it covers."""
    # Imported on need: the site must not wait for the workbook library at start.
    from openpyxl.utils.cell import range_boundaries

    # Merged cells never lie over one another: together they are no more than the sheet.
    left_to_cover = len(grid.rows) * MOST_COLUMNS
    for place, found in enumerate(MERGED.finditer(part)):
        if place >= MOST_MERGED:
            return
        left, top, right, bottom = range_boundaries(found[1].decode())
        rows = grid.rows[top - 1 : bottom]
        if not rows or len(rows[0]) < left:
            continue
        left_to_cover -= len(rows) * (min(right, MOST_COLUMNS) - left + 1)
        if left_to_cover < 0:
            raise BadFile(
                f"Merged cells of sheet “{grid.name[:40]}” lie over one another: save it again."
            )
        value = rows[0][left - 1]
        if value is None:
            continue
        for row in rows:
            last = min(right, MOST_COLUMNS)
            row.extend([None] * (last - len(row)))
            row[left - 1 : last] = [value] * (last - left + 1)


# How a grid waits: as text, packed.


def packed(grids: list[Grid]) -> bytes:
    """Return grids as they are kept."""
    kept = [
        {
            "name": grid.name,
            "rows": [[_kept(cell) for cell in row] for row in grid.rows],
            "decimals": grid.decimals.value,
            "note": grid.note,
            "1904": grid.counts_from_1904,
        }
        for grid in grids
    ]
    return zlib.compress(json.dumps(kept, ensure_ascii=False).encode("utf-8"))


def unpacked(kept: bytes) -> list[Grid]:
    """Return grids that were kept."""
    return [
        Grid(
            each["name"],
            [[_unkept(cell) for cell in row] for row in each["rows"]],
            Decimals(each["decimals"]),
            each["note"],
            each["1904"],
        )
        for each in json.loads(zlib.decompress(bytes(kept)))
    ]


def _kept(cell: Cell) -> Any:
    if isinstance(cell, datetime):
        return {"at": cell.isoformat()}
    if isinstance(cell, time):
        return {"time": cell.isoformat()}
    if isinstance(cell, Formula):
        return {"formula": cell.text}
    return cell


def _unkept(cell: Any) -> Cell:
    if not isinstance(cell, dict):
        return cell  # type: ignore[no-any-return]  # text or a number
    if "at" in cell:
        return datetime.fromisoformat(cell["at"])
    if "time" in cell:
        return time.fromisoformat(cell["time"])
    return Formula(cell["formula"])


def cell_words(cell: Cell) -> str:
    """Return a cell as its sheet shows it, near enough to be found there."""
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        midnight = (cell.hour, cell.minute) == (0, 0)
        return f"{cell:%Y-%m-%d}" if midnight else f"{cell:%Y-%m-%d %H:%M}"
    if isinstance(cell, time):
        return f"{cell:%H:%M}"
    if isinstance(cell, Formula):
        return cell.text
    if isinstance(cell, float):
        return f"{cell:.10g}"
    return str(cell)


def texts(row: Iterable[Cell]) -> Iterator[str]:
    """Return what stands in the filled cells of a row."""
    return (cell_words(cell) for cell in row if cell is not None)
