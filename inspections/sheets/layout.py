"""Where the tables stand in a sheet: titles above, totals below, headers again, notes between."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, time

from fleet.numbers import Decimals
from inspections.sheets.grid import Cell, Cells, Grid, cell_words, texts
from inspections.sheets.meanings import (
    BY_SORT,
    MANY,
    NEEDED,
    Reads,
    Sort,
    is_pad_column,
    mark_key,
    named,
    names_left_or_right,
    pad_of,
    pad_without_side,
    plain_words,
)
from inspections.sheets.units import unit_at_end
from inspections.sheets.values import CONDITIONS, CROSSES, SERIALS, days_of

# How far down a header is looked for, and how many names it has of the most that any row has.
HEADER_WITHIN = 60
HEADER_SHARE = 0.6
TOTALS = re.compile(r"(?:grand |sub ?)?(?:totals?|sum|summe|average|avg)\b.*", re.IGNORECASE)
SAMPLES = 200
WHOSE = ("unit", "housing", "hammer")


@dataclass
class Column:
    """A column as it stands: its place, what is written over it, and its unit there."""

    place: int
    header: str

    @property
    def unit(self) -> str:
        return unit_at_end(self.header)[1]

    @property
    def words(self) -> str:
        """What it is called on the page."""
        return self.header or f"column {letters(self.place)}, without a header"


@dataclass
class Block:
    """A table in a sheet: its columns and rows, each with its number in the sheet.

    left: rows that are no record, with why. shift: sheets and tables come in this order.
    """

    sheet: str
    number: int
    columns: list[Column]
    rows: list[tuple[int, Cells]] = field(default_factory=list)
    left: list[tuple[int, str, str]] = field(default_factory=list)
    decimals: Decimals = Decimals.EITHER
    counts_from_1904: bool = False
    note: str = ""

    @property
    def key(self) -> str:
        """What its columns are remembered by."""
        return "|".join(sorted(plain_words(column.header) for column in self.columns))

    def cells(self, place: int) -> Iterator[Cell]:
        """The filled cells of a column."""
        for _, row in self.rows:
            cell = row[place] if place < len(row) else None
            if cell is not None:
                yield cell


@dataclass(frozen=True)
class Guess:
    """What a table's rows and columns are taken for. by: how each column was recognized."""

    sort: Sort
    meanings: dict[int, str]
    by: dict[int, str]


def letters(place: int) -> str:
    """Return what a spreadsheet calls a column, the first being A."""
    name = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def blocks_of(grids: Iterable[Grid]) -> list[Block]:
    """Return every table of every sheet; one without a header that we know is one too."""
    blocks: list[Block] = []
    for grid in (part for whole in grids for part in _side_by_side(whole)):
        for block in _blocks(grid):
            block.number = len(blocks)
            blocks.append(block)
    return blocks


def _side_by_side(grid: Grid) -> list[Grid]:
    """Return tables that stand beside each other as sheets of their own, else the sheet.

    Tables are beside each other where blank columns part the same header, given again. One that
    has no column of units but bears a title of its own, as the mark of a unit over it, gets that
    title as its units: so nothing of it is taken for the unit beside it.
    """
    for place, row in enumerate(grid.rows[:HEADER_WITHIN]):
        if _has_values(row) or _score(row) < 2:
            continue
        spans = _spans(grid.rows[place:])
        heads = [[plain_words(cell_words(cell)) for cell in row[a:b]] for a, b in spans]
        if len(spans) < 2 or any(head != heads[0] or len(head) < 2 for head in heads):
            return [grid]
        return [_part(grid, place, span) for span in spans]
    return [grid]


def _spans(rows: Sequence[Cells]) -> list[tuple[int, int]]:
    """Return where columns stand that blank ones part from each other."""
    width = max((len(row) for row in rows), default=0)
    filled = [any(p < len(row) and row[p] is not None for row in rows) for p in range(width)]
    spans: list[tuple[int, int]] = []
    for place, is_filled in enumerate(filled):
        if is_filled and spans and spans[-1][1] == place:
            spans[-1] = (spans[-1][0], place + 1)
        elif is_filled:
            spans.append((place, place + 1))
    return spans


