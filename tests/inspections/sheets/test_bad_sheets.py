from __future__ import annotations

import zipfile
from datetime import datetime
from io import BytesIO

import pytest
from openpyxl import Workbook

from inspections.exchange.reading import BadFile
from inspections.sheets.grid import Formula, packed, read_grids, read_pasted, unpacked
from inspections.sheets.layout import blocks_of, guess
from inspections.sheets.meanings import Sort
from tests.builders import picture
from tests.inspections.sheets.sheet_makers import workbook


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b" \r\n \n", "is empty"),
        (b";;;\n;;;\n", "nothing in it"),
        (b"%PDF-1.7 ...", "is a PDF"),
        (b"\xd0\xcf\x11\xe0" + bytes(600), "locked with a password, or of the old XLS kind"),
        (b"PK\x03\x04 torn in two", "is damaged"),
        (b"a,b\x00c\n1,2\n", "is no table"),
        (b"x" * (8 * 1024 * 1024 + 1), "larger than 8 MB"),
        (b'"' + b"y" * 5000 + b'",2\n', "A cell holds 5,000 characters"),
    ],
)
def test_a_file_that_is_no_table_is_refused_in_words(content: bytes, words: str) -> None:
    with pytest.raises(BadFile, match=words):
        read_grids("log.csv", content)


def test_a_picture_is_refused_in_words() -> None:
    with pytest.raises(BadFile, match="This is a picture"):
        read_grids("log.csv", picture().read())


def test_a_workbook_that_swells_is_refused() -> None:
    held = BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed_file:
        packed_file.writestr("xl/workbook.xml", "<workbook/>")
        packed_file.writestr("xl/worksheets/sheet1.xml", b" " * (81 * 1024 * 1024))
    with pytest.raises(BadFile, match="unpacks to 81 MB"):
        read_grids("log.xlsx", held.getvalue())


def test_another_kind_of_package_is_refused() -> None:
    held = BytesIO()
    with zipfile.ZipFile(held, "w") as packed_file:
        packed_file.writestr("content.xml", "<office/>")
    with pytest.raises(BadFile, match="an OpenDocument table: save it as XLSX or CSV"):
        read_grids("log.ods", held.getvalue())


def test_more_rows_than_are_taken_are_refused() -> None:
    with pytest.raises(BadFile, match="more than 20,000 rows"):
        read_pasted("H-12,2025-03-14\n" * 20_001)


def test_formats_down_to_the_last_line_are_no_rows() -> None:
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.append(["Unit", "Date"])
    sheet.append(["H-12", datetime(2025, 3, 14)])
    sheet.cell(row=1_048_576, column=1).number_format = "0.00"
    held = BytesIO()
    book.save(held)
    (grid,) = read_grids("log.xlsx", held.getvalue())
    assert len(grid.rows) == 2


def test_formulas_give_the_value_they_had_and_are_never_run() -> None:
    book = workbook(Log=[["Unit", "Travel"], ["H-12", "=4+4"], ["=HYPERLINK(1)", 7]])
    (grid,) = read_grids("log.xlsx", book)
    assert grid.rows[1] == ["H-12", Formula("=4+4")]
    assert grid.rows[2] == [Formula("=HYPERLINK(1)"), 7]


def test_a_formula_in_a_csv_stays_text() -> None:
    (grid,) = read_grids("log.csv", b"Unit,Note\nH-12,=cmd|' /C calc'!A0\n")
    assert grid.rows[1] == ["H-12", "=cmd|' /C calc'!A0"]


def test_text_in_an_old_encoding_says_how_it_was_read() -> None:
    text = "Unit;Note\nH-12;" + "Öl über der Führung, größer als zuvor; " * 3
    (grid,) = read_grids("log.csv", text.encode("cp1252"))
    assert "Öl über" in str(grid.rows[1][1])
    assert grid.note.startswith("read as cp125")


def test_a_grid_waits_as_it_was() -> None:
    grids = read_grids(
        "log.xlsx",
        workbook(Log=[["Unit", "Date"], ["=1+1", datetime(2025, 3, 14, 7, 30)], [7, 8.5]]),
    )
    assert unpacked(packed(grids)) == grids


def test_a_sheet_of_something_else_is_taken_for_nothing() -> None:
    rows = "Item,Cost,Date\nGrease,12.50,2025-03-14\nBolts,4,2025-03-15\n"
    (block,) = blocks_of(read_pasted(rows))
    assert guess(block, frozenset({"H12"}), frozenset()).sort is Sort.LEAVE
