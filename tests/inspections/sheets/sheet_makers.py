"""Sheets as yards keep them, made by code, and how the site takes them in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from io import BytesIO
from typing import Any

from django.contrib.auth.models import User
from openpyxl import Workbook

from fleet.models import Yard
from inspections.models import SheetDraft, TakenImport
from inspections.sheets.doubts import Doubt
from inspections.sheets.grid import Grid, read_grids, read_pasted
from inspections.sheets.recording import (
    answer_doubts,
    confirm_columns,
    keep_sheet,
    open_sheet,
    rehearse_sheet,
    take_sheet,
)
from inspections.sheets.rehearsal import doubts_kept
from tests.builders import Unit
from tests.factories import ManagerFactory

Rows = Iterable[Sequence[Any]]


def workbook(merged: Sequence[str] = (), **sheets: Rows) -> bytes:
    """A workbook with these sheets; merged: ranges of the first that are one cell."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name.replace("_", " "))
        for row in rows:
            sheet.append(list(row))
    for cells in merged:
        book.worksheets[0].merge_cells(cells)
    held = BytesIO()
    book.save(held)
    return held.getvalue()


def kept(
    content: bytes | str, yard: Yard | None = None, *, owner: User | None = None, name: str = ""
) -> SheetDraft:
    """A sheet kept for its person: a file's bytes, or text that was pasted."""
    grids: list[Grid] = (
        read_pasted(content)
        if isinstance(content, str)
        else read_grids(name or ("log.xlsx" if content[:2] == b"PK" else "log.csv"), content)
    )
    return keep_sheet(owner=owner or ManagerFactory(), yard=yard, name=name or "Log", grids=grids)


def confirmed(draft: SheetDraft, **kinds: str) -> SheetDraft:
    """The draft with its columns confirmed as they were guessed, and tried."""
    sheets = open_sheet(draft)
    readings = {
        number: {"sort": each.sort, "meanings": each.meanings, "kind": kinds.get("kind", each.kind)}
        for number, each in sheets.readings.items()
    }
    draft = confirm_columns(draft=draft, readings=readings, by=draft.owner)
    return rehearse_sheet(draft=draft, by=draft.owner)


def taken_for(draft: SheetDraft) -> dict[str, str]:
    """What each column is taken for, by its header, of all tables together."""
    sheets = open_sheet(draft)
    return {
        column.header: sheets.readings[block.number].meanings[column.place]
        for block in sheets.blocks
        for column in block.columns
        if column.place in sheets.readings[block.number].meanings
    }


def doubts_of(draft: SheetDraft) -> list[Doubt]:
    """Every doubt of a draft: of reading it, and of what its rehearsal refused."""
    return doubts_kept(draft.rehearsal)


def answered(draft: SheetDraft, **answers: str) -> SheetDraft:
    """The draft with doubts answered by what was given in their cells, _ for none, and tried."""
    given = {}
    doubts = doubts_of(draft)
    for doubt in doubts:
        value = answers.get(doubt.given) or answers.get(doubt.key.split("|")[0])
        if value:
            given[doubt.id] = value
    draft = answer_doubts(draft=draft, doubts=doubts, given=given, by=draft.owner)
    return rehearse_sheet(draft=draft, by=draft.owner)


def taken_sheet(unit: Unit) -> TakenImport:
    """What each row of a sheet of two visits of a unit became."""
    mark = unit.housing.mark
    rows = f"Unit,Date,Travel\n{mark},2026-08-03,6\n{mark},2026-08-04,6\n"
    draft = confirmed(kept(rows, unit.housing.yard, name="August.csv"))
    take_sheet(draft=draft, by=draft.owner)
    return TakenImport.objects.latest("pk")
