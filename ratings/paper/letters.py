"""Letters on paper: the standard PDF fonts have Western ones; Noto Sans has those of more names."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

from fontpkg_noto_sans import ROOT
from reportlab.pdfbase.pdfmetrics import registerFont, stringWidth
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

# Latin, Greek and Cyrillic beyond what the standard fonts are encoded in.
WIDER = "NotoSans"
_FILE = ROOT / "files" / "NotoSans[wdth,wght].ttf"
_NONE = "?"


def printable(text: str) -> str:
    """Return text in the characters a paper has; one that no font of it has prints as “?”."""
    plain = text.replace("→", "=>").replace("−", "–")
    return "".join(each if is_standard(each) or _is_wider(each) else _NONE for each in plain)


def is_standard(character: str) -> bool:
    """Whether the standard PDF fonts have a character."""
    return bool(character.encode("cp1252", errors="ignore"))


def pieces(text: str, font: str) -> Iterator[tuple[str, str]]:
    """Yield printable text word by word, each in one font that has all its letters."""
    for word in re.split(r"(\s+)", printable(text)):
        if word:
            yield (font if all(map(is_standard, word)) else WIDER), word


def text_width(text: str, font: str, size: float) -> float:
    """Return how long a line of text is, in points."""
    widths: list[float] = [stringWidth(piece, each, size) for each, piece in pieces(text, font)]
    return sum(widths)


def write(canvas: Canvas, x: float, y: float, text: str, font: str, size: float) -> None:
    """Write a line of text from a point on."""
    line = canvas.beginText(x, y)
    for each, piece in pieces(text, font):
        line.setFont(each, size)
        line.textOut(piece)
    canvas.drawText(line)


@cache
def _wider() -> TTFont:
    font = TTFont(WIDER, str(_FILE))
    registerFont(font)
    return font


def _is_wider(character: str) -> bool:
    return ord(character) in _wider().face.charToGlyph
