"""What a sheet comes to: rows of the register, and every doubt on the way there.

Nothing is guessed in silence. What can mean one thing only is taken for it and shown; all else is
a doubt, asked once per value, and its rows wait until it is answered.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from django.utils import timezone

from fleet.models.housing import Condition, Side
from fleet.numbers import PLAIN, Decimals, decimals_among
from fleet.quantities import Quantity
from inspections.exchange.reading import Line, Lines
from inspections.models import InspectionKind
from inspections.sheets import values
from inspections.sheets.doubts import CELL, LEAVE_CELL, LEAVE_ROW, ROW, Choices, Doubt, Doubts
from inspections.sheets.grid import Cell, Cells, Formula, cell_words
from inspections.sheets.layout import Block, Column
from inspections.sheets.meanings import (
    BY_SORT,
    NEEDED,
    Meaning,
    Reads,
    Sort,
    is_pad_column,
    pad_of,
)
from inspections.sheets.values import DayOrder, Setting, Unclear, Understood
from inspections.sheets.yard_knowledge import Knowledge

ORDER_KEY, SWAPPED_KEY = "order of days", "days taken by the spreadsheet"
MOST_CHOICES = 300
OFFERED_UNITS = {
    Quantity.LENGTH: ("in", "mm", "cm", "ft"),
    Quantity.FORCE: ("lbf", "tons", "kips", "kN", "tonnes"),
    Quantity.WEIGHT: ("lb", "tons", "kg", "tonnes"),
}
PAD_WORDS = re.compile(r"\s*(?:side\s+)?([A-Za-z]+\s*-?\s*\d{1,2})\s+([A-Za-z][A-Za-z -]*)")


@dataclass(frozen=True)
class TableReading:
    """What a person, or the program for now, takes a table for.

    kind: of its inspections where no column says one.
    """

    sort: Sort
    meanings: dict[int, str]
    kind: str = InspectionKind.PAD_COUNT


@dataclass(frozen=True)
class Answer:
    """What was answered to a doubt; rows: the only ones it holds for, with the field."""

    value: str
    rows: tuple[tuple[int, int], ...] = ()
    field: str = ""


@dataclass(frozen=True)
class Origin:
    """Where a row of the register comes from."""

    table: int
    sheet: str
    rows: tuple[int, ...]


@dataclass(frozen=True)
class Left:
    """A row that is no record, with what stands in it and why it is left."""

    sheet: str
    row: int
    words: str
    why: str


@dataclass
class Understanding:
    """What a file comes to.

    origins: where each line of the register comes from, by its number less one. keeps_lots: names
    of counts whose pads are of the lots on record, since their sheet names none.
    """

    lines: Lines = field(default_factory=dict)
    origins: list[Origin] = field(default_factory=list)
    doubts: Doubts = field(default_factory=Doubts)
    left: list[Left] = field(default_factory=list)
    keeps_lots: set[str] = field(default_factory=set)
    order: DayOrder = DayOrder.UNKNOWN


class RowLeft(Exception):
    """A row that is not taken, with why, "" where a doubt says it."""


@dataclass
class Visit:
    """What rows say of one housing at one time."""

    housing: str
    at: datetime
    kind: str
    table: int
    row: int
    figures: dict[str, dict[str, list[int]]] = field(default_factory=dict)
    pads: dict[tuple[str, int], dict[str, list[int]]] = field(default_factory=dict)
    lots: dict[tuple[str, int], str] = field(default_factory=dict)
    row_lot: str = ""
    notes: dict[str, None] = field(default_factory=dict)
    rows: list[int] = field(default_factory=list)
    is_all_sound: bool = False

    @property
    def words(self) -> str:
        return f"{self.housing} on {self.at:%Y-%m-%d %H:%M}"


class Reader:
    """Reads the tables of a file by what their columns mean and what was answered."""

    def __init__(
        self,
        blocks: list[Block],
        readings: dict[int, TableReading],
        answers: dict[str, Answer],
        known: Knowledge,
        *,
        yard: str,
        file: str,
        now: datetime,
    ) -> None:
        self.blocks, self.readings, self.known = blocks, readings, known
        self.answers = {key: each.value for key, each in answers.items() if not each.rows}
        self.row_answers = {
            (table, row, each.field): each.value
            for each in answers.values()
            for table, row in each.rows
        }
        self.yard, self.file, self.now = yard, file, now
        self.out = Understanding()
        self.settings: dict[int, Setting] = {}
        self.crosses_tick = True
        self._cache: dict[tuple[int, str, str, Any], Understood] = {}
        self._units_lacking: dict[tuple[int, str], bool] = {}
        self._heads = {
            (block.number, name): column
            for block in blocks
            for column in reversed(block.columns)
            if (name := readings[block.number].meanings.get(column.place, ""))
        }

    # Reading the whole.

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
            if meaning is None:
                shown.append((given, "", True))
            else:
                try:
                    shown.append((given, self._understood(block, meaning, cell).words, True))
                except Unclear as unclear:
                    shown.append((given, f"asked about: {unclear}", False))
            if len(shown) == 3:
                break
        return shown

    def _settle_settings(self) -> None:
        if self.settings:
            return
        days: list[Cell] = []
        numbers: defaultdict[int, list[str]] = defaultdict(list)
        for block in self.blocks:
            for _, meaning, cells in self._meant(block):
                if meaning.reads is Reads.DAY:
                    days += cells
                elif meaning.reads is Reads.NUMBER:
                    numbers[block.number] += [cell for cell in cells if isinstance(cell, str)]
        self.out.order, unclear = values.order_among(days)
        given = self.answers.get(ORDER_KEY)
        if self.out.order is DayOrder.UNKNOWN and given in tuple(DayOrder):
            self.out.order = DayOrder(given)
        self._unclear_days = set(unclear)
        self._is_swapped = values.may_be_swapped(days)
        self.crosses_tick = self._crosses_tick()
        for block in self.blocks:
            bare = [re.sub(r"[^\d.,+-]+$", "", text) for text in numbers[block.number]]
            self.settings[block.number] = Setting(
                decimals_among(bare, block.decimals),
                self.out.order,
                counts_from_1904=block.counts_from_1904,
                own_kinds=self.known.own_kinds,
                crosses_tick=self.crosses_tick,
            )

    def _meant(self, block: Block) -> Iterator[tuple[Column, Meaning, list[Cell]]]:
        reading = self.readings[block.number]
        for column in block.columns:
            meaning = BY_SORT[reading.sort].get(reading.meanings.get(column.place, ""))
            if meaning is not None:
                yield column, meaning, list(block.cells(column.place))

    def _crosses_tick(self) -> bool:
        """Whether a cross can only tick: nothing else ticks, and no pad beside it is blank."""
        for block in self.blocks:
            places = [
                column.place
                for column, meaning, _ in self._meant(block)
                if meaning.reads is Reads.CONDITION
            ]
            has_cross = has_other = False
            for _, row in block.rows:
                words = [cell_words(row[p]).lower() if p < len(row) else "" for p in places]
                is_crossed = any(each in values.CROSSES for each in words)
                if is_crossed and "" in words:
                    return False
                has_cross |= is_crossed
                has_other |= any(
                    values.CONDITIONS.get(each) == Condition.SOUND for each in words if each
                )
            if has_cross and has_other:
                return False
        return True

    def _each_row(self, block: Block, take: Any) -> None:
        for row, cells in block.rows:
            try:
                take(block, row, cells)
            except RowLeft as left:
                if not str(left):
                    self._look_for_more(block, row, cells)
                else:
                    words = " · ".join(dict.fromkeys(w for w in map(cell_words, cells) if w))
                    self.out.left.append(Left(block.sheet, row, words[:120], str(left)))

    def _look_for_more(self, block: Block, row: int, cells: Cells) -> None:
        """Note what else is in doubt in a row that waits, so that all is asked at once."""
        reading = self.readings[block.number]
        for place, name in reading.meanings.items():
            cell = cells[place] if place < len(cells) else None
            if cell is None or (block.number, row, name) in self.row_answers:
                continue
            with suppress(RowLeft):
                self._read(block, row, BY_SORT[reading.sort][name], cell)

    # Reading cells.

    def _given(self, block: Block, row: int, cells: Cells, name: str) -> Cell:
        """Return the cell of a meaning in a row, or what was answered for this row."""
        if (block.number, row, name) in self.row_answers:
            answered = self.row_answers[block.number, row, name]
            return None if answered == LEAVE_CELL else answered
        for place, meant in self.readings[block.number].meanings.items():
            if meant == name and place < len(cells) and cells[place] is not None:
                return cells[place]
        return None

    def _value(self, block: Block, row: int, cells: Cells, name: str) -> str:
        """Return what a row says under a meaning as the register reads it, "" where nothing.

        A doubt is noted, and RowLeft raised, where it is not clear.
        """
        cell = self._given(block, row, cells, name)
        if cell is None:
            return ""
        meaning = BY_SORT[self.readings[block.number].sort][name]
        return self._read(block, row, meaning, cell)

    def _read(self, block: Block, row: int, meaning: Meaning, cell: Cell) -> str:
        group = "condition" if is_pad_column(meaning.name) else meaning.name
        key = f"{group}|{cell_words(cell)}"
        answered = self.answers.get(key)
        if answered == LEAVE_ROW:
            raise RowLeft(f"left out, as answered for “{cell_words(cell)[:40]}”")
        if answered == LEAVE_CELL:
            return ""
        try:
            return self._cached(block, meaning, cell if answered is None else answered).text
        except Unclear as unclear:
            self._doubt_value(block, row, meaning, key, cell, unclear, answered)
            raise RowLeft from None

    def _cached(self, block: Block, meaning: Meaning, cell: Cell) -> Understood:
        if not isinstance(cell, str | int | float):
            return self._understood(block, meaning, cell)
        key = (block.number, meaning.name, type(cell).__name__, cell)
        held = self._cache.get(key)
        if held is None:
            held = self._cache[key] = self._understood(block, meaning, cell)
        return held

    def _understood(self, block: Block, meaning: Meaning, cell: Cell) -> Understood:
        values.refuse_formula(cell)
        setting = self.settings[block.number]
        match meaning.reads:
            case Reads.NUMBER:
                return self._figure(block, meaning, cell, setting)
            case Reads.DAY:
                day, at = values.read_day(self._unswapped(cell), setting)
                clock = f" {at:%H:%M}" if at else ""
                text = f"{day.isoformat()}{clock}"
                return Understood(text, f"{day:%-d %b %Y}{clock}")
            case Reads.TIME:
                at = values.read_time(cell, setting)
                return Understood(f"{at:%H:%M}", f"{at:%H:%M}")
            case Reads.CONDITION:
                return values.read_condition(cell, setting)
            case Reads.KIND:
                return values.read_kind(cell, setting)
            case Reads.SIDE:
                return values.read_side(cell)
            case Reads.POSITION:
                return values.read_position(cell)
            case Reads.SOUND:
                sound, total = values.read_sound(cell)
                words = "all sound" if sound is None else f"{sound} sound"
                return Understood(
                    "all" if sound is None else f"{sound}/{total or ''}",
                    words + (f" of {total}" if total else ""),
                )
            case Reads.MARK:
                return self._mark(block, meaning, cell)
            case Reads.YARD:
                return self._yard(block, cell)
        return values.read_text(cell, meaning)

    def _figure(self, block: Block, meaning: Meaning, cell: Cell, setting: Setting) -> Understood:
        head = self._heads.get((block.number, meaning.name))
        unit = head.unit if head else ""
        unit = unit or self.answers.get(f"unit|{block.number}|{meaning.name}", "")
        if meaning.name == "positions":
            both = values.read_measured(cell, None, setting)
            if int(both.text) % 2 or not int(both.text):
                raise Unclear(f"“{cell_words(cell)}” pads are no two sides alike: give 2, 4, 6 …")
            return Understood(str(int(both.text) // 2), f"{int(both.text) // 2} on each side")
        return values.read_measured(cell, meaning.field, replace(setting, unit=unit))

    def _unswapped(self, cell: Cell) -> Cell:
        """A day that the spreadsheet swapped, put right where that was answered."""
        if not self._is_swapped or not isinstance(cell, datetime):
            return cell
        answered = self.answers.get(SWAPPED_KEY)
        if answered == "swapped":
            return cell.replace(month=cell.day, day=cell.month)
        if answered == "right":
            return cell
        raise Unclear("the spreadsheet may have swapped day and month: say whether it did")

    def _mark(self, block: Block, meaning: Meaning, cell: Cell) -> Understood:
        text = " ".join(cell_words(cell).split())
        if isinstance(cell, float) and cell == int(cell):
            text = str(int(cell))
        sort = self.readings[block.number].sort
        sorts = ("housing", "hammer") if meaning.name == "unit" else (meaning.name,)
        if ":" in text and text.split(":", 1)[0] in sorts:
            named, mark = text.split(":", 1)
            if mark in self.known.all_marks(named):
                return Understood(f"{named}:{mark}", f"{named} {mark}")
        found = [(each, mark) for each in sorts for mark in self.known.found(each, text)]
        if len(found) == 1:
            named, mark = found[0]
            words = f"{named} {mark}" + (", new" if (named, mark) in self.known.new else "")
            return Understood(f"{named}:{mark}", words)
        if len(found) > 1:
            both = ", ".join(f"{named} {mark}" for named, mark in found)
            raise Unclear(f"“{text[:40]}” may be {both}: say which")
        if sort is Sort.FLEET or (sort is Sort.STOCK and meaning.name == "lot"):
            self.known.add(meaning.name, text)
            self.known.new.add((meaning.name, text))
            return Understood(f"{meaning.name}:{text}", f"{meaning.name} {text}, new")
        near = self.known.closest(sorts, text)
        what = " or ".join(sorts)
        raise Unclear(
            f"“{text[:40]}” is no {what} on record: say which it is, or enter it first",
            f"{near[0]}:{near[1]}" if near else "",
        )

    def _yard(self, block: Block, cell: Cell) -> Understood:
        text = cell_words(cell).strip()
        if text.startswith("=new:"):
            return Understood(text.removeprefix("=new:"), f"{text.removeprefix('=new:')}, new")
        found = self.known.yards_named(text)
        if len(found) == 1:
            return Understood(found[0].name, found[0].name)
        if len(found) > 1:
            both = ", ".join(each.name for each in found)
            raise Unclear(f"“{text[:40]}” may be {both}: say which yard")
        raise Unclear(f"“{text[:40]}” is no yard on record: say which it is")

    # Doubts.

    def _doubt_value(
        self,
        block: Block,
        row: int,
        meaning: Meaning,
        key: str,
        cell: Cell,
        unclear: Unclear,
        answered: str | None,
    ) -> None:
        if answered is None and self._lacks_unit(block, meaning, cell):
            self._doubt_unit(block, row, meaning, cell)
            return
        if meaning.reads is Reads.DAY and answered is None:
            if isinstance(cell, str) and cell in self._unclear_days:
                if self.out.order is DayOrder.UNKNOWN:
                    self._doubt_order(block, row, meaning, cell)
                    return
            elif self._is_swapped and isinstance(cell, datetime):
                self._doubt_swapped(block, row, meaning, cell)
                return
        if key in self.out.doubts.by_key:
            self.out.doubts.add(self.out.doubts.by_key[key], block.sheet, row)
            return
        asks = meaning.reads in (Reads.NUMBER, Reads.DAY, Reads.TIME, Reads.TEXT, Reads.POSITION)
        asks = asks or meaning.reads is Reads.SOUND or isinstance(cell, Formula)
        words, example = str(unclear), meaning.field.example if meaning.field else ""
        quantity = meaning.field.quantity if meaning.field else None
        head = self._heads.get((block.number, meaning.name))
        if quantity and head and head.unit:
            words += f". A figure without its unit counts as {head.unit} here"
        if quantity:
            example += f" {quantity.symbol('us')}"
        doubt = Doubt(
            key,
            self._column_words(block, meaning),
            cell_words(cell),
            words,
            (*self._choices(block, meaning, cell), CELL, ROW)
            if not self._is_needed(block, meaning)
            else (*self._choices(block, meaning, cell), ROW),
            asks=asks,
            likely=unclear.likely,
            place=meaning.name
            if meaning.reads in (Reads.MARK, Reads.YARD, Reads.KIND, Reads.SIDE)
            else ("condition" if meaning.reads is Reads.CONDITION else ""),
            example=example,
        )
        self.out.doubts.add(doubt, block.sheet, row)

    def _is_needed(self, block: Block, meaning: Meaning) -> bool:
        needed = NEEDED[self.readings[block.number].sort]
        return any(meaning.name in group for group in needed) or is_pad_column(meaning.name)

    def _column_words(self, block: Block, meaning: Meaning) -> str:
        head = self._heads.get((block.number, meaning.name))
        return head.words if head else meaning.label

    def _choices(self, block: Block, meaning: Meaning, cell: Cell) -> Choices:
        match meaning.reads:
            case Reads.CONDITION:
                return tuple((str(value), str(value)) for value in Condition.values)
            case Reads.KIND:
                kinds = [*InspectionKind.values, *sorted(self.known.own_kinds)]
                return tuple((str(kind), str(kind)) for kind in kinds)
            case Reads.SIDE:
                return tuple((side.value, f"side {side.value}") for side in Side)
            case Reads.YARD:
                new = cell_words(cell).strip()
                known = tuple((each.name, each.name) for each in self.known.yards)
                if self.readings[block.number].sort in (Sort.FLEET, Sort.STOCK):
                    return (*known, (f"=new:{new}", f"a new yard, “{new}”"))
                return known
            case Reads.MARK:
                sorts = ("housing", "hammer") if meaning.name == "unit" else (meaning.name,)
                return tuple(
                    (f"{sort}:{mark}", f"{sort} {mark}")
                    for sort in sorts
                    for mark in self.known.all_marks(sort)[:MOST_CHOICES]
                )
        return ()

    def _lacks_unit(self, block: Block, meaning: Meaning, cell: Cell) -> bool:
        """Whether a figure has no unit, and neither has its column, most of which can't be in ours.

        Travel of about 200 is in millimetres, a listed pull of 60 in tons.
        """
        field = meaning.field
        head = self._heads.get((block.number, meaning.name))
        if field is None or field.quantity not in OFFERED_UNITS or head is None or head.unit:
            return False
        if not PLAIN.fullmatch(cell_words(cell)):
            return False
        key = (block.number, meaning.name)
        if key not in self._units_lacking:
            given = [cell_words(each) for each in block.cells(head.place)]
            bare = [float(each) for each in given if PLAIN.fullmatch(each)]
            beyond = sum(1 for each in bare if not field.least <= each <= field.most)
            self._units_lacking[key] = beyond * 2 > len(bare)
        return self._units_lacking[key]

    def _doubt_unit(self, block: Block, row: int, meaning: Meaning, cell: Cell) -> None:
        assert meaning.field is not None
        assert meaning.field.quantity is not None
        doubt = Doubt(
            f"unit|{block.number}|{meaning.name}",
            self._column_words(block, meaning),
            cell_words(cell),
            "Figures of this column name no unit, and most can’t be in "
            f"{meaning.field.quantity.symbol('us')}: say which unit they are in",
            tuple((unit, unit) for unit in OFFERED_UNITS[meaning.field.quantity]),
        )
        self.out.doubts.add(doubt, block.sheet, row)

    def _doubt_order(self, block: Block, row: int, meaning: Meaning, cell: str) -> None:
        ways, _ = values.days_of(cell)
        choices = tuple(
            (str(order), f"{order}: {cell} is {day:%-d %b %Y}") for order, day in ways.items()
        )
        doubt = Doubt(
            ORDER_KEY,
            self._column_words(block, meaning),
            cell,
            "Days of this file are one day or another, and no row tells which: say what stands "
            "first in them",
            choices,
        )
        self.out.doubts.add(doubt, block.sheet, row)

    def _doubt_swapped(self, block: Block, row: int, meaning: Meaning, cell: datetime) -> None:
        other = cell.replace(month=cell.day, day=cell.month)
        doubt = Doubt(
            SWAPPED_KEY,
            self._column_words(block, meaning),
            cell_words(cell),
            "Days here that stand as text have the day first, and the spreadsheet took none of "
            "those beyond the twelfth for a day: it may have swapped day and month in those it "
            "took",
            (
                ("swapped", f"it swapped them: this is {other:%-d %b %Y}"),
                ("right", f"they are right: this is {cell:%-d %b %Y}"),
            ),
        )
        self.out.doubts.add(doubt, block.sheet, row)

    def _ask(
        self,
        key: str,
        block: Block,
        row: int,
        *,
        column: str,
        given: str,
        words: str,
        choices: Choices = (),
        asks: bool = False,
        example: str = "",
    ) -> str:
        """Return what was answered. Notes the doubt, and raises RowLeft, where nothing was."""
        answered = self.answers.get(key)
        if answered == LEAVE_ROW:
            raise RowLeft(f"left out, as answered for “{given[:40]}”")
        if answered is not None and (asks or answered in dict(choices) or answered == LEAVE_CELL):
            return answered
        doubt = Doubt(key, column, given, words, choices, asks=asks, example=example)
        self.out.doubts.add(doubt, block.sheet, row)
        raise RowLeft

    # The register's lines.

    def _line(
        self,
        table: str,
        block: int,
        row: int,
        cells: dict[str, str],
        rows: tuple[int, ...] = (),
    ) -> None:
        self.out.origins.append(Origin(block, self.blocks[block].sheet, rows or (row,)))
        line: Line = (
            len(self.out.origins),
            {name: text for name, text in cells.items() if text},
            Decimals.POINT,
        )
        self.out.lines.setdefault(table, []).append(line)

    def _source(self, block: Block, row: int) -> str:
        return f"From “{self.file[:60]}”, sheet “{block.sheet[:40]}”, row {row}."

    # Rows of the fleet.

    def _fleet_row(self, block: Block, row: int, cells: Cells) -> None:
        def said(name: str) -> str:
            return self._value(block, row, cells, name)

        self._refuse_left(block, row)
        hammer, housing = said("hammer").partition(":")[2], said("housing").partition(":")[2]
        if not hammer and not housing:
            raise RowLeft("names no hammer and no housing")
        yard = said("yard") or self.yard
        per_side = said("positions_per_side") or said("positions")
        self._enter_yard(block, row, yard)
        if hammer:
            names: tuple[str, ...] = (
                "make",
                "type_name",
                "serial_number",
                "eccentric_moment_lb_in",
            )
            names += ("frequency_vpm", "exciter_weight_lb")
            figures = {name: said(name) for name in names}
            has_figures = any(figures[name] for name in names[3:])
            line = {"mark": hammer, "yard": yard, **figures}
            if has_figures:
                line["figures_source"] = f"sheet “{self.file[:60]}”"
            if not housing:
                line["note"] = said("note")
            self._line("hammers", block.number, row, line)
        if housing:
            line = {
                "mark": housing,
                "yard": yard,
                "positions_per_side": per_side,
                "design_travel_in": said("design_travel_in"),
                "serial_number": said("housing_serial"),
                "weight_lb": said("weight_lb"),
                "bumper": said("bumper"),
                "note": said("note"),
            }
            if not hammer and not line["serial_number"]:
                line["serial_number"] = said("serial_number")
            if ("housing", housing) not in self.known.new:
                line = {name: text for name, text in line.items() if name != "note"}
                line |= self._fixed_of_known(housing, per_side, line["design_travel_in"])
            elif per_side:
                self.known.positions[housing] = int(float(per_side))
            self._line("housings", block.number, row, line)
        if hammer and housing:
            self._hang(block, row, cells, hammer, housing)
        if hammer and said("listed_lbf"):
            self._list(block, row, cells, hammer)

    def _fixed_of_known(self, housing: str, per_side: str, travel: str) -> dict[str, str]:
        """What a housing on record must be said to be again, where the sheet is silent."""
        from fleet.models import SuppressorHousing

        there = SuppressorHousing.objects.get(mark=housing)
        return {
            "positions_per_side": per_side or str(there.positions_per_side),
            "design_travel_in": travel or repr(there.design_travel_in),
        }

    def _enter_yard(self, block: Block, row: int, yard: str) -> None:
        if yard.lower() not in {each.name.lower() for each in self.known.yards} and (
            ("yard", yard) not in self.known.new
        ):
            self.known.new.add(("yard", yard))
            self._line("yards", block.number, row, {"name": yard})

    def _hang(self, block: Block, row: int, cells: Cells, hammer: str, housing: str) -> None:
        since = self._value(block, row, cells, "mounted")
        hanging = self.known.hangings.get(hammer, [])
        if any(held == housing and ended is None for _, ended, held in hanging):
            return
        if not since:
            since = self._ask(
                "hung since",
                block,
                row,
                column="since when it hangs",
                given="",
                words="No column says since when these housings hang on these hammers: give a "
                "day, or leave it out",
                choices=(CELL,),
                asks=True,
                example="2026-03-14",
            )
        if since == LEAVE_CELL:
            return
        moment = self._moment(block, row, since, "mounted")
        self.known.hangings.setdefault(hammer, []).append((moment, None, housing))
        line = {"housing": housing, "hammer": hammer, "at": moment.isoformat()}
        self._line("mountings", block.number, row, line)

    def _list(self, block: Block, row: int, cells: Cells, hammer: str) -> None:
        said = {
            name: self._value(block, row, cells, name) for name in ("listed_lbf", "source", "dated")
        }
        for name, words, example in (
            ("source", "who claims these listed pulls, such as “data plate”", "data plate"),
            ("dated", "the day that what claims these listed pulls bears", "2019-05-01"),
        ):
            said[name] = said[name] or self._ask(
                f"listing {name}",
                block,
                row,
                column=name,
                given="",
                words=f"No column says {words}: say it, or leave the listed pulls out",
                choices=(CELL,),
                asks=True,
                example=example,
            )
            if said[name] == LEAVE_CELL:
                return
        said["dated"] = self._moment(block, row, said["dated"], "dated").date().isoformat()
        self._line("listings", block.number, row, {"hammer": hammer, **said})

    # Rows of shelves.

    def _stock_row(self, block: Block, row: int, cells: Cells) -> None:
        def said(name: str) -> str:
            return self._value(block, row, cells, name)

        self._refuse_left(block, row)
        lot = said("lot").partition(":")[2]
        if not lot:
            raise RowLeft("names no lot")
        yard, pads = said("yard") or self.yard, said("pads")
        names = ("supplier", "hardness_shore_a", "rubber_thickness_in", "reorder_point")
        line = {"mark": lot, **{name: said(name) for name in names}}
        if use_by := said("use_by"):
            line["use_by"] = use_by[:10]
        if ("lot", lot) in self.known.new:
            line["note"] = said("note")
        self._enter_yard(block, row, yard)
        self._line("lots", block.number, row, line)
        if not pads:
            return
        day = said("day") or self._ask(
            "counted on",
            block,
            row,
            column="when it was counted",
            given="",
            words="No column says when these shelves were counted: give a day, or leave the "
            "numbers of pads out",
            choices=(CELL,),
            asks=True,
            example="2026-03-14",
        )
        if day != LEAVE_CELL:
            at = self._moment(block, row, day, "day")
            held = {"lot": lot, "yard": yard, "pads": pads, "counted_at": at.isoformat()}
            self._line("shelf_counts", block.number, row, held)

    # Pads fitted, and visits.

    def _fitted(self, blocks: list[Block]) -> None:
        groups: dict[tuple[str, datetime], list[tuple[Block, int, str, int, str, str]]] = {}

        def take(block: Block, row: int, cells: Cells) -> None:
            self._refuse_left(block, row)
            housing, at = self._who_and_when(block, row, cells)
            pad = self._pad(block, row, cells)
            if pad is None:
                raise RowLeft("names no position of a pad")
            lot = self._value(block, row, cells, "lot").partition(":")[2]
            note = self._notes(block, row, cells)
            groups.setdefault((housing, at), []).append((block, row, *pad, lot, note))

        for block in blocks:
            self._each_row(_carried(self, block), take)
        for (housing, at), pads in groups.items():
            block, row = pads[0][:2]
            name = f"{housing} {at.isoformat()}"
            notes = " ".join(dict.fromkeys(note for *_, note in pads if note))
            self._line(
                "replacements",
                block.number,
                row,
                {
                    "replacement": name,
                    "housing": housing,
                    "fitted_at": at.isoformat(),
                    "note": f"{notes} {self._source(block, row)}".strip(),
                },
                tuple(dict.fromkeys(each for _, each, *_ in pads)),
            )
            seen: set[tuple[str, int, str]] = set()
            for block, row, side, number, lot, _ in pads:
                if (side, number, lot) in seen:
                    continue
                seen.add((side, number, lot))
                line = {"replacement": name, "side": side, "number": str(number), "lot": lot}
                self._line("fitted_pads", block.number, row, line)

    def _visits(self, blocks: list[Block]) -> None:
        visits: dict[tuple[str, datetime, str], Visit] = {}

        def take(block: Block, row: int, cells: Cells) -> None:
            self._take_visit(visits, block, row, cells)

        for block in blocks:
            self._each_row(_carried(self, block), take)
        for visit in visits.values():
            try:
                self._sign(visit)
            except RowLeft as left:
                if str(left):
                    block = self.blocks[visit.table]
                    self.out.left.append(Left(block.sheet, visit.row, visit.words, str(left)))

    def _refuse_left(self, block: Block, row: int) -> None:
        if self.row_answers.get((block.number, row, "")) == LEAVE_ROW:
            raise RowLeft("left out, as answered")

    def _take_visit(
        self,
        visits: dict[tuple[str, datetime, str], Visit],
        block: Block,
        row: int,
        cells: Cells,
    ) -> None:
        def said(name: str) -> str:
            return self._value(block, row, cells, name)

        self._refuse_left(block, row)
        housing, at = self._who_and_when(block, row, cells)
        kind = said("kind") or self.readings[block.number].kind
        figures = {name: said(name) for name in ("travel_in", "travel_reason", "hours", "weather")}
        pads = self._pads_of(block, row, cells, housing)
        lot = said("lot").partition(":")[2]
        is_all_sound, pads, words = self._whole_count(block, row, cells, housing, pads)
        notes = self._notes(block, row, cells)
        if not (any(figures.values()) or pads or is_all_sound or said("note") or words):
            raise RowLeft("names a unit and a day, but nothing that was seen")
        key = (housing, at, kind)
        visit = visits.get(key)
        if visit is None:
            visit = visits[key] = Visit(housing, at, kind, block.number, row)
        visit.rows.append(row)
        visit.is_all_sound |= is_all_sound
        for name, value in figures.items():
            if value:
                visit.figures.setdefault(name, {}).setdefault(value, []).append(row)
        for pad, condition in pads.items():
            visit.pads.setdefault(pad, {}).setdefault(condition, []).append(row)
            if lot:
                visit.lots[pad] = lot
        if lot and is_all_sound:
            visit.row_lot = lot
        for note in (notes, words):
            if note:
                visit.notes[note] = None

    def _who_and_when(self, block: Block, row: int, cells: Cells) -> tuple[str, datetime]:
        names = [
            each
            for each in ("housing", "unit", "hammer")
            if self._given(block, row, cells, each) is not None
        ]
        if not names:
            if sum(cell is not None for cell in cells) >= 3:
                self._doubt_nobody(block, row)
            raise RowLeft("names no unit")
        day = self._value(block, row, cells, "day")
        if not day:
            self._doubt_no_day(block, row)
        clock = self._value(block, row, cells, "time")
        at = self._moment(block, row, f"{day[:10]} {clock}" if clock else day, "day")
        sort, _, mark = self._value(block, row, cells, names[0]).partition(":")
        if not mark:
            raise RowLeft("names no unit")
        if sort == "housing":
            return mark, at
        housing = self.known.housing_at(mark, at)
        if not housing:
            answered = self._ask(
                f"hung|{mark}",
                block,
                row,
                column="the unit",
                given=mark,
                words=f"Hammer {mark} hung under no housing on record on {at:%-d %b %Y}: say "
                "which housing it was, or record the mounting first",
                choices=(
                    *((held, f"housing {held}") for held in self.known.all_marks("housing")),
                    ROW,
                ),
            )
            housing = answered
        return housing, at

    def _doubt_nobody(self, block: Block, row: int) -> None:
        """A row of several cells that names no unit may go on from the one above."""
        self._ask(
            f"nobody|{block.number}",
            block,
            row,
            column="the unit",
            given="",
            words="These rows say something and name no unit: are they of the unit above them?",
            choices=(("above", "of the unit above, on its day where they name none"), ROW),
        )

    def _doubt_no_day(self, block: Block, row: int) -> None:
        self._ask(
            f"no day|{block.number}",
            block,
            row,
            column="the day",
            given="",
            words="These rows name a unit and no day: nothing can be taken without",
            choices=(ROW,),
        )
        raise RowLeft("names no day")

    def _moment(self, block: Block, row: int, text: str, name: str) -> datetime:
        """Return the moment of a day, or of a day typed as an answer, at noon without a time."""
        setting = self.settings[block.number]
        try:
            day, at = values.read_day(text, setting)
        except Unclear as unclear:
            key = f"{name}|{text}"
            doubt = Doubt(key, name, text, str(unclear), (ROW,), asks=True, example="2026-03-14")
            self.out.doubts.add(doubt, block.sheet, row)
            raise RowLeft from None
        moment = datetime.combine(day, at or values.NOON)
        aware = timezone.make_aware(moment)
        if at is None and day == timezone.localdate(self.now) and aware > self.now:
            self._ask(
                f"today|{day.isoformat()}",
                block,
                row,
                column="the day",
                given=text,
                words="This is today and names no time, which counts as noon, still to come: take "
                "it in after noon, or give times in a column of their own",
                choices=(ROW,),
            )
        return aware

    def _pad(self, block: Block, row: int, cells: Cells) -> tuple[str, int] | None:
        """The position a row is of, where it is of one."""
        position = self._value(block, row, cells, "position")
        side = self._value(block, row, cells, "side")
        number = self._value(block, row, cells, "number")
        if position and (pad := pad_of(position)):
            return pad
        number = number or position
        if not number:
            return None
        pad = pad_of(number)
        if pad is None and side:
            pad = side, int(number)
        if pad is None:
            self._ask(
                f"no side|{number}",
                block,
                row,
                column="the position",
                given=number,
                words=f"Position {number} names no side: give it with its side, such as A{number}",
                choices=(ROW,),
            )
        return pad

    def _pads_of(
        self, block: Block, row: int, cells: Cells, housing: str
    ) -> dict[tuple[str, int], str]:
        """What a row says of pads, by position: of every one in a column, or of the row's own."""
        pads: dict[tuple[str, int], str] = {}
        per_side = self.known.positions.get(housing, 0)
        for place, name in self.readings[block.number].meanings.items():
            if not is_pad_column(name):
                continue
            cell = cells[place] if place < len(cells) else None
            if cell is None:
                continue
            _, side, number = name.split(":")
            meaning = BY_SORT[Sort.INSPECTIONS][name]
            condition = self._read(block, row, meaning, cell)
            if condition and int(number) > per_side:
                self._ask(
                    f"no such pad|{housing}|{side}{number}",
                    block,
                    row,
                    column=block.columns[place].words,
                    given=cell_words(cell),
                    words=f"Housing {housing} has {per_side} positions on each side, so there is "
                    f"no pad {side}{number}: say whether to leave what stands there out",
                    choices=(CELL, ROW),
                )
            elif condition:
                pads[side, int(number)] = condition
        if not pads and (pad := self._pad(block, row, cells)):
            condition = self._value(block, row, cells, "condition")
            if condition:
                pads[pad] = condition
        return pads

    def _whole_count(
        self,
        block: Block,
        row: int,
        cells: Cells,
        housing: str,
        pads: dict[tuple[str, int], str],
    ) -> tuple[bool, dict[tuple[str, int], str], str]:
        """Whether a row says that every pad is sound, the pads it names, and words for the note.

        A number of pads has no positions: it counts them only where all are sound.
        """
        total = 2 * self.known.positions.get(housing, 0)
        counted = self._value(block, row, cells, "sound")
        if counted:
            return self._counted(block, row, cells, counted, total, pads)
        condition = self._given(block, row, cells, "condition")
        if pads or condition is None:
            return False, pads, ""
        read = self._value(block, row, cells, "condition")
        if not read:
            return False, pads, ""
        given = cell_words(condition)
        every = (("all", "every pad of the unit was looked at and is sound"),)
        answered = self._ask(
            f"whole|{given}",
            block,
            row,
            column="condition",
            given=given,
            words="This says something of a unit and names no pad: say what it counts",
            choices=(
                *(every if read == Condition.SOUND else ()),
                ("note", "no pads: keep it as a note"),
                ROW,
            ),
        )
        if answered == "all":
            return True, pads, ""
        return False, pads, f"Condition: {given}."

    def _counted(
        self,
        block: Block,
        row: int,
        cells: Cells,
        counted: str,
        total: int,
        pads: dict[tuple[str, int], str],
    ) -> tuple[bool, dict[tuple[str, int], str], str]:
        given = cell_words(self._given(block, row, cells, "sound"))
        number, _, of = counted.partition("/")
        sound = total if number == "all" else int(number)
        if pads:
            in_place = sum(1 for each in pads.values() if each == Condition.SOUND)
            if len(pads) == total and in_place != sound:
                self._ask(
                    f"sum|{block.number}|{row}",
                    block,
                    row,
                    column="how many pads are sound",
                    given=given,
                    words=f"The row counts {sound} pads sound and marks {in_place} so: say which",
                    choices=(("pads", "the marks are right"), ROW),
                )
            return False, pads, ""
        if sound > total or (of and int(of) != total):
            self._ask(
                f"total|{block.number}|{row}",
                block,
                row,
                column="how many pads are sound",
                given=given,
                words=f"This unit’s housing has {total} pads: leave the number out, or the row",
                choices=(CELL, ROW),
            )
            return False, {}, ""
        if sound == total:
            return True, {}, ""
        answered = self._ask(
            f"which|{block.number}|{row}",
            block,
            row,
            column="how many pads are sound",
            given=given,
            words=f"{sound} of {total} pads are sound, and a number has no positions: say which "
            "were not and what was wrong, or leave the number out",
            choices=(("note", "no count: keep it as a note"), ROW),
            asks=True,
            example="A3 cracked, B1 missing",
        )
        if answered in ("note", LEAVE_CELL):
            return False, {}, f"{sound} of {total} pads sound, not said which."
        return False, self._named_pads(block, row, given, answered, total, sound), ""

    def _named_pads(
        self, block: Block, row: int, given: str, answered: str, total: int, sound: int
    ) -> dict[tuple[str, int], str]:
        """Return a whole count from the pads named as unsound."""
        pads = {
            (side.value, number): str(Condition.SOUND)
            for side in Side
            for number in range(1, total // 2 + 1)
        }
        named: dict[tuple[str, int], str] = {}
        trouble = ""
        for part in re.split(r"[,;]", answered):
            found = PAD_WORDS.fullmatch(part)
            pad = pad_of(found[1]) if found else None
            try:
                read = values.read_condition(found[2].strip() if found else part, Setting())
            except Unclear as unclear:
                trouble = str(unclear)
                break
            if pad is None or pad not in pads:
                trouble = f"“{part.strip()[:24]}” names no pad of this housing"
                break
            named[pad] = read.text
        unsound = [each for each in named.values() if each != Condition.SOUND]
        if not trouble and len(unsound) != total - sound:
            trouble = f"that names {len(unsound)} pads, and {total - sound} were not sound"
        if trouble:
            doubt = Doubt(
                f"which|{block.number}|{row}",
                "how many pads are sound",
                given,
                f"{trouble}: give them such as A3 cracked, B1 missing",
                (("note", "no count: keep it as a note"), ROW),
                asks=True,
                example="A3 cracked, B1 missing",
            )
            self.out.doubts.add(doubt, block.sheet, row)
            raise RowLeft
        return pads | named

    def _notes(self, block: Block, row: int, cells: Cells) -> str:
        parts = []
        for place, name in self.readings[block.number].meanings.items():
            if name == "note" and place < len(cells) and cells[place] is not None:
                meaning = BY_SORT[self.readings[block.number].sort]["note"]
                parts.append(self._read(block, row, meaning, cells[place]))
        if by := self._value(block, row, cells, "inspector"):
            parts.append(f"Seen by {by}.")
        if yard := self._value(block, row, cells, "yard"):
            parts.append(f"At {yard}.")
        return " ".join(part for part in parts if part)

    def _sign(self, visit: Visit) -> None:
        """Put a visit among the register's lines. Raises RowLeft where a doubt is left."""
        block = self.blocks[visit.table]
        figures = {
            name: self._one(visit, block, name, given) for name, given in visit.figures.items()
        }
        pads = {
            pad: self._one(visit, block, f"pad {pad[0]}{pad[1]}", given)
            for pad, given in visit.pads.items()
        }
        per_side = self.known.positions.get(visit.housing, 0)
        every = [(side.value, number) for side in Side for number in range(1, per_side + 1)]
        if visit.is_all_sound and not pads:
            pads = dict.fromkeys(every, str(Condition.SOUND))
        absent = [pad for pad in every if pad not in pads]
        if pads and absent:
            pads = self._completed(visit, block, pads, absent)
        name = f"{visit.housing} {visit.at.isoformat()} {visit.kind}"
        note = " ".join(visit.notes)[:1700]
        self._line(
            "counts",
            visit.table,
            visit.row,
            {
                "count": name,
                "housing": visit.housing,
                "seen_at": visit.at.isoformat(),
                "kind": visit.kind,
                **figures,
                "note": f"{note} {self._source(block, visit.row)}".strip(),
            },
            tuple(visit.rows),
        )
        if pads and not visit.lots and not visit.row_lot:
            self.out.keeps_lots.add(name)
        for (side, number), condition in sorted(pads.items()):
            lot = visit.lots.get((side, number), visit.row_lot)
            line = {"count": name, "side": side, "number": str(number), "condition": condition}
            line["lot"] = "" if condition == Condition.MISSING else lot
            self._line("pads", visit.table, visit.row, line)

    def _one(self, visit: Visit, block: Block, name: str, given: dict[str, list[int]]) -> str:
        """Return the one value that rows of a visit give, or that was chosen."""
        if len(given) == 1:
            return next(iter(given))
        rows = sorted({row for rows in given.values() for row in rows})
        return self._ask(
            f"two|{visit.words}|{visit.kind}|{name}",
            block,
            rows[-1],
            column=name.removesuffix("_in"),
            given=" or ".join(given),
            words=f"Rows {', '.join(map(str, rows[:6]))} are of one visit, {visit.words}, and say "
            "different things: choose one, or give times where they were two visits",
            choices=(*((value, value) for value in given), ROW),
        )

    def _completed(
        self,
        visit: Visit,
        block: Block,
        pads: dict[tuple[str, int], str],
        absent: list[tuple[str, int]],
    ) -> dict[tuple[str, int], str]:
        shown = ", ".join(f"{side}{number}" for side, number in absent[:6])
        answered = self._ask(
            f"others|{block.number}",
            block,
            visit.row,
            column="pads",
            given="",
            words=f"Here some pads are named and others not, such as {shown} of {visit.words}: say "
            "what those not named were",
            choices=(
                ("sound", "looked at, and sound"),
                ("missing", "missing"),
                ("none", "not looked at: take no count of pads, only the rest"),
                ROW,
            ),
        )
        if answered == "none":
            named = ", ".join(f"{s}{n} {c}" for (s, n), c in sorted(pads.items()) if c != "sound")
            if named:
                visit.notes[f"Pads: {named}."] = None
            if not visit.figures and not visit.notes:
                raise RowLeft("names some pads only, and nothing else that was seen")
            return {}
        return pads | dict.fromkeys(absent, answered)


def _carried(reader: Reader, block: Block) -> Block:
    """Return a table with unit and day written into rows that go on from the one above.

    Without being asked where a row names a pad: the unit stands only over its first.
    """
    meanings = reader.readings[block.number].meanings
    places = {name: place for place, name in meanings.items()}
    who = [places[name] for name in ("housing", "unit", "hammer") if name in places]
    names_pads = "condition" in places or "lot" in places
    names_pads = names_pads and ("position" in places or "number" in places)
    goes_on = names_pads or reader.answers.get(f"nobody|{block.number}") == "above"
    if not who or not goes_on:
        return block
    kept = [*who, *(places[name] for name in ("day", "time", "kind") if name in places)]
    rows: list[tuple[int, Cells]] = []
    above: dict[int, Cell] = {}
    for number, cells in block.rows:
        cells = [*cells, *[None] * (max(kept) + 1 - len(cells))]
        if all(cells[place] is None for place in who):
            for place in kept:
                if cells[place] is None:
                    cells[place] = above.get(place)
        above = {place: cells[place] for place in kept}
        rows.append((number, cells))
    return replace(block, rows=rows)
