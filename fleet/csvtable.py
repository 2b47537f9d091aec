"""Tables of text with a header: a CSV file, cells pasted from a spreadsheet, a workbook's sheet."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from io import TextIOWrapper
from itertools import chain
from typing import IO

from fleet.numbers import Decimals

DELIMITERS = "\t;,"
MOST_HEADER = 20_000
MOST_CELL = 1_000_000
# Blank lines before the header; a file of nothing else is given up.
MOST_BLANK = 1_000

Line = tuple[int, list[str]]


@dataclass(frozen=True)
class TextTable:
    """A table as it was written: its header in lower case, then each line with its number.

    Lines are read as they are asked for, so that a file that swells is never held whole. Blank
    ones are among them, and count.
    """

    header: list[str]
    header_line: int
    lines: Iterator[Line]
    decimals: Decimals


class BadLine(csv.Error):
    """A line that can't be parted into cells, with its number."""

    def __init__(self, number: int) -> None:
        self.number = number
        super().__init__(f"Line {number}: it has a cell too long for any number.")


def as_text(file: IO[bytes]) -> IO[str]:
    """Return a file's text in UTF-8, with line ends as they are and no mark at its beginning."""
    return TextIOWrapper(file, encoding="utf-8-sig", newline="")


def read_csv(text: IO[str]) -> TextTable:
    """Return a table parted by whichever of tab, semicolon and comma its header has most of.

    With tabs or semicolons decimals may have a comma. Raises BadLine, now or while lines are read.
    """
    blank: list[str] = []
    first = text.readline(MOST_HEADER)
    while first and not first.strip() and len(blank) < MOST_BLANK:
        blank.append("\n")
        first = text.readline(MOST_HEADER)
    delimiter = max(DELIMITERS, key=first.count)
    csv.field_size_limit(MOST_CELL)
    rows = csv.reader(chain(blank, [first], text), delimiter=delimiter)
    return with_header(rows, Decimals.POINT if delimiter == "," else Decimals.EITHER)


def with_header(rows: Iterable[list[str]], decimals: Decimals = Decimals.POINT) -> TextTable:
    """Return rows of cells as a table: the first that holds anything is its header."""
    lines = _numbered(rows)
    for number, cells in lines:
        if is_filled(cells) or number > MOST_BLANK:
            return TextTable([cell.strip().lower() for cell in cells], number, lines, decimals)
    return TextTable([], 1, lines, decimals)


def is_filled(cells: Iterable[str]) -> bool:
    """Whether anything stands in any of these cells."""
    return any(cell.strip() for cell in cells)


def _numbered(rows: Iterable[list[str]]) -> Iterator[Line]:
    number = 0
    each = iter(rows)
    while True:
        number += 1
        try:
            yield number, next(each)
        except StopIteration:
            return
        except csv.Error as error:
            raise BadLine(number) from error
