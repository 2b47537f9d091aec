"""A sheet rehearsed: its rows tried by the site's own recording functions, and nothing kept."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import asdict, dataclass
from typing import Any

from django.contrib.auth.models import User
from django.utils import timezone

from fleet.aside import on_a_copy
from fleet.context import system_of_person
from fleet.models import Mounting
from inspections.exchange.acts import KNOWN, NEW
from inspections.exchange.incoming import REFUSED, Fate, Trial, try_register
from inspections.exchange.moves import Figures, Moved, in_rank
from inspections.exchange.rows import Row, parsed
from inspections.exchange.taken import take_and_keep
from inspections.models import Inspection, SheetDraft
from inspections.schedule.kinds import kind_named
from inspections.sheets.cell_reader import Answer, TableReading, Understanding
from inspections.sheets.doubts import CELL, ROW, Doubt, row_words
from inspections.sheets.grid import unpacked
from inspections.sheets.layout import Block, Guess, blocks_of, guess, guess_as
from inspections.sheets.meanings import BY_SORT, Reads, Sort
from inspections.sheets.understanding import Reader
from inspections.sheets.yard_knowledge import Knowledge, known_now

HOLDS = {
    "yards": "yards",
    "hammers": "hammers",
    "housings": "housings",
    "lots": "lots",
    "kinds": "kinds of inspection",
    "mountings": "housings hung on hammers",
    "listings": "listed pulls",
    "shelf_counts": "counts of shelves",
    "counts": "inspections",
    "hour_readings": "readings of hour meters",
    "replacements": "replacements of pads",
}
HOLDS_ONE = {
    "yards": "yard",
    "hammers": "hammer",
    "housings": "housing",
    "lots": "lot",
    "kinds": "kind of inspection",
    "mountings": "housing hung on a hammer",
    "listings": "listed pull",
    "shelf_counts": "count of a shelf",
    "counts": "inspection",
    "hour_readings": "reading of an hour meter",
    "replacements": "replacement of pads",
}
# What the register calls otherwise than a column of a sheet.
RENAMED = {
    "seen_at": "day",
    "fitted_at": "day",
    "counted_at": "day",
    "read_at": "day",
    "at": "mounted",
    "mark": "",
}
PART_LINE = re.compile(r"\b[a-z_]+ line (\d+), ")
FIELD = re.compile(r"^(?:row \d+, )?([a-z_]+)(?:: | is “| is blank)")
# Of which a page shows so many; the rest come once these are answered.
MOST_OTHERWISE, MOST_DOUBTS, MOST_LEFT = 50, 200, 300


@dataclass
class Sheets:
    """A draft as it stands: its tables, what each is taken for, and what all come to."""

    draft: SheetDraft
    blocks: list[Block]
    guesses: dict[int, Guess]
    readings: dict[int, TableReading]
    known: Knowledge
    reader: Reader

    def understood(self) -> Understanding:
        """Return what the tables come to."""
        return self.reader.read()


def opened(draft: SheetDraft, remembered: dict[tuple[str, str], str]) -> Sheets:
    """Return a draft's tables, read as confirmed, else as remembered, else as guessed.

    remembered: meanings by place and word.
    """
    blocks = blocks_of(unpacked(bytes(draft.cells)))
    known = known_now()
    marks, yards = known.machine_keys, known.yard_words
    guesses: dict[int, Guess] = {}
    readings: dict[int, TableReading] = {}
    for block in blocks:
        kept = draft.readings.get(str(block.number))
        if kept is not None:
            sort = Sort(kept["sort"])
            guesses[block.number] = guess_as(block, sort, marks, yards)
            meanings = {int(place): name for place, name in kept["meanings"].items()}
            readings[block.number] = TableReading(sort, meanings, kept["kind"])
            continue
        found = _as_remembered(block, remembered, guess(block, marks, yards), marks, yards)
        guesses[block.number] = found
        kind = remembered.get(("kind", block.key[:400]), TableReading.kind)
        readings[block.number] = TableReading(found.sort, dict(found.meanings), kind)
    answers = {
        key: Answer(
            each["value"], tuple((t, r) for t, r in each.get("rows", [])), each.get("field", "")
        )
        for key, each in draft.answers.items()
    }
    yard = draft.yard.name if draft.yard else ""
    reader = Reader(
        blocks,
        readings,
        answers,
        known,
        yard=yard,
        file=draft.name,
        now=timezone.now(),
        system=system_of_person(draft.owner),
    )
    return Sheets(draft, blocks, guesses, readings, known, reader)


def _as_remembered(
    block: Block,
    remembered: dict[tuple[str, str], str],
    found: Guess,
    marks: frozenset[str],
    yards: frozenset[str],
) -> Guess:
    """Return what is guessed, in place of it what the yard confirmed of such columns before."""
    sort = remembered.get(("sort", block.key[:400]))
    if sort is not None:
        found = guess_as(block, Sort(sort), marks, yards)
    meanings, by = dict(found.meanings), dict(found.by)
    for column in block.columns:
        name = remembered.get((f"column {found.sort}", column.header.lower()[:400]))
        if name is None or not column.header:
            continue
        by[column.place] = "as confirmed before"
        meanings.pop(column.place, None)
        if name in BY_SORT[found.sort]:
            for place in [place for place, held in meanings.items() if held == name]:
                if name != "note":
                    del meanings[place]
            meanings[column.place] = name
    return Guess(found.sort, meanings, by)


def rows_of(understood: Understanding) -> list[Row]:
    """Return the register's rows that a sheet comes to."""
    rows = parsed(understood.lines)
    for row in rows:
        row.keeps_lots = row.values.get("count") in understood.keeps_lots
    return rows


