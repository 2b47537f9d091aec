"""Read a table of bench readings pasted from a spreadsheet or sent as a CSV file.

The header names the columns: `tape_in` and `gauge_psi`, and if wanted `run` and `branch`
(`loading` or `unloading`). Columns are parted by tabs, semicolons or commas; with tabs or
semicolons decimals may have a comma. Blank lines are passed over.
"""

from __future__ import annotations

from dataclasses import dataclass
from io import StringIO

from fleet.csvtable import BadLine, Line, TextTable, is_filled, read_csv
from fleet.models.measured_fields import measured_field
from fleet.numbers import Decimals, NotANumber, decimals_among
from ratings.models import BenchReading

MOST_ROWS = 200
# The columns that must be there.
MEASURED = {name: measured_field(BenchReading, name) for name in ("tape_in", "gauge_psi")}
BRANCHES = ("loading", "unloading")
NOT_TEXT = (
    "This is not a text file: save the sheet as CSV (UTF-8) and send that, or paste its cells."
)


@dataclass(frozen=True)
class TableRow:
    """One reading and the line of the table it stands on."""

    line: int
    run: int
    branch: str
    tape_in: float
    gauge_psi: float


class TableError(ValueError):
    """What is wrong with a table, each message with the number of its line."""

    def __init__(self, messages: list[str]) -> None:
        self.messages = messages
        super().__init__("; ".join(messages))


def read_table(given: str | bytes) -> list[TableRow]:
    """Return the readings of a table. Raises TableError naming every bad line, up to ten."""
    text = StringIO(_text(given), newline="")
    try:
        table = read_csv(text)
        lines = [(number, cells) for number, cells in table.lines if is_filled(cells)]
    except BadLine as error:
        raise TableError([str(error)]) from error
    if not is_filled(table.header):
        raise TableError(["The table is empty: give a header and a line for each reading."])
    _check_header(table)
    if len(lines) > MOST_ROWS:
        raise TableError(
            [
                f"Line {lines[MOST_ROWS][0]}: there are {len(lines):,} readings; a test "
                f"holds {MOST_ROWS} at the most. Send fewer, or send them as several tests."
            ]
        )
    return _rows(lines, table)


def _text(given: str | bytes) -> str:
    try:
        text = given if isinstance(given, str) else given.decode("utf-8")
    except UnicodeDecodeError as error:
        raise TableError([NOT_TEXT]) from error
    if "\0" in text:
        raise TableError([NOT_TEXT])
    return text.removeprefix("\ufeff")


def _check_header(table: TextTable) -> None:
    names = table.header
    unknown = [name for name in names if name not in MEASURED and name not in ("run", "branch")]
    lacking = [name for name in MEASURED if name not in names]
    if unknown or lacking or len(set(names)) != len(names):
        raise TableError(
            [
                f"Line {table.header_line}: the header is “{','.join(names)[:80]}”. Name the "
                "columns tape_in and gauge_psi, each once, and if wanted run and branch."
            ]
        )


def _rows(lines: list[Line], table: TextTable) -> list[TableRow]:
    named = [(number, dict(zip(table.header, cells, strict=False))) for number, cells in lines]
    numbers = (cells.get(name, "") for _, cells in named for name in MEASURED)
    decimals = decimals_among(numbers, table.decimals)
    rows, troubles = [], []
    for number, cells in lines:
        try:
            rows.append(_row(number, cells, table.header, decimals))
        except ValueError as error:
            troubles.append(f"Line {number}: {error}")
    if troubles:
        more = len(troubles) - 10
        raise TableError(
            troubles[:10] + ([f"… and {more} more lines like these."] if more > 0 else [])
        )
    if not rows:
        raise TableError(["The table has a header and no reading: give a line for each."])
    return rows


def _row(number: int, cells: list[str], columns: list[str], decimals: Decimals) -> TableRow:
    if len(cells) != len(columns):
        raise ValueError(
            f"it has {len(cells)} cells and the header {len(columns)}: give one for each."
        )
    given = {name: cell.strip() for name, cell in zip(columns, cells, strict=True)}
    branch = given.get("branch", "").lower() or "loading"
    if branch not in BRANCHES:
        raise ValueError(f"branch is “{branch[:24]}”: give loading or unloading.")
    run = given.get("run", "") or "1"
    if not (run.isascii() and run.isdigit() and 1 <= int(run) <= 20):
        raise ValueError(f"run is “{run[:24]}”: give a whole number from 1 to 20.")
    return TableRow(
        line=number,
        run=int(run),
        branch=branch,
        tape_in=_number("tape_in", given["tape_in"], decimals),
        gauge_psi=_number("gauge_psi", given["gauge_psi"], decimals),
    )


def _number(name: str, cell: str, decimals: Decimals) -> float:
    try:
        return MEASURED[name].read(cell, decimals)
    except NotANumber as error:
        raise ValueError(f"{name}: {error}.") from error
