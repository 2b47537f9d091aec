"""Read a table of bench readings pasted from a spreadsheet or sent as a CSV file.

The header names the columns: `tape_in` and `gauge_psi`, and if wanted `run` and `branch`
(`loading` or `unloading`). Columns are parted by tabs, semicolons or commas; with tabs or
semicolons decimals may have a comma. Blank lines are passed over.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from io import StringIO

MOST_ROWS = 200
NEEDED = ("tape_in", "gauge_psi")
KNOWN = (*NEEDED, "run", "branch")
BRANCHES = ("loading", "unloading")
NOT_TEXT = (
    "This is not a text file: save the sheet as CSV (UTF-8) and send that, or paste its cells."
)
NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)", re.ASCII)


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
    text = _text(given)
    lines = [(number, line) for number, line in enumerate(text.splitlines(), 1) if line.strip()]
    if not lines:
        raise TableError(["The table is empty: give a header and a line for each reading."])
    delimiter = _delimiter(lines[0][1])
    columns = _columns(lines[0], delimiter)
    if len(lines) - 1 > MOST_ROWS:
        raise TableError(
            [
                f"Line {lines[MOST_ROWS + 1][0]}: there are {len(lines) - 1:,} readings; a test "
                f"holds {MOST_ROWS} at the most. Send fewer, or send them as several tests."
            ]
        )
    return _rows(lines[1:], columns, delimiter)


def _text(given: str | bytes) -> str:
    if isinstance(given, str):
        text = given
    else:
        try:
            text = given.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise TableError([NOT_TEXT]) from error
    if "\0" in text:
        raise TableError([NOT_TEXT])
    return text.lstrip("\ufeff")


def _delimiter(header: str) -> str:
    return max("\t;,", key=header.count)


def _columns(header: tuple[int, str], delimiter: str) -> list[str]:
    number, line = header
    try:
        names = [name.strip().lower() for name in _cells(line, delimiter)]
    except ValueError as error:
        raise TableError([f"Line {number}: {error}"]) from error
    unknown = [name for name in names if name not in KNOWN]
    lacking = [name for name in NEEDED if name not in names]
    if unknown or lacking or len(set(names)) != len(names):
        raise TableError(
            [
                f"Line {number}: the header is “{line.strip()[:80]}”. Name the columns tape_in and "
                "gauge_psi, each once, and if wanted run and branch."
            ]
        )
    return names


def _cells(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader(StringIO(line), delimiter=delimiter), [])
    except csv.Error as error:
        raise ValueError("it has a cell too long for any number.") from error


def _rows(lines: list[tuple[int, str]], columns: list[str], delimiter: str) -> list[TableRow]:
    rows, troubles = [], []
    for number, line in lines:
        try:
            rows.append(_row(number, _cells(line, delimiter), columns, delimiter))
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


def _row(number: int, cells: list[str], columns: list[str], delimiter: str) -> TableRow:
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
        tape_in=_number("tape_in", given["tape_in"], delimiter),
        gauge_psi=_number("gauge_psi", given["gauge_psi"], delimiter),
    )


def _number(name: str, cell: str, delimiter: str) -> float:
    plain = cell if delimiter == "," else cell.replace(",", ".")
    if not NUMBER.fullmatch(plain):
        raise ValueError(f"{name} is “{cell[:24]}”: give a plain number such as 13.5.")
    value = float(plain)
    if not 0.0 <= value <= 100_000.0:
        raise ValueError(f"{name} is “{cell[:24]}”: give 0 or more, up to 100,000.")
    return value
