"""A graph's legend in words, each beside the stroke it names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from ratings.drawing.labels import fitting_size
from ratings.drawing.surface import Ink, Surface, text_width

_SIZE = 11.5
_ROW = 18.0
_SWATCH = 22.0
_GAP = 18.0


class Stroke(StrEnum):
    """How a thing is drawn on the graph."""

    LINE = "line"
    THIN = "thin"
    DASHED = "dashed"
    DOT = "dot"
    BAND = "band"


@dataclass(frozen=True)
class Entry:
    """A stroke of the graph and its words."""

    stroke: Stroke
    ink: Ink
    words: str


def legend_height(entries: Sequence[Entry], width: float) -> float:
    """Return the height the legend takes within a width."""
    rows = {row for row, _, _ in _places(entries, width)}
    return _ROW * len(rows)


def draw_legend(surface: Surface, entries: Sequence[Entry], width: float) -> None:
    """Draw the legend at the top left, running on to as many rows as it needs."""
    for row, x, entry in _places(entries, width):
        baseline = row * _ROW + 13.0
        _draw_swatch(surface, x, baseline - 4, entry)
        size = fitting_size(entry.words, _SIZE, width - _SWATCH - 8)
        surface.text(x + _SWATCH + 5, baseline, entry.words, Ink.INK, size)


def _places(entries: Sequence[Entry], width: float) -> Iterator[tuple[int, float, Entry]]:
    row, x = 0, 1.0
    for entry in entries:
        taken = _SWATCH + 5 + text_width(entry.words, _SIZE)
        if x > 1.0 and x + taken > width - 1:
            row, x = row + 1, 1.0
        yield row, x, entry
        x += taken + _GAP


def _draw_swatch(surface: Surface, x: float, y: float, entry: Entry) -> None:
    if entry.stroke is Stroke.DOT:
        surface.circle(x + _SWATCH / 2, y, 3.0, entry.ink)
    elif entry.stroke is Stroke.BAND:
        surface.rect(x, y - 5, _SWATCH, 10, Ink.BAND)
        surface.rect(x, y - 5, _SWATCH, 10, entry.ink, False)
    else:
        width = 2.4 if entry.stroke is Stroke.LINE else 1.4
        surface.line(x, y, x + _SWATCH, y, entry.ink, width, entry.stroke is Stroke.DASHED)
