"""The pad map: two columns of positions as on the housing, each state a word and a shape."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ratings.drawing.labels import shortened
from ratings.drawing.shapes import draw_pad_shape
from ratings.drawing.surface import Ink, Surface, text_width

SIDES = ("A", "B")
NOT_COUNTED = "not counted"
_ROW = 24.0
_HEAD = 24.0
_GAP = 12.0
_SIZE = 11.5
_LOT_SIZE = 10.0
_SHAPE = 15.0
_NUMBER_ROOM = 20.0
_WELL = ("sound", "")


@dataclass(frozen=True)
class PadCell:
    """A pad position as seen: condition "" is one that was not counted."""

    side: str
    number: int
    condition: str
    lot: str = ""


def pad_map_height(cells: Sequence[PadCell], width: float) -> float:
    """Return the height the map takes; it's the same for any width."""
    return _HEAD + _ROW * max((cell.number for cell in cells), default=0) + 1.0


def draw_pad_map(surface: Surface, cells: Sequence[PadCell], width: float) -> None:
    """Draw side A and side B beside each other, positions counted from the top."""
    column = (width - _GAP) / 2
    for index, side in enumerate(SIDES):
        x = index * (column + _GAP)
        surface.text(x + 1, 15.0, f"side {side}", Ink.INK, 12.5, "start", bold=True)
        surface.line(x, _HEAD - 3, x + column, _HEAD - 3, Ink.INK, 1.2)
    for cell in cells:
        x = SIDES.index(cell.side) * (column + _GAP)
        _draw_cell(surface, cell, x, _HEAD + _ROW * (cell.number - 1), column)


def _draw_cell(surface: Surface, cell: PadCell, x: float, y: float, width: float) -> None:
    well = cell.condition in _WELL
    baseline = y + _ROW / 2 + 4
    surface.line(x, y + _ROW - 2, x + width, y + _ROW - 2, Ink.GRID, 1.0)
    surface.text(x + 16, baseline, str(cell.number), Ink.FAINT, _SIZE, "end")
    draw_pad_shape(surface, cell.condition, x + _NUMBER_ROOM, y + 3.5, _SHAPE)
    word_x = x + _NUMBER_ROOM + _SHAPE + 4
    word = cell.condition or NOT_COUNTED
    surface.text(word_x, baseline, word, _word_ink(cell), _SIZE, "start", bold=not well)
    room = x + width - 2 - (word_x + text_width(word, _SIZE, bold=not well) + 5)
    lot = shortened(cell.lot, _LOT_SIZE, room)
    if lot:
        surface.text(x + width - 2, baseline, lot, Ink.FAINT, _LOT_SIZE, "end")


def _word_ink(cell: PadCell) -> Ink:
    if cell.condition == "":
        return Ink.FAINT
    return Ink.INK if cell.condition in _WELL else Ink.WARN
