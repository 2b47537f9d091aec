"""The register as a workbook or as CSV files, written so that nothing in them runs."""

from __future__ import annotations

import csv
import zipfile
from collections.abc import Mapping, Sequence
from io import BytesIO, StringIO

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.utils import get_column_letter

from inspections.exchange.cells import guarded, written
from inspections.exchange.tables import TABLES


def write_workbook(tables: Mapping[str, Sequence[Sequence[object]]]) -> bytes:
    """Return a workbook with a sheet for each table; every cell is text or a number."""
    book = Workbook(write_only=True)
    for table in TABLES:
        sheet = book.create_sheet(table.name)
        sheet.freeze_panes = "A2"
        for place, name in enumerate(table.header, start=1):
            sheet.column_dimensions[get_column_letter(place)].width = max(14, len(name) + 3)
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