def fingerprint(understood: Understanding) -> str:
    """Return a name of what would be taken, so that only what was rehearsed is taken."""
    text = json.dumps(understood.lines, ensure_ascii=False, default=str)
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()


def rehearse(sheets: Sheets, by: User) -> dict[str, Any]:
    """Try every row and return what became of it, as a draft keeps it. Nothing is recorded.

    With it go the doubts, so that their page need not read the whole sheet again.
    """
    understood = sheets.understood()
    rows = rows_of(understood)
    trial = _tried(rows, by)
    doubts = [*understood.doubts, *_refusal_doubts(trial, understood, sheets)]
    unknown = [
        [block.sheet, len(block.rows)]
        for block in sheets.blocks
        if sheets.readings[block.number].sort is Sort.LEAVE
    ]
    return {
        "fingerprint": fingerprint(understood),
        "news": trial.count(NEW),
        "known": trial.count(KNOWN),
        "tables": _counts(trial),
        "doubts": [asdict(doubt) for doubt in doubts[:MOST_DOUBTS]],
        "doubt_count": len(doubts),
        "moves": [asdict(each) for each in trial.moves],
        "otherwise": _on_record_otherwise(trial, rows, understood),
        "left": [asdict(each) for each in understood.left[:MOST_LEFT]],
        "left_count": len(understood.left),
        "unknown": unknown,
    }


def _tried(rows: list[Row], by: User) -> Trial:
    with on_a_copy():
        parts = [try_register(part, by) for part in _apart(rows)]
    moves = in_rank(move for part in parts for move in part.moves)
    return Trial(tuple(fate for part in parts for fate in part.fates), tuple(moves))


def moves_kept(rehearsal: dict[str, Any]) -> list[Moved]:
    """Return the units that a rehearsal moved, as a draft keeps them."""
    return [
        Moved(
            each["housing"],
            each["hammer"],
            Figures(**each["before"]),
            Figures(**each["after"]),
        )
        for each in rehearsal.get("moves", [])
    ]


def doubts_kept(rehearsal: dict[str, Any]) -> list[Doubt]:
    """Return the doubts of a rehearsal as a draft keeps them."""
    return [Doubt(**each) for each in rehearsal.get("doubts", [])]


def _apart(rows: list[Row]) -> list[list[Row]]:
    """Return inspections by units that never shared a hammer, which concern each other in nothing.

    A part is tried in one transaction, so that others can record between two. Where anything
    else is among the rows all are one part.
    """
    if any(row.table not in ("counts", "hour_readings") or row.faults for row in rows):
        return [rows]
    part_of: dict[str, str] = {}

    def first(name: str) -> str:
        while part_of.setdefault(name, name) != name:
            name = part_of[name]
        return name

    for housing, hammer in Mounting.objects.values_list("housing__mark", "hammer__mark"):
        part_of[first(f"housing {housing}")] = first(f"hammer {hammer}")
    parts: dict[str, list[Row]] = {}
    for row in rows:
        whose = "housing" if row.table == "counts" else "hammer"
        parts.setdefault(first(f"{whose} {row.values[whose]}"), []).append(row)
    return list(parts.values())


