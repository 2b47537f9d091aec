"""Labels: the room they need, and a graph's legend."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from ratings.drawing.surface import Anchor, Ink, Surface, text_width

Span = tuple[float, float]


@dataclass(frozen=True)
class Box:
    """An upright rectangle."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """Say whether the two share any room."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom


@dataclass
class Taken:
    """The room already taken on a drawing."""

    boxes: list[Box] = field(default_factory=list)

    def take(self, box: Box) -> bool:
        """Take a box if it's free; say whether it was."""
        if any(box.meets(other) for other in self.boxes):
            return False
        self.boxes.append(box)
        return True


def text_box(
    x: float, y: float, string: str, size: float, anchor: Anchor = "start", bold: bool = False
) -> Box:
    """Return the room a text takes, y being its baseline."""
    width = text_width(string, size, bold)
    left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
    return Box(left, y - 0.8 * size, left + width, y + 0.22 * size)


def fitting_size(string: str, size: float, room: float, bold: bool = False) -> float:
    """Return the size, made smaller where the string would not fit the room."""
    width = text_width(string, size, bold)
    return size if width <= room else size * room / width


def shortened(string: str, size: float, room: float) -> str:
    """Return the string, its end cut to an ellipsis where it would not fit the room."""
    if text_width(string, size) <= room:
        return string
    for length in range(len(string) - 1, 0, -1):
        cut = string[:length].rstrip() + "…"
        if text_width(cut, size) <= room:
            return cut
    return ""


def left_of_label(x: float, width: float, row: Span, avoid: Span | None = None) -> float | None:
    """Return where a label that belongs to x may begin, within its row and clear of a span.

    As near to centred on x as can be; None where there's no room for it.
    """
    low, high = row
    wishes = [x - width / 2]
    if avoid is not None:
        wishes += sorted((avoid[1], avoid[0] - width), key=lambda left: abs(left - wishes[0]))
    for wish in wishes:
        left = min(max(wish, low), high - width)
        if left >= low and (avoid is None or left >= avoid[1] or left + width <= avoid[0]):
            return left
    return None


def anchored(x: float, left: float, width: float) -> tuple[float, Anchor]:
    """Return where to anchor a label that belongs to x: centred, or by the side it was moved to.

    Words are narrower than their estimate; so they keep close to what moved them.
    """
    moved = left + width / 2 - x
    if abs(moved) < 0.01:
        return x, "middle"
    return (left, "start") if moved > 0 else (left + width, "end")


def side_by_side(labels: Sequence[tuple[float, float]], row: Span, gap: float) -> list[float]:
    """Return where one or two labels, given as (x, width), may begin on a row.

    They stand in the order of their x; the second is left out where there's no room for both.
    """
    low, high = row
    lefts = [min(max(x - width / 2, low), high - width) for x, width in labels]
    if len(labels) < 2:
        return lefts
    if sum(width for _, width in labels) + gap > high - low:
        return lefts[:1]
    first, second = sorted((0, 1), key=lambda index: labels[index][0])
    lefts[first] = max(low, min(lefts[first], lefts[second] - gap - labels[first][1]))
    lefts[second] = max(lefts[second], lefts[first] + labels[first][1] + gap)
    return lefts


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
    RING = "ring"
    BAND = "band"
    HEAD = "arrow head"


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
    elif entry.stroke is Stroke.RING:
        surface.circle(x + _SWATCH / 2, y, 4.0, entry.ink, False)
    elif entry.stroke is Stroke.HEAD:
        middle = x + _SWATCH / 2
        surface.polygon([(middle - 5, y + 4), (middle + 5, y + 4), (middle, y - 5)], entry.ink)
    elif entry.stroke is Stroke.BAND:
        surface.rect(x, y - 5, _SWATCH, 10, Ink.BAND)
        surface.rect(x, y - 5, _SWATCH, 10, entry.ink, False)
    else:
        width = 2.4 if entry.stroke is Stroke.LINE else 1.4
        surface.line(x, y, x + _SWATCH, y, entry.ink, width, entry.stroke is Stroke.DASHED)
