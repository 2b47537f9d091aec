"""The register, taken in and written out, beside parsing, bulk inserts and bare writing.

Taking in is far from its goal, and why: each row goes by the function that its page calls, which
looks at what is there, refuses or records, and rates the unit anew. Of the time for units of eight
pads, 41 in 100 go to signing their inspections, 15 to mountings, 11 each to listings, to clamps and
to entering what is owned. By another cut, asking by questions whose SQL is made once takes 25,
inserting row by row 24, of which leaves of the journal are 10, and changing rows 9; the other
writes no leaf and no entry of a ledger. A unit takes 89 statements, 28 of them SELECTs, 35 to begin
and end savepoints, so that a row refused leaves nothing behind. Nothing names what was entered a
moment ago, and names, marks, guides, policy, hammers and listings are found once for all rows.

The goal itself is out of reach: the other writes the 10,000 rows of the file, of which a register
makes 7,300 more (positions of pads, heads and entries of ledgers) and 12,000 leaves of the journal.
All of these in bulk, with nothing asked, judged or hashed for a ledger, took 4.3 times the other;
row by row, with nothing asked and no savepoint set, it would be a dozen times. To come near the
first, each recording function must be parted into one that looks and one that saves many.

Of a workbook's time 78 in 100 are the library's own, which the other takes as well; reading the
rows is 10, of which half are the inspections and listings read as records, and saying each value as
a cell that no spreadsheet runs 7. That is 1.26 of the other where it was written before in the same
process; the first time, as is measured, some 1.4.
"""

from __future__ import annotations

import csv
import zipfile
from collections.abc import Callable
from io import BytesIO, StringIO
from typing import Any

from django.contrib.auth.models import User
from django.db import connection, transaction
from openpyxl import Workbook

from fleet.aside import COPY
from fleet.cells import written
from fleet.models import (
    Clamp,
    ClampFitting,
    Hammer,
    Mounting,
    PadLot,
    SuppressorHousing,
    Yard,
)
from inspections.exchange.incoming import Refused, take_register
from inspections.exchange.outgoing import (
    register_rows,
    register_tables,
    write_csvs,
    write_workbook,
)
from inspections.exchange.reading import read_file
from inspections.exchange.rows import parsed
from inspections.models import Inspection, PadCount
from ratings.models import Listing
from tests.benchmarks.databases import Filled
from tests.benchmarks.measuring import Pairs, Run, Work, benchmark, timed
from tests.benchmarks.yards import Yard as Filling
from tests.benchmarks.yards import yard
from tests.factories import ManagerFactory

# Rows of the register for each unit of ours: housing, hammer, clamp, what hangs where, listing,
# count, and eight pads.
ROWS_OF_A_UNIT = 15
MOST_BYTES_A_ROW_IN = 15_000.0
MOST_BYTES_A_UNIT_OUT = 500.0
MOSTLY = (
    Yard,
    Hammer,
    Clamp,
    SuppressorHousing,
    PadLot,
    Mounting,
    ClampFitting,
    Listing,
    Inspection,
    PadCount,
)


def _yard(run: Run, units: int) -> Filled[Filling]:
    return run.databases.filled(("yard", units), lambda: yard(units))


def _empty(run: Run) -> Filled[User]:
    return run.databases.filled("manager alone", ManagerFactory)


def _sent(filled: Filled[Filling]) -> bytes:
    with filled.used():
        return write_csvs(register_rows())


def _taken(into: Filled[User], sent: bytes) -> Callable[[], float]:
    """Return the work of taking a register in, undone after, which doesn't count."""

    def take() -> None:
        try:
            take_register(parsed(read_file("register.zip", sent)), into.holds)
        except Refused as refused:
            raise RuntimeError(str(refused.trial.refused[0])) from refused

    def work() -> float:
        with into.used(), transaction.atomic():
            took = timed(take)
            transaction.set_rollback(True)
        return took

    return work


@benchmark(
    "import",
    "taking 10,000 rows of the register, to parsing and one bulk insert of them",
    goal=2.1,
)
def taking(run: Run) -> Pairs:
    rows, empty = run.size(10_000, 60), _empty(run)

    def of(rows: int) -> Filled[Filling]:
        return _yard(run, rows // ROWS_OF_A_UNIT)

    run.memory(
        "taking rows",
        (run.size(1_000, 30), run.size(4_000, 60)),
        lambda size: (empty, _taken(empty, _sent(of(size)))),
        MOST_BYTES_A_ROW_IN,
    )
    filled = of(rows)
    sent = _sent(filled)
    with filled.used():
        records = [list(model._base_manager.all()) for model in MOSTLY]

    def bare() -> float:
        def work() -> None:
            with zipfile.ZipFile(BytesIO(sent)) as packed:
                for name in packed.namelist():
                    list(csv.reader(StringIO(packed.read(name).decode("utf-8"))))
            for model, of_model in zip(MOSTLY, records, strict=True):
                model._base_manager.bulk_create(of_model)

        with empty.used(), transaction.atomic():
            setattr(connection, COPY, True)
            took = timed(work)
            delattr(connection, COPY)
            transaction.set_rollback(True)
        return took

    return run.paired(_taken(empty, sent), bare, warm=False)


@benchmark(
    "export",
    "exporting the register of 10,000 units as a workbook, to bare writes of the same cells by the "
    "same library",
    goal=1.3,
)
def export(run: Run) -> Pairs:
    run.memory(
        "writing CSV by units",
        (run.size(1_000, 30), run.size(10_000, 40)),
        lambda units: (_yard(run, units), _written(_yard(run, units), write_csvs)),
        MOST_BYTES_A_UNIT_OUT,
    )
    filled = _yard(run, run.size(10_000, 30))
    with filled.used():
        cells = {
            name: [[_plain(value) for value in row] for row in rows]
            for name, rows in register_rows().items()
        }
    return run.paired(_written(filled, write_workbook), lambda: _bare_workbook(cells), warm=False)


def _written(filled: Filled[Filling], write: Callable[[Any], bytes]) -> Work:
    def work() -> None:
        with filled.used():
            write(register_tables())

    return work


def _plain(value: Any) -> Any:
    return value if isinstance(value, int | float | None) else written(value)


def _bare_workbook(tables: dict[str, list[list[Any]]]) -> None:
    book = Workbook(write_only=True)
    for name, rows in tables.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(BytesIO())
