"""Read a table of bench readings pasted from a spreadsheet or sent as a CSV file.

The header names the columns: `tape_in` and `gauge_psi`, and if wanted `run` and `branch`
(`loading` or `unloading`). Columns are parted by tabs, semicolons or commas; with tabs or
semicolons decimals may have a comma. Blank lines are passed over. Without a header the columns are
told by what stands in them, and what was understood is said; where it could be either way round,
it is asked about.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from io import StringIO
from itertools import pairwise

from fleet.csvtable import BadLine, Line, TextTable, is_filled, read_csv
from fleet.models.measured_fields import measured_field
from fleet.numbers import Decimals, NotANumber, decimals_among, read_number
from ratings.models import BenchReading

MOST_ROWS = 200
# What tells a tape from a gauge where nobody named them: common practice, no published source. No
# stand's tape is read beyond five feet, and no stretched pad holds with less than 60 psi.
MOST_TAPE_TOLD_IN = 60.0
LEAST_GAUGE_TOLD_PSI = 60.0
MOST_RUN = 20
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


@dataclass(frozen=True)
class UnderstoodTable:
    """The readings of a table, and in words how it was understood where nothing named its columns.

    understood: "" where a header did.
    """

    rows: list[TableRow]
    understood: str = ""


def read_table(given: str | bytes) -> list[TableRow]:
    """Return the readings of a table. Raises TableError naming every bad line, up to ten."""
    return understand_table(given).rows


def understand_table(given: str | bytes, order: str = "") -> UnderstoodTable:
    """Return the readings of a table with a header or without.

    order: what the first two columns of figures are where the reader said so, one of ORDERS; "" to
    tell them by what stands in them. Raises TableError, also where that could be either way round.
    """
    text = StringIO(_text(given), newline="")
    try:
        table = read_csv(text)
        lines = [(number, cells) for number, cells in table.lines if is_filled(cells)]
    except BadLine as error:
        raise TableError([str(error)]) from error
    if not is_filled(table.header):
        raise TableError(["The table is empty: give a header and a line for each reading."])
    understood = ""
    if _is_reading(table.header, table.decimals):
        lines.insert(0, (table.header_line, table.header))
        header = _columns_by_content(lines, table.decimals, order)
        table = replace(table, header=header)
        understood = _understood_words(header, lines)
    _check_header(table)
    if len(lines) > MOST_ROWS:
        raise TableError(
            [
                f"Line {lines[MOST_ROWS][0]}: there are {len(lines):,} readings; a test "
                f"holds {MOST_ROWS} at the most. Send fewer, or send them as several tests."
            ]
        )
    return UnderstoodTable(_rows(lines, table), understood)


ORDERS = {
    "": "as its header or its figures tell",
    "tape_in,gauge_psi": "tape first, then gauge",
    "gauge_psi,tape_in": "gauge first, then tape",
}


def _is_reading(cells: list[str], decimals: Decimals) -> bool:
    """Whether a first line is a reading already: every cell a number or a branch, two numbers."""
    filled = [cell for cell in cells if cell.strip()]
    numbers = [cell for cell in filled if _is_number(cell, decimals)]
    return len(numbers) >= 2 and all(
        cell in numbers or cell.strip().lower() in BRANCHES for cell in filled
    )


def _is_number(cell: str, decimals: Decimals) -> bool:
    try:
        read_number(cell, "12", decimals=decimals)
    except NotANumber as trouble:
        return "two ways" in str(trouble)
    return True


def _columns_by_content(lines: list[Line], decimals: Decimals, order: str) -> list[str]:
    """Name the columns of a table without a header. Raises TableError where it can't be told."""
    width = max(len(cells) for _, cells in lines)
    columns = [
        [cells[place].strip() for _, cells in lines if place < len(cells)] for place in range(width)
    ]
    names = [""] * width
    figures = []
    for place, column in enumerate(columns):
        filled = [cell.lower() for cell in column if cell]
        if filled and all(cell in BRANCHES for cell in filled):
            names[place] = "branch"
        elif filled:
            figures.append(place)
    if len(figures) == 3 and _are_runs(columns[figures[-1]]):
        names[figures.pop()] = "run"
    elif len(figures) == 3 and _are_runs(columns[figures[0]]):
        names[figures.pop(0)] = "run"
    if len(figures) != 2:
        raise TableError(
            [
                f"The table has no header and {len(figures)} columns of figures: name the columns "
                "tape_in and gauge_psi above them, and if wanted run and branch."
            ]
        )
    if order not in ORDERS or not order:
        order = _order_told([_figures(columns[place], decimals) for place in figures])
    for place, name in zip(figures, order.split(","), strict=True):
        names[place] = name
    # A column that is blank throughout is none.
    if "" in names:
        kept = [place for place, name in enumerate(names) if name]
        for at, (number, cells) in enumerate(lines):
            lines[at] = (number, [cells[place] for place in kept if place < len(cells)])
        names = [names[place] for place in kept]
    return names


def _are_runs(column: list[str]) -> bool:
    """Whether figures are numbers of runs: each run of several readings, one after the other.

    The numbers of the readings themselves, 1, 2, 3, are none.
    """
    if not all(cell.isascii() and cell.isdigit() and len(cell) < 3 for cell in column):
        return False
    runs = [int(cell) for cell in column]
    steps = {after - before for before, after in pairwise(runs)}
    return 0 in steps and steps <= {0, 1} and 1 <= runs[0] <= runs[-1] <= MOST_RUN


def _figures(column: list[str], decimals: Decimals) -> list[float]:
    decimals = decimals_among(column, decimals)
    found = []
    for cell in column:
        try:
            found.append(read_number(cell, "12", decimals=decimals))
        except NotANumber:
            continue
    return found


def _order_told(figures: list[list[float]]) -> str:
    """Tell which of two columns is the tape. Raises TableError where both ways could be, or none.

    A tape's figures are no larger than MOST_TAPE_TOLD_IN, and a gauge's go above
    LEAST_GAUGE_TOLD_PSI.
    """
    highest = [max(column, default=0.0) for column in figures]
    may_be = [
        order
        for order, (tape, gauge) in zip(list(ORDERS)[1:], (highest, highest[::-1]), strict=True)
        if tape <= MOST_TAPE_TOLD_IN and gauge >= LEAST_GAUGE_TOLD_PSI
    ]
    if len(may_be) == 1:
        return may_be[0]
    raise TableError(
        [
            f"The table has no header, and its two columns of figures (up to {highest[0]:g} and up "
            f"to {highest[1]:g}) do not tell which is the tape, in inches, and which the gauge, in "
            "psi: say so under “Its columns are”, or name them above the figures."
        ]
    )


def _understood_words(header: list[str], lines: list[Line]) -> str:
    """Say how a table without a header was understood, with its first and last reading."""
    said = {"tape_in": "the tape, in", "gauge_psi": "the gauge, psi"}
    told = [
        f"column {place} is {said.get(name, name)}" for place, name in enumerate(header, start=1)
    ]
    return f"The table has no header. Understood: {', '.join(told)}; {len(lines)} readings."


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
    if not (run.isascii() and run.isdigit() and 1 <= int(run) <= MOST_RUN):
        raise ValueError(f"run is “{run[:24]}”: give a whole number from 1 to {MOST_RUN}.")
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