def take(understood: Understanding, by: User, name: str) -> int:
    """Record every row, in one transaction, and return how many are new. Raises Refused.

    name: of the sheet, under which is kept what each row became.
    """

    def place_of(fate: Fate) -> str:
        origin = understood.origins[fate.line - 1]
        return f"{origin.sheet}, {row_words(list(origin.rows))}"

    trial = take_and_keep(
        name=name, rows=rows_of(understood), by=by, place_of=place_of, is_sheet=True
    )
    return trial.count(NEW)


def _counts(trial: Trial) -> list[list[Any]]:
    counted: dict[str, list[int]] = {}
    for fate in trial.fates:
        held = counted.setdefault(fate.table, [0, 0, 0])
        held[(NEW, KNOWN, REFUSED).index(fate.outcome)] += 1
    return [
        [(HOLDS_ONE if counts[0] == 1 else HOLDS).get(table, table), *counts]
        for table, counts in counted.items()
    ]


def _refusals(trial: Trial, understood: Understanding) -> list[dict[str, Any]]:
    groups: dict[tuple[str, str], dict[str, Any]] = {}

    def of_sheet(line: re.Match[str]) -> str:
        return f"row {understood.origins[int(line[1]) - 1].rows[0]}, "

    for fate in trial.refused:
        origin = understood.origins[fate.line - 1]
        words = PART_LINE.sub(of_sheet, fate.words)
        group = groups.setdefault(
            (fate.table, words),
            {"table": HOLDS.get(fate.table, fate.table), "words": words, "places": {}, "rows": []},
        )
        group["places"].setdefault(origin.sheet, []).extend(origin.rows)
        group["rows"] += [[origin.table, row] for row in origin.rows]
    return list(groups.values())


def _refusal_doubts(trial: Trial, understood: Understanding, sheets: Sheets) -> list[Doubt]:
    """Return a doubt for each refusal of a rehearsal, answered for all rows that share it."""
    doubts = []
    for group in _refusals(trial, understood):
        sort = sheets.readings[group["rows"][0][0]].sort
        found = FIELD.match(group["words"])
        name = RENAMED.get(found[1], found[1]) if found else ""
        meaning = BY_SORT[sort].get(name)
        if meaning is None and name == "housing":
            meaning = BY_SORT[sort].get("unit")
        doubts.append(
            Doubt(
                f"refused|{group['table']}|{group['words']}",
                meaning.label if meaning else group["table"],
                "",
                f"Refused: {group['words']}",
                (CELL, ROW) if meaning and meaning.name not in ("day", "unit") else (ROW,),
                asks=meaning is not None and meaning.reads is not Reads.MARK,
                about=meaning.name if meaning else "",
                places={sheet: list(rows) for sheet, rows in group["places"].items()},
                rows=[(table, row) for table, row in group["rows"]],
            )
        )
    return doubts


def _on_record_otherwise(
    trial: Trial, rows: list[Row], understood: Understanding
) -> list[list[str]]:
    """Rows of inspections on record already that say something else than the record does."""
    by_line = {row.line: row for row in rows if row.table == "counts"}
    known = [
        by_line[fate.line]
        for fate in trial.fates
        if fate.table == "counts" and fate.outcome == KNOWN and fate.line in by_line
    ]
    told: list[list[str]] = []
    for row in known:
        said = row.values
        held = (
            Inspection.objects.standing()
            .filter(
                housing__mark=said["housing"],
                seen_at=said["seen_at"],
                **kind_named(said["kind"]).columns,
            )
            .select_related("hour_reading")
            .prefetch_related("pads")
            .first()
        )
        words = _differences(row, held) if held else ""
        if words:
            origin = understood.origins[row.line - 1]
            told.append([origin.sheet, str(origin.rows[0]), str(said["housing"]), words])
        if len(told) >= MOST_OTHERWISE:
            break
    return told


def _differences(row: Row, held: Inspection) -> str:
    said, parts = row.values, []
    hours = held.hour_reading.hours if held.hour_reading else None
    for name, here, there in (
        ("travel", said["travel_in"], held.travel_in),
        ("hours", said["hours"], hours),
    ):
        if here is not None and (there is None or abs(here - there) > 1e-6):
            on_record = "none" if there is None else f"{there:g}"
            parts.append(f"{name} {here:g} here, {on_record} on record")
    pads = {(pad.side, pad.number): pad.condition for pad in held.pads.all()}
    for part in row.parts:
        here = part.values["condition"]
        there_pad = pads.get((part.values["side"], part.values["number"]))
        if here != there_pad:
            position = f"{part.values['side']}{part.values['number']}"
            parts.append(f"pad {position} {here} here, {there_pad or 'not counted'} on record")
    return "; ".join(parts[:4])