def _part(grid: Grid, header: int, span: tuple[int, int]) -> Grid:
    first, end = span
    rows = [
        [cell if first <= place < end else None for place, cell in enumerate(row)]
        for row in grid.rows
    ]
    heads = [cell_words(cell) for cell in rows[header] if cell is not None]
    names_unit = any(named(Sort.INSPECTIONS, head) in WHOSE for head in heads)
    titles = [text for row in rows[:header] for text in texts(row)]
    others = {
        text
        for row in grid.rows[:header]
        for place, cell in enumerate(row)
        if cell is not None and not first <= place < end
        for text in [cell_words(cell)]
    }
    own = [title for title in titles if title not in others]
    if not names_unit and len(own) == 1:
        spare = first - 1 if first else end
        for number, row in enumerate(rows[header:]):
            row += [None] * (spare + 1 - len(row))
            if number == 0 or any(cell is not None for cell in row):
                row[spare] = own[0] if number else "Unit"
    return replace(
        grid, name=f"{grid.name}, columns {letters(first)} to {letters(end - 1)}", rows=rows
    )


def _blocks(grid: Grid) -> Iterator[Block]:
    place, columns, above = _header(grid)
    block = _block(grid, columns)
    headers = [plain_words(column.header) for column in columns]
    block.left += [(number, _row_words(row), "above the table") for number, row in above]
    known = sum(1 for each in headers if each)
    for number, row in enumerate(grid.rows[place:], start=place + 1):
        if not any(cell is not None for cell in row):
            continue
        words = [plain_words(cell_words(cell)) for cell in row]
        again = sum(
            1 for mine, theirs in zip(words, headers, strict=False) if mine and mine == theirs
        )
        if known and again >= max(2, known // 2):
            block.left.append((number, _row_words(row), "the header again"))
        elif block.rows and not _has_values(row) and _score(row) >= 3:
            yield block
            columns = _columns(row)
            headers = [plain_words(column.header) for column in columns]
            known = sum(1 for each in headers if each)
            block = _block(grid, columns, f"{grid.name}, from row {number}")
        elif len(set(words) - {""}) == 1 and len(columns) > 2:
            why = "totals" if TOTALS.fullmatch(next(texts(row))) else "a note"
            block.left.append((number, _row_words(row), why))
        elif TOTALS.fullmatch(next(texts(row))):
            block.left.append((number, _row_words(row), "totals"))
        else:
            block.rows.append((number, row))
    yield block


def _block(grid: Grid, columns: list[Column], name: str = "") -> Block:
    return Block(
        name or grid.name,
        0,
        columns,
        decimals=grid.decimals,
        counts_from_1904=grid.counts_from_1904,
        note=grid.note,
    )


def _row_words(row: Cells) -> str:
    return " · ".join(dict.fromkeys(texts(row)))[:120]


def _header(grid: Grid) -> tuple[int, list[Column], list[tuple[int, Cells]]]:
    """Return where the rows begin, the columns, and what stands above the header.

    The header is the row, or two rows of which the upper names groups, that names most columns;
    where none names two, the table has no header.
    """
    filled = [place for place, row in enumerate(grid.rows) if any(c is not None for c in row)]
    likely = {place: _named_from(grid, place) for place in filled[:HEADER_WITHIN]}
    most = max((score for score, _ in likely.values()), default=0)
    enough = max(2, HEADER_SHARE * most)
    best = next((place for place, (score, _) in likely.items() if score >= enough), -1)
    rows_taken = likely[best][1] if best >= 0 else 0
    if best < 0:
        width = max((len(row) for row in grid.rows), default=0)
        return 0, [Column(place, "") for place in range(width)], []
    row = grid.rows[best]
    header = row if rows_taken == 1 else _grouped(row, grid.rows[best + 1])
    width = max(len(each) for each in grid.rows[best:])
    columns = _columns([*header, *[None] * (width - len(header))])
    above = [(place + 1, grid.rows[place]) for place in filled if place < best]
    return best + rows_taken, columns, above


def _named_from(grid: Grid, place: int) -> tuple[int, int]:
    """Return how many columns a header that begins in a row would name, and its rows."""
    row = grid.rows[place]
    if _has_values(row):
        return 0, 1
    alone = _score(row)
    if place + 1 < len(grid.rows):
        below = grid.rows[place + 1]
        both = _grouped(row, below)
        score = _score(both) if both else 0
        # A title above a header groups nothing.
        if score > max(alone, 0 if _has_values(below) else _score(below)):
            return score, 2
    return alone, 1


def _columns(row: Cells) -> list[Column]:
    return [Column(place, cell_words(cell).strip()[:80]) for place, cell in enumerate(row)]


def _grouped(upper: Cells, lower: Cells) -> Cells:
    """Return two rows of a header as one, [] where they are none: Side A over 1, 2, 3.

    A merged cell stands in every cell it covers; where it was not merged, a group goes on until
    the next.
    """
    width = max(len(upper), len(lower))
    tops = [*upper, *[None] * (width - len(upper))]
    subs = [*lower, *[None] * (width - len(lower))]
    if not any(isinstance(cell, str) for cell in tops) or any(
        isinstance(cell, datetime | time) or (isinstance(cell, float) and cell != int(cell))
        for cell in subs
    ):
        return []
    header: Cells = []
    group = ""
    for top, sub in zip(tops, subs, strict=True):
        group = cell_words(top) if top is not None else group
        low = cell_words(sub)
        if top is not None and (not low or low == group):
            header.append(group)
        else:
            belongs = (low and top is not None) or low.isdigit()
            header.append(_under(group, low) if belongs else low or None)
    return header


def _under(group: str, low: str) -> str:
    """Return what a column is called below its group; where the group says nothing, without."""
    both = f"{group} {low}".strip()
    names = any(named(sort, both) for sort in BY_SORT)
    return both if names or not any(named(sort, low) for sort in BY_SORT) else low


def _score(row: Sequence[Cell]) -> int:
    """How many columns a row would name, in the sort of sheet it names most of."""
    heads = [cell_words(cell) for cell in row if cell is not None]
    return max(
        len({name for name in (named(sort, head) for head in heads) if name}) for sort in BY_SORT
    ) + sum(1 for head in heads if pad_without_side(head))


def _has_values(row: Cells) -> bool:
    """Whether a row holds days or figures, which no header does."""
    return any(
        isinstance(cell, int | float | datetime | time)
        or (isinstance(cell, str) and (days_of(cell)[0] or re.fullmatch(r"[\d.,]+", cell)))
        for cell in row
    )


def guess(block: Block, marks: frozenset[str], yards: frozenset[str]) -> Guess:
    """Return what a table is taken for by its headers, then by what stands in its columns.

    marks: keys of machines on record. yards: names of yards in plain words.
    """
    found = {sort: _by_header(block, sort) for sort in BY_SORT if sort is not Sort.LEAVE}
    whole: dict[Sort, Guess] = {
        sort: _with_content(block, sort, named, marks, yards) for sort, named in found.items()
    }
    likely = [sort for sort in whole if _has_needed(sort, whole[sort].meanings)]
    if not likely or not block.rows:
        return Guess(Sort.LEAVE, {}, {})

    def how_well(sort: Sort) -> tuple[int, int]:
        meanings = whole[sort].meanings
        # Both fit where only a mark and a day stand: pads fitted want a lot, shelves no unit.
        return (len({*meanings.values()}), -list(Sort).index(sort))

    return whole[max(likely, key=how_well)]


def _has_needed(sort: Sort, meanings: dict[int, str]) -> bool:
    given = set(meanings.values())
    if sort is Sort.INSPECTIONS:
        seen = given - {"unit", "housing", "hammer", "day", "time", "yard", "inspector", "kind"}
        seen -= {"lot", "position", "side", "number"}
        if not seen or (seen == {"note"} and "lot" in given):
            return False
    if sort is Sort.FLEET and ("day" in given or len(given) < 2):
        return False
    return all(given & set(each) for each in NEEDED[sort])


def guess_as(block: Block, sort: Sort, marks: frozenset[str], yards: frozenset[str]) -> Guess:
    """Return what its columns are taken for where somebody said what its rows tell of."""
    if sort is Sort.LEAVE:
        return Guess(sort, {}, {})
    return _with_content(block, sort, _by_header(block, sort), marks, yards)


def _by_header(block: Block, sort: Sort) -> dict[int, str]:
    meanings: dict[int, str] = {}
    taken: set[str] = set()
    for column in block.columns:
        name = named(sort, column.header) if column.header else ""
        # A pad nobody wrote anything of is blank beside the others, which tells of crosses.
        is_used = is_pad_column(name) or any(True for _ in block.cells(column.place))
        if name and (name not in taken or name in MANY) and is_used:
            meanings[column.place] = name
            taken.add(name)
    if sort is Sort.INSPECTIONS:
        _add_pads_without_side(block, meanings)
    return meanings


def _add_pads_without_side(block: Block, meanings: dict[int, str]) -> None:
    """Take Pad 1 to Pad 8 for A1 to A4 and B1 to B4: the first half stands on side A."""
    numbers = {
        column.place: number
        for column in block.columns
        if column.place not in meanings and (number := pad_without_side(column.header))
    }
    most = max(numbers.values(), default=0)
    if most % 2 or sorted(numbers.values()) != list(range(1, most + 1)):
        return
    half = most // 2
    for place, number in numbers.items():
        side, on_side = ("A", number) if number <= half else ("B", number - half)
        meanings[place] = f"pad:{side}:{on_side}"


def _with_content(
    block: Block,
    sort: Sort,
    by_header: dict[int, str],
    marks: frozenset[str],
    yards: frozenset[str],
) -> Guess:
    meanings = dict(by_header)
    by = {place: _how(block, sort, place, name) for place, name in by_header.items()}
    for column in block.columns:
        if column.place in meanings:
            continue
        looks = _looks_like([*block.cells(column.place)][:SAMPLES], marks, yards)
        given = set(meanings.values())
        has_pads = any(is_pad_column(name) for name in given)
        for reads in looks:
            name = _free_meaning(sort, reads, given, has_pads=has_pads)
            if name:
                meanings[column.place], by[column.place] = name, "by what stands in it"
                break
    return Guess(sort, meanings, by)


def _how(block: Block, sort: Sort, place: int, name: str) -> str:
    header = block.columns[place].header
    if is_pad_column(name) and not named(sort, header):
        return "a guess: the first half taken for side A"
    if is_pad_column(name) and names_left_or_right(header):
        return "by its header; left taken for side A"
    return "by its header"


def _free_meaning(sort: Sort, reads: Reads, given: set[str], *, has_pads: bool) -> str:
    if reads is Reads.MARK and (told := given & {"unit", "housing", "hammer"}):
        # Beside a column of hammers another of marks is of housings, and the other way.
        name = {"hammer": "housing", "housing": "hammer"}.get("".join(told), "")
        return name if name in BY_SORT[sort] else ""
    if reads is Reads.CONDITION and (has_pads or sort is not Sort.INSPECTIONS):
        return ""
    names = {Reads.MARK: "unit" if sort is not Sort.FLEET else "hammer", Reads.DAY: "day"}
    names |= {Reads.CONDITION: "condition", Reads.YARD: "yard", Reads.POSITION: "position"}
    name = names.get(reads, "")
    return name if name in BY_SORT[sort] and name not in given else ""


def _looks_like(
    cells: Sequence[Cell], marks: frozenset[str], yards: frozenset[str]
) -> Iterator[Reads]:
    if not cells:
        return
    found: Counter[Reads] = Counter()
    for cell in cells:
        words = cell_words(cell)
        plain = plain_words(words)
        if isinstance(cell, datetime) or days_of(words)[0]:
            found[Reads.DAY] += 1
        if isinstance(cell, int) and cell in SERIALS:
            found[Reads.DAY] += 1
        if mark_key(words) in marks:
            found[Reads.MARK] += 1
        if pad_of(words):
            found[Reads.POSITION] += 1
        if plain and plain.removesuffix(" yard") in yards:
            found[Reads.YARD] += 1
        if plain in CONDITIONS or words.lower() in CONDITIONS or words.lower() in CROSSES:
            found[Reads.CONDITION] += 1
    for reads, often in found.most_common():
        if often >= max(1, 0.7 * len(cells)):
            yield reads
