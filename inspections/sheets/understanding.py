"""What a sheet comes to: rows of the register, and every doubt on the way there.

Nothing is guessed in silence. What can mean one thing only is taken for it and shown; all else is
a doubt, asked once per value, and its rows wait until it is answered.
"""

from __future__ import annotations

from collections import defaultdict

from inspections.sheets.cell_reader import Left, Understanding
from inspections.sheets.grid import cell_words
from inspections.sheets.layout import Block, Column
from inspections.sheets.machine_rows import MachineRows
from inspections.sheets.meanings import (
    BY_SORT,
    Sort,
)
from inspections.sheets.values import Unclear, says_nothing
from inspections.sheets.visit_rows import VisitRows


class Reader(MachineRows, VisitRows):
    """Reads the tables of a file by what their columns mean and what was answered."""

    def read(self) -> Understanding:
        """Return what all tables come to."""
        self._settle_settings()
        by_sort: defaultdict[Sort, list[Block]] = defaultdict(list)
        for block in self.blocks:
            by_sort[self.readings[block.number].sort].append(block)
            for row, words, why in block.left:
                if self.readings[block.number].sort is not Sort.LEAVE:
                    self.out.left.append(Left(block.sheet, row, words, why))
        for block in by_sort[Sort.FLEET]:
            self._each_row(block, self._fleet_row)
        for block in by_sort[Sort.STOCK]:
            self._each_row(block, self._stock_row)
        self._fitted(by_sort[Sort.REPLACEMENTS])
        self._visits(by_sort[Sort.INSPECTIONS])
        return self.out

    def sample(self, block: Block, column: Column, name: str) -> list[tuple[str, str, bool]]:
        """Return three values of a column: as given, as understood, and whether they are."""
        self._settle_settings()
        meaning = BY_SORT[self.readings[block.number].sort].get(name)
        shown: list[tuple[str, str, bool]] = []
        seen: set[str] = set()
        for cell in block.cells(column.place):
            given = cell_words(cell)
            if given in seen:
                continue
            seen.add(given)
            if meaning is not None and says_nothing(meaning, cell):
                shown.append((given, "nothing", True))
            elif meaning is None:
                shown.append((given, "", True))
            else:
                try:
                    shown.append((given, self._understood(block, meaning, cell).words, True))
                except Unclear as unclear:
                    shown.append((given, f"asked about: {unclear}", False))
            if len(shown) == 3:
                break
        return shown
