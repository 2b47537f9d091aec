"""Cells of a sheet, read by what their columns mean and what was answered; the rest is doubt."""

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
from fleet.written_units import is_of_two_kinds
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
)
from inspections.sheets.values import DayOrder, Setting, Unclear, Understood
from inspections.sheets.yard_knowledge import Knowledge

ORDER_KEY, SWAPPED_KEY = "order of days", "days taken by the spreadsheet"
MOST_CHOICES = 300
THOUSANDS = "thousands"
# A comma before three digits may part off thousands or decimals; before a point, thousands.
_READS_TWO_WAYS = re.compile(r"^\s*\d{1,3},\d{3}(?![\d.,])")
_THOUSANDS_AND_POINT = re.compile(r"\d{1,3}(?:,\d{3})+\.\d+")
OFFERED_UNITS = {
    Quantity.LENGTH: ("in", "mm", "cm", "ft"),
    Quantity.FORCE: ("lbf", "US tons", "kips", "kN", "tonnes"),
    Quantity.WEIGHT: ("lb", "US tons", "kg", "tonnes"),
}


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


class CellReader:
    """Reads cells of the tables of a file, and gathers lines of the register and doubts."""

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
        system: str = "us",
    ) -> None:
        self.readings, self.known = readings, known
        self.blocks = [self._without_nothing(block) for block in blocks]
        self.answers = {key: each.value for key, each in answers.items() if not each.rows}
        self.row_answers = {
            (table, row, each.field): each.value
            for each in answers.values()
            for table, row in each.rows
        }
        self.yard, self.file, self.now, self.system = yard, file, now, system
        self.out = Understanding()
        self.settings: dict[int, Setting] = {}
        self.crosses_tick = True
        # Housings said to hang on hammers, and every row that says so: its time, table and number.
        self.hung: dict[tuple[str, str], tuple[tuple[datetime, int, int], ...]] = {}
        self._cache: dict[tuple[int, str, str, Any], Understood] = {}
        self._units_lacking: dict[tuple[int, str], bool] = {}
        self._heads = {
            (block.number, name): column
            for block in blocks
            for column in reversed(block.columns)
            if (name := readings[block.number].meanings.get(column.place, ""))
        }

    def _without_nothing(self, block: Block) -> Block:
        """Return a table without the cells that only say that there is nothing to say."""
        meanings = {
            place: BY_SORT[self.readings[block.number].sort][name]
            for place, name in self.readings[block.number].meanings.items()
            if name in BY_SORT[self.readings[block.number].sort]
        }
        rows = [
            (
                number,
                [
                    None
                    if (meaning := meanings.get(place)) and values.says_nothing(meaning, cell)
                    else cell
                    for place, cell in enumerate(cells)
                ],
            )
            for number, cells in block.rows
        ]
        return replace(block, rows=rows)

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
                system=self.system,
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
            hung = dict(self.hung)
            try:
                take(block, row, cells)
            except RowLeft as left:
                if not str(left):
                    self._look_for_more(block, row, cells)
                else:
                    # What was answered to hang together at a row left out, other rows may tell of.
                    self.hung = hung
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
            case Reads.KIND if cell_words(cell).startswith("=new:"):
                new = cell_words(cell).removeprefix("=new:")
                return Understood(new, f"{new}, new")
            case Reads.KIND:
                return values.read_kind(cell, setting)
            case Reads.SIDE:
                return values.read_side(cell)
            case Reads.POSITION:
                return values.read_position(cell)
            case Reads.SOUND if each := values.read_pad_letters(cell):
                return Understood(f"letters:{each}", f"{len(each)} pads, a letter each")
            case Reads.SOUND:
                sound, total = values.read_sound(cell)
                words = "all sound" if sound is None else f"{sound} sound"
                return Understood(
                    "all" if sound is None else f"{sound}/{total or ''}",
                    words + (f" of {total}" if total else ""),
                )
            case Reads.UNSOUND:
                named = values.named_pads_words(values.read_unsound(cell))
                return Understood(named, named)
            case Reads.MARK:
                return self._mark(block, meaning, cell)
            case Reads.YARD:
                return self._yard(block, cell)
        return values.read_text(cell, meaning)

    def _figure(self, block: Block, meaning: Meaning, cell: Cell, setting: Setting) -> Understood:
        head = self._heads.get((block.number, meaning.name))
        unit = head.unit if head else ""
        if not unit or is_of_two_kinds(unit, self.system):
            unit = self.answers.get(f"unit|{block.number}|{meaning.name}", unit)
        if meaning.name == "positions":
            both = values.read_measured(cell, None, setting)
            if int(both.text) % 2 or not int(both.text):
                raise Unclear(f"“{cell_words(cell)}” pads are no two sides alike: give 2, 4, 6 …")
            return Understood(str(int(both.text) // 2), f"{int(both.text) // 2} on each side")
        if isinstance(cell, str) and _READS_TWO_WAYS.search(cell):
            answered = self.answers.get(f"commas|{block.number}|{meaning.name}")
            if answered is not None:
                cell = cell.replace(",", "" if answered == THOUSANDS else ".")
                return values.read_measured(
                    cell, meaning.field, replace(setting, unit=unit, decimals=Decimals.POINT)
                )
        near = self._hours_near(block, meaning) if meaning.name == "hours" else ()
        return values.read_measured(cell, meaning.field, replace(setting, unit=unit, near=near))

    def _hours_near(self, block: Block, meaning: Meaning) -> tuple[float, ...]:
        """Hours that meters showed last, by the records and by what reads one way in a column."""
        head = self._heads.get((block.number, meaning.name))
        words = map(cell_words, block.cells(head.place)) if head else ()
        certain = (
            each.replace(",", "") if _THOUSANDS_AND_POINT.fullmatch(each) else each
            for each in words
        )
        return (*self.known.hours, *(float(each) for each in certain if PLAIN.fullmatch(each)))

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
        if answered is None and meaning.field is not None and self._reads_two_ways(cell):
            self._doubt_commas(block, row, meaning, cell_words(cell))
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
        asks = asks or meaning.reads in (Reads.SOUND, Reads.UNSOUND) or isinstance(cell, Formula)
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
                known = tuple((str(kind), str(kind)) for kind in kinds)
                new = " ".join(cell_words(cell).split()).lower()
                return (*known, (f"=new:{new}", f"a new kind of the yard’s own, “{new}”"))
            case Reads.SOUND if values.says_sound(cell):
                return ((values.ALL, "every pad of the unit was looked at and is sound"),)
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

        Travel of about 200 is in millimetres, a listed pull of 60 in tons. So has a column of tons
        where the site is read in SI.
        """
        field = meaning.field
        head = self._heads.get((block.number, meaning.name))
        if field is None or field.quantity not in OFFERED_UNITS or head is None:
            return False
        if head.unit:
            is_answered = f"unit|{block.number}|{meaning.name}" in self.answers
            return not is_answered and is_of_two_kinds(head.unit, self.system)
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
        head = self._heads.get((block.number, meaning.name))
        why = (
            f"“{head.unit}” are short ones of 2,000 lb to some and tonnes to others"
            if head and head.unit
            else "Figures of this column name no unit, and most can’t be in "
            f"{meaning.field.quantity.symbol('us')}"
        )
        doubt = Doubt(
            f"unit|{block.number}|{meaning.name}",
            self._column_words(block, meaning),
            cell_words(cell),
            f"{why}: say which unit they are in",
            tuple((unit, unit) for unit in OFFERED_UNITS[meaning.field.quantity]),
        )
        self.out.doubts.add(doubt, block.sheet, row)

    def _reads_two_ways(self, cell: Cell) -> bool:
        return isinstance(cell, str) and _READS_TWO_WAYS.search(cell) is not None

    def _doubt_commas(self, block: Block, row: int, meaning: Meaning, given: str) -> None:
        """Ask once for a whole column what commas in it part off."""
        shown = given.strip()
        doubt = Doubt(
            f"commas|{block.number}|{meaning.name}",
            self._column_words(block, meaning),
            given,
            f"Figures of this column read two ways, such as “{shown[:24]}”: say what the comma "
            "parts off",
            (
                (THOUSANDS, f"thousands: this is {shown.replace(',', '')}"),
                ("decimals", f"decimals: this is {shown.replace(',', '.')}"),
            ),
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

    def _refuse_left(self, block: Block, row: int) -> None:
        if self.row_answers.get((block.number, row, "")) == LEAVE_ROW:
            raise RowLeft("left out, as answered")

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
