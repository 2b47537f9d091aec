"""Rows as they were read, parsed and gathered under what they belong to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from fleet.numbers import Decimals, decimals_among
from inspections.exchange.cells import BadCell, NumberCell
from inspections.exchange.reading import Line, Lines
from inspections.exchange.tables import BY_NAME, TABLES, Table


@dataclass(slots=True)
class Row:
    """A row, its values by column, the rows that belong to it, and what is wrong with it.

    keeps_lots: its pads are of the lots on record at the time, since it can name none.
    """

    table: str
    line: int
    values: dict[str, Any]
    parts: list[Row] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    keeps_lots: bool = False


def parsed(lines: Lines) -> list[Row]:
    """Return every row of its own, the rows of belonging tables under the one they name."""
    rows: list[Row] = []
    owners: dict[tuple[str, str], Row] = {}
    for table in TABLES:
        given = lines.get(table.name, [])
        certain = decimals_among(_numbers(table, given), Decimals.EITHER)
        for line, cells, decimals in given:
            row = _row(table, line, cells, decimals if decimals is Decimals.POINT else certain)
            if table.belongs_to:
                _give(row, owners, table, rows)
                continue
            rows.append(row)
            _own(row, owners, table)
    _refuse_twins([row for row in rows if row.table == "stock_moves"])
    _pair_moves([row for row in rows if row.table == "stock_moves" and not row.faults])
    return rows


def _refuse_twins(moves: list[Row]) -> None:
    """Two moves that say the same are one to the ledger: they must differ in time or note."""
    seen: set[tuple[Any, ...]] = set()
    for row in moves:
        move = tuple(row.values.get(column.name) for column in BY_NAME["stock_moves"].columns)
        if move in seen:
            row.faults.append(
                "another row says the same: tell the two apart by their time or their note"
            )
        seen.add(move)


def _pair_moves(moves: list[Row]) -> None:
    """Pads moved leave one shelf and come to another: mark rows whose other half is not there."""
    halves = [row for row in moves if row.values["kind"] == "moved"]
    waiting: dict[tuple[Any, ...], list[Row]] = {}
    for row in halves:
        values = row.values
        wanted = (values["lot"], values["occurred_at"], -values["change"])
        if waiting.get(wanted):
            waiting[wanted].pop()
        else:
            waiting.setdefault((values["lot"], values["occurred_at"], values["change"]), []).append(
                row
            )
    for alone in (row for rows in waiting.values() for row in rows):
        alone.faults.append(
            "pads moved leave one shelf and come to another: give both rows, of one lot and time, "
            f"this one’s other with change {-alone.values['change']}"
        )


def _numbers(table: Table, given: list[Line]) -> Iterator[str]:
    """The cells that hold numbers, where decimals may have a comma."""
    names = [each.name for each in table.columns if isinstance(each.read, NumberCell)]
    for _, cells, decimals in given:
        if decimals is not Decimals.POINT:
            yield from (cells.get(name, "") for name in names)


def _row(table: Table, line: int, cells: dict[str, str], decimals: Decimals) -> Row:
    row = Row(table.name, line, {})
    for column in table.columns:
        cell = cells.get(column.name, "")
        try:
            row.values[column.name] = (
                column.read(cell, decimals)
                if isinstance(column.read, NumberCell)
                else column.read(cell)
            )
        except BadCell as bad:
            row.faults.append(f"{column.name}: {bad}")
            continue
        if column.needed and row.values[column.name] in (None, ""):
            row.faults.append(f"{column.name} is blank: give {column.meaning}")
    return row


def _own(row: Row, owners: dict[tuple[str, str], Row], table: Table) -> None:
    """Remember a row that others may belong to, by the name it gives itself."""
    if not table.parts:
        return
    name = row.values.get(table.columns[0].name)
    if (table.name, name) in owners:
        row.faults.append(f"{table.columns[0].name} “{name}” is given twice: give each a name")
    owners[table.name, str(name)] = row


def _give(row: Row, owners: dict[tuple[str, str], Row], table: Table, rows: list[Row]) -> None:
    column = table.columns[0].name
    name = str(row.values.get(column))
    owner = owners.get((table.belongs_to, name))
    if owner is None:
        words = f"{column} “{name[:24]}” is not in table {table.belongs_to}: name one that is"
        row.faults.append(words)
        rows.append(row)
        return
    owner.parts.append(row)
    owner.faults += [f"{table.name} line {row.line}, {fault}" for fault in row.faults]
