"""Rows of what was seen of units and fitted to them, gathered by visit for the register."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from typing import TypeVar

from fleet.models.housing import Condition, Side
from inspections.models import InspectionKind
from inspections.sheets import values
from inspections.sheets.cell_reader import MOST_CHOICES, CellReader, Left, RowLeft
from inspections.sheets.doubts import CELL, LEAVE_CELL, ROW, Choices, Doubt
from inspections.sheets.grid import Cell, Cells, cell_words
from inspections.sheets.layout import Block
from inspections.sheets.meanings import (
    BY_SORT,
    Sort,
    is_pad_column,
    pad_of,
)
from inspections.sheets.values import UNSOUND_EXAMPLE, Unclear

# What an inspection may say beside who, when and where.
SEEN = {"kind", "travel_in", "travel_reason", "hours", "sound", "unsound", "condition"}
SEEN |= {"weather", "note"}
FIGURES = ("travel_in", "travel_reason", "hours", "weather", "sound_again_reason")


T = TypeVar("T")


@dataclass
class Waits:
    """Reads parts of a row one by one, so that what is in doubt in all of them is asked at once."""

    is_in_doubt: bool = False

    def read(self, part: Callable[[], T], otherwise: T) -> T:
        """Return what a part of the row says, otherwise where it is in doubt.

        Raises RowLeft where the row is left out.
        """
        try:
            return part()
        except RowLeft as left:
            if str(left):
                raise
            self.is_in_doubt = True
            return otherwise


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
    places: set[tuple[int, int]] = field(default_factory=set)
    is_all_sound: bool = False

    @property
    def words(self) -> str:
        return f"{self.housing} on {self.at:%Y-%m-%d %H:%M}"


class VisitRows(CellReader):
    """Reads rows of inspections and of pads fitted."""

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
        left_out: set[tuple[int, int]] = set()
        self._add_kinds(visits.values())
        for visit in visits.values():
            try:
                self._sign(visit)
            except RowLeft as left:
                left_out |= visit.places
                if str(left):
                    block = self.blocks[visit.table]
                    self.out.left.append(Left(block.sheet, visit.row, visit.words, str(left)))
        self._hang_as_answered(left_out)

    def _add_kinds(self, visits: Iterable[Visit]) -> None:
        """Add the kinds of the yard's own that were answered to be new, each once."""
        known = {*InspectionKind.values, *self.known.own_kinds}
        for visit in visits:
            if visit.kind not in known:
                known.add(visit.kind)
                self._line("kinds", visit.table, visit.row, {"name": visit.kind})

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
        if self._is_of_hours_alone(block, row, cells):
            self._read_meter(block, row, cells)
            return
        housing, at = self._who_and_when(block, row, cells)
        waits = Waits()
        if self._named(block, row, cells)[0] == "housing":
            waits.read(lambda: self._look_whether_together(block, row, cells, housing, at), None)
        is_together = not waits.is_in_doubt
        kind = waits.read(lambda: said("kind"), "") or self.readings[block.number].kind
        figures = {name: waits.read(partial(said, name), "") for name in FIGURES}
        if figures["hours"] and is_together:
            has_meter = waits.read(lambda: self._has_meter(block, row, housing, at), False)
            figures["hours"] = figures["hours"] if has_meter else ""
        no_pads: dict[tuple[str, int], str] = {}
        pads = waits.read(lambda: self._pads_of(block, row, cells, housing), no_pads)
        lot = waits.read(lambda: said("lot"), "").partition(":")[2]
        is_all_sound, pads, words = waits.read(
            lambda: self._whole_count(block, row, cells, housing, pads), (False, pads, "")
        )
        notes = waits.read(lambda: self._notes(block, row, cells), "")
        if waits.is_in_doubt:
            raise RowLeft
        if not (any(figures.values()) or pads or is_all_sound or said("note") or words):
            raise RowLeft("names a unit and a day, but nothing that was seen")
        key = (housing, at, kind)
        visit = visits.get(key)
        if visit is None:
            visit = visits[key] = Visit(housing, at, kind, block.number, row)
        visit.rows.append(row)
        visit.places.add((block.number, row))
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

    def _is_of_hours_alone(self, block: Block, row: int, cells: Cells) -> bool:
        """Whether a row says what a meter showed and nothing else: it is no inspection then."""
        meanings = self.readings[block.number].meanings.values()
        seen = [name for name in meanings if name in SEEN or is_pad_column(name)]
        given = [name for name in seen if self._given(block, row, cells, name) is not None]
        return given == ["hours"]

    def _read_meter(self, block: Block, row: int, cells: Cells) -> None:
        sort, mark, at = self._named(block, row, cells)
        hammer = mark if sort == "hammer" else self.known.hammer_at(mark, at)
        if not hammer:
            hangings = self._hangings([mark], self.known.all_marks("hammer"), at)
            hammer = self._ask(
                f"whose meter|{mark}",
                block,
                row,
                column="the unit",
                given=mark,
                words=f"Housing {mark} hung on no hammer on record on {at:%-d %b %Y}: say whose "
                "meter it was, or what it hung on",
                choices=(
                    *_words_of(hangings),
                    *((held, f"hammer {held}") for held in self.known.all_marks("hammer")),
                    ROW,
                ),
            )
            if hammer in hangings:
                hammer = self._hung_from_then(hangings[hammer], block, row, at)[1]
        hours = self._value(block, row, cells, "hours")
        line = {"hammer": hammer, "hours": hours, "read_at": at.isoformat()}
        self._line("hour_readings", block.number, row, line)

    def _named(self, block: Block, row: int, cells: Cells) -> tuple[str, str, datetime]:
        """Return what a row names, housing or hammer, its mark, and when."""
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
        return sort, mark, at

    def _who_and_when(self, block: Block, row: int, cells: Cells) -> tuple[str, datetime]:
        """Return the housing a row is of, and when."""
        sort, mark, at = self._named(block, row, cells)
        if sort == "housing":
            return mark, at
        housing = self.known.housing_at(mark, at)
        if not housing:
            housings = self.known.all_marks("housing")
            hangings = self._hangings(housings, [mark], at)
            housing = self._ask(
                f"hung|{mark}",
                block,
                row,
                column="the unit",
                given=mark,
                words=f"Hammer {mark} hung under no housing on record on {at:%-d %b %Y}: say "
                "which housing it was, and whether it hung there from then on",
                choices=(
                    *_words_of(hangings),
                    *((held, f"housing {held}") for held in housings),
                    ROW,
                ),
            )
            if housing in hangings:
                housing = self._hung_from_then(hangings[housing], block, row, at)[0]
        return housing, at

    def _look_whether_together(
        self, block: Block, row: int, cells: Cells, housing: str, at: datetime
    ) -> None:
        """Ask about a row that names a housing and a hammer that don't hang together on record."""
        if self._given(block, row, cells, "hammer") is None:
            return
        hammer = self._value(block, row, cells, "hammer").partition(":")[2]
        on_record = self.known.hammer_at(housing, at)
        if not hammer or hammer == on_record:
            return
        hangings = self._hangings([housing], [hammer], at)
        there = f"hammer {on_record}" if on_record else "no hammer"
        answered = self._ask(
            f"apart|{housing}|{hammer}",
            block,
            row,
            column="the unit",
            given=f"{housing} on {hammer}",
            words=f"On record {housing} hung on {there} on {at:%-d %b %Y}, and not on {hammer}: "
            "say which is right",
            choices=(
                *_words_of(hangings),
                ("record", f"as on record, {housing} on {there}: leave {hammer} out"),
                ROW,
            ),
        )
        if answered in hangings:
            self._hung_from_then(hangings[answered], block, row, at)

    def _has_meter(self, block: Block, row: int, housing: str, at: datetime) -> bool:
        """Whether the hours of a row have a meter; asked about where its housing hung on nothing.

        So that what the register would refuse is answered where it stands.
        """
        if self.known.hammer_at(housing, at):
            return True
        for pair, told in self.hung.items():
            if pair[0] == housing and any(moment <= at for moment, *_ in told):
                # It rests on it as well: the row that told it first may be left out yet.
                self._hung_from_then(pair, block, row, at)
                return True
        hangings = self._hangings([housing], self.known.all_marks("hammer"), at)
        answered = self._ask(
            f"no meter|{housing}",
            block,
            row,
            column="hour meter",
            given=housing,
            words=f"Housing {housing} hung on no hammer on record on {at:%-d %b %Y}, so there is "
            "no meter: say what it hung on, or leave the hours out",
            choices=(*_words_of(hangings), CELL, ROW),
        )
        if answered == LEAVE_CELL:
            return False
        self._hung_from_then(hangings[answered], block, row, at)
        return True

    def _hangings(
        self, housings: list[str], hammers: list[str], at: datetime
    ) -> dict[str, tuple[str, str]]:
        """Return what may be recorded to hang together from a moment on, by how it is answered.

        No more than are offered of marks anywhere.
        """
        pairs = [(housing, hammer) for housing in housings for hammer in hammers]
        found = [pair for pair in pairs if self.known.can_hang(*pair, at)][:MOST_CHOICES]
        return {f"hung:{housing}:{hammer}": (housing, hammer) for housing, hammer in found}

    def _hung_from_then(
        self, pair: tuple[str, str], block: Block, row: int, at: datetime
    ) -> tuple[str, str]:
        """Note that a housing hung on a hammer from a row's time on."""
        self.hung[pair] = (*self.hung.get(pair, ()), (at, block.number, row))
        return pair

    def _hang_as_answered(self, left_out: set[tuple[int, int]]) -> None:
        """Hang what rows say hung together, from the first that is taken on.

        left_out: rows, by table and number, of which nothing is taken.
        """
        for (housing, hammer), told in self.hung.items():
            taken = [each for each in told if each[1:] not in left_out]
            if not taken:
                continue
            at, block, row = min(taken)
            line = {"housing": housing, "hammer": hammer, "at": at.isoformat()}
            self._line("mountings", block, row, line)

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
        unsound = self._value(block, row, cells, "unsound")
        if counted:
            return self._counted(block, row, cells, counted, total, pads, unsound)
        if unsound:
            return False, self._with_unsound(block, row, housing, pads, unsound), ""
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
        unsound: str,
    ) -> tuple[bool, dict[tuple[str, int], str], str]:
        """The same of a row that counts its sound pads. unsound: those it names, "" for none."""
        given = cell_words(self._given(block, row, cells, "sound"))
        if counted.startswith("letters:"):
            each = counted.removeprefix("letters:")
            return False, pads or self._lettered(block, row, given, each, total), ""
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
        if sound == total and unsound:
            self._ask(
                f"sum|{block.number}|{row}",
                block,
                row,
                column="how many pads are sound",
                given=given,
                words=f"The row counts every pad sound and names {unsound}: say which is right",
                choices=(("pads", f"{unsound}, and the others sound"), ROW),
            )
            named = values.read_unsound(unsound)
            return (
                False,
                self._named_pads(block, row, given, unsound, total, total - len(named)),
                "",
            )
        if sound == total:
            return True, {}, ""
        key = f"which|{block.number}|{row}"
        if unsound and key not in self.answers:
            return False, self._named_pads(block, row, given, unsound, total, sound), ""
        answered = self._ask(
            key,
            block,
            row,
            column="how many pads are sound",
            given=given,
            words=f"{sound} of {total} pads are sound, and a number has no positions: say which "
            "were not and what was wrong, or leave the number out",
            choices=(("note", "no count: keep it as a note"), ROW),
            asks=True,
            example=UNSOUND_EXAMPLE,
        )
        if answered in ("note", LEAVE_CELL):
            which = f"named {unsound}" if unsound else "not said which"
            return False, {}, f"{sound} of {total} pads sound, {which}."
        return False, self._named_pads(block, row, given, answered, total, sound), ""

    def _with_unsound(
        self,
        block: Block,
        row: int,
        housing: str,
        pads: dict[tuple[str, int], str],
        unsound: str,
    ) -> dict[tuple[str, int], str]:
        """Return the pads of a row with those it names as unsound; asks where they differ."""
        named = values.read_unsound(unsound)
        per_side = self.known.positions.get(housing, 0)
        for side, number in sorted(named):
            if number > per_side:
                answered = self._ask(
                    f"no such pad|{housing}|{side}{number}",
                    block,
                    row,
                    column="the pads that were not sound",
                    given=unsound,
                    words=f"Housing {housing} has {per_side} positions on each side, so there is "
                    f"no pad {side}{number}: say whether to leave it out",
                    choices=(CELL, ROW),
                )
                if answered == LEAVE_CELL:
                    del named[side, number]
        differing = {pad for pad in named if pads.get(pad, named[pad]) != named[pad]}
        if differing:
            marked = values.named_pads_words({pad: pads[pad] for pad in differing})
            answered = self._ask(
                f"both|{block.number}|{row}",
                block,
                row,
                column="the pads that were not sound",
                given=unsound,
                words=f"The row names {unsound} and marks {marked}: say which is right",
                choices=(("named", f"named: {unsound}"), ("marked", f"marked: {marked}"), ROW),
            )
            if answered == "marked":
                return named | pads
        return pads | named

    def _lettered(
        self, block: Block, row: int, given: str, each: str, total: int
    ) -> dict[tuple[str, int], str]:
        """Return a whole count from a letter for each pad, {} where it is left out."""
        if len(each) != total:
            self._ask(
                f"total|{block.number}|{row}",
                block,
                row,
                column="pads",
                given=given,
                words=f"These are {len(each)} letters, and this unit’s housing has {total} pads: "
                "leave them out, or the row",
                choices=(CELL, ROW),
            )
            return {}
        half = total // 2
        answered = self._ask(
            "order of letters",
            block,
            row,
            column="pads",
            given=given,
            words="A letter stands for a pad here: say which is the first",
            choices=(
                ("A", f"A1 to A{half}, then B1 to B{half}"),
                ("B", f"B1 to B{half}, then A1 to A{half}"),
                CELL,
            ),
        )
        if answered == LEAVE_CELL:
            return {}
        sides = (Side.A, Side.B) if answered == "A" else (Side.B, Side.A)
        places = [(side.value, number) for side in sides for number in range(1, half + 1)]
        conditions = {letter: self._letter(block, row, given, letter) for letter in set(each)}
        return {place: conditions[letter] for place, letter in zip(places, each, strict=True)}

    def _letter(self, block: Block, row: int, given: str, letter: str) -> str:
        known = values.PAD_LETTERS.get(letter)
        return (
            str(known)
            if known
            else self._ask(
                f"letter|{letter}",
                block,
                row,
                column="pads",
                given=letter,
                words=f"“{letter}”, as in {given}, stands for a pad: say what was wrong with it",
                choices=(*((str(each), str(each)) for each in Condition.values), ROW),
            )
        )

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
        try:
            named = values.read_unsound(answered)
        except Unclear as unclear:
            trouble = str(unclear)
        for side, number in named.keys() - pads.keys():
            trouble = f"{side}{number} is no pad of this housing"
        unsound = [each for each in named.values() if each != Condition.SOUND]
        if not trouble and len(unsound) != total - sound:
            trouble = f"that names {len(unsound)} pads, and {total - sound} were not sound"
        if trouble:
            doubt = Doubt(
                f"which|{block.number}|{row}",
                "how many pads are sound",
                given,
                trouble
                if UNSOUND_EXAMPLE in trouble
                else f"{trouble}: give them such as {UNSOUND_EXAMPLE}",
                (("note", "no count: keep it as a note"), ROW),
                asks=True,
                example=UNSOUND_EXAMPLE,
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


def _words_of(hangings: dict[str, tuple[str, str]]) -> Choices:
    return tuple(
        (answer, f"{housing} hung on {hammer} from then")
        for answer, (housing, hammer) in hangings.items()
    )


def _carried(reader: CellReader, block: Block) -> Block:
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
