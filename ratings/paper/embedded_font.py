"""The letters of long papers: Noto Sans, of which each paper holds the glyphs it uses."""

from __future__ import annotations

import unicodedata
from functools import cache, lru_cache
from io import BytesIO
from typing import Any

from fontpkg_noto_sans import ROOT
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

from ratings.paper.pdf_file import PdfFile

_FILE = ROOT / "files" / "NotoSans[wdth,wght].ttf"
# In every paper, so that most papers hold the same glyphs, which are then made once.
_ALWAYS = frozenset({*range(0x20, 0x7F), *range(0xA1, 0x100), *map(ord, "–—‘’“”…−⁴₀₁Σσπ")})
# What it lacks and is easily said in other letters.
_OTHERWISE = {
    "→": "=>", "←": "<=", "≥": ">=", "≤": "<=", "√": "root of ", "∞": "infinite", "\t": " ",
    "\r": "", "\u00a0": " ", "\u2011": "-",
}  # fmt: skip


class Letters(dict[int, str]):
    """What each character prints as, for `str.translate`, and which the font lacks.

    One that it lacks prints as its number, such as [U+5C71], so that no two names look alike.
    """

    def __init__(self) -> None:
        super().__init__({ord(each): words for each, words in _OTHERWISE.items()})
        self[10] = "\n"
        self.lacking: dict[str, str] = {}

    def __missing__(self, code: int) -> str:
        character, written = chr(code), chr(code)
        if code not in _glyphs():
            written = f"[U+{code:04X}]"
            self.lacking[written] = unicodedata.name(character, "a control character").lower()
        self[code] = written
        return written


class EmbeddedFont:
    """One weight of the font while a paper is written: how wide its letters are, what it used."""

    def __init__(self, weight: int) -> None:
        self.weight = weight
        self.widths = _widths(weight)
        self._hex: dict[int, str] = _Used()
        self._words: dict[str, float] = {}

    def width(self, text: str) -> float:
        """Return how long a word is, in thousandths of its size."""
        known = self._words.get(text)
        if known is None:
            if len(self._words) > 20_000:
                self._words.clear()
            known = self._words[text] = sum(map(self.widths.__getitem__, map(ord, text)))
        return known

    def written(self, text: str) -> str:
        """Return text as the operand of what shows it."""
        return f"<{text.translate(self._hex)}>"

    def lines(self, text: str, size: float, width: float) -> list[str]:
        """Return text in lines no longer than a width in points; a word too long is broken."""
        most, space, lines = width * 1000.0 / size, self.widths[32], []
        for given in text.split("\n"):
            line: list[str] = []
            used = 0.0
            for word in given.split(" "):
                wide = self.width(word) if len(word) < 60 else self._wide(word)
                if line and used + space + wide > most:
                    lines.append(" ".join(line))
                    line, used = [], 0.0
                if wide > most:
                    *full, word = self._broken(word, most)
                    lines += full
                    wide = self._wide(word)
                used += wide + (space if line else 0.0)
                line.append(word)
            lines.append(" ".join(line))
        return lines

    def _wide(self, text: str) -> float:
        return sum(map(self.widths.__getitem__, map(ord, text)))

    def _broken(self, word: str, most: float) -> list[str]:
        parts, begun, used = [], 0, 0.0
        for place, character in enumerate(word):
            wide = self.widths[ord(character)]
            if used + wide > most and place > begun:
                parts.append(word[begun:place])
                begun, used = place, 0.0
            used += wide
        return [*parts, word[begun:]]

    def put(self, file: PdfFile, number: int) -> None:
        """Write the font under its number: the glyphs used, their widths, what each one means."""
        codes = _ALWAYS | self._hex.keys()
        program, widths = _program(self.weight, frozenset(codes))
        name = f"LPLNSA+NotoSans-{'Bold' if self.weight > 400 else 'Regular'}"
        table = _tables()
        held = file.put_stream(f"/Length1 {len(program)}", program)
        box = " ".join(str(table["head"][each]) for each in ("xMin", "yMin", "xMax", "yMax"))
        rise, fall, capital = (table["OS/2"][each] for each in ("ascent", "descent", "capital"))
        descriptor = file.put(
            f"<</Type /FontDescriptor /FontName /{name} /Flags 4 /FontBBox [{box}] /ItalicAngle 0 "
            f"/Ascent {rise} /Descent {fall} /CapHeight {capital} "
            f"/StemV {140 if self.weight > 400 else 80} /FontFile2 {held} 0 R>>"
        )
        told = " ".join(f"{glyph} [{wide}]" for glyph, wide in sorted(widths.items()))
        descendant = file.put(
            f"<</Type /Font /Subtype /CIDFontType2 /BaseFont /{name} /CIDSystemInfo <</Registry "
            f"(Adobe) /Ordering (Identity) /Supplement 0>> /FontDescriptor {descriptor} 0 R "
            f"/CIDToGIDMap /Identity /DW 600 /W [{told}]>>"
        )
        meaning = file.put_stream("", _meaning(codes))
        file.put(
            f"<</Type /Font /Subtype /Type0 /BaseFont /{name} /Encoding /Identity-H "
            f"/DescendantFonts [{descendant} 0 R] /ToUnicode {meaning} 0 R>>",
            number,
        )


class _Used(dict[int, str]):
    """The glyph of each character that was written, in four digits."""

    def __missing__(self, code: int) -> str:
        written = f"{_glyphs()[code]:04X}"
        self[code] = written
        return written


def _meaning(codes: frozenset[int]) -> bytes:
    """Return which character each glyph means."""
    of_glyph: dict[int, int] = {}
    for code in sorted(codes):
        of_glyph.setdefault(_glyphs()[code], code)
    lines = [
        f"<{glyph:04X}> <{chr(code).encode('utf-16-be').hex().upper()}>"
        for glyph, code in sorted(of_glyph.items())
    ]
    parts = [lines[at : at + 100] for at in range(0, len(lines), 100)]
    told = "\n".join(
        f"{len(part)} beginbfchar\n" + "\n".join(part) + "\nendbfchar" for part in parts
    )
    return (
        "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n/CIDSystemInfo <</Registry"
        " (Adobe) /Ordering (UCS) /Supplement 0>> def\n/CMapName /Adobe-Identity-UCS def\n/CMapType"
        f" 2 def\n1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n{told}\nendcmap\n"
        "CMapName currentdict /CMap defineresource pop\nend\nend\n"
    ).encode()


@cache
def _font() -> TTFont:
    return TTFont(str(_FILE), lazy=True, recalcTimestamp=False)


@cache
def _glyphs() -> dict[int, int]:
    """The number of the glyph of each character the font has."""
    numbers = _font().getReverseGlyphMap()
    return {code: numbers[name] for code, name in _font().getBestCmap().items()}


@cache
def _tables() -> dict[str, dict[str, int]]:
    head, metrics = _font()["head"], _font()["OS/2"]
    return {
        "head": {each: getattr(head, each) for each in ("xMin", "yMin", "xMax", "yMax")},
        "OS/2": {
            "ascent": metrics.sTypoAscender,
            "descent": metrics.sTypoDescender,
            "capital": metrics.sCapHeight,
        },
    }


class _Widths(dict[int, float]):
    """How wide the glyph of each character is, asked once of each. An em is 1,000 wide."""

    def __init__(self, weight: int) -> None:
        super().__init__()
        self._names: dict[int, str] = _font().getBestCmap()
        self._set: Any = _font().getGlyphSet(location={"wght": weight, "wdth": 100})

    def __missing__(self, code: int) -> float:
        wide = float(round(self._set[self._names[code]].width))
        self[code] = wide
        return wide


@cache
def _widths(weight: int) -> _Widths:
    return _Widths(weight)


@lru_cache(maxsize=8)
def _program(weight: int, codes: frozenset[int]) -> tuple[bytes, dict[int, int]]:
    """Return the font with the glyphs of some characters alone, and their widths by number."""
    font = TTFont(str(_FILE), lazy=True, recalcTimestamp=False)
    options = Options(layout_features=[], hinting=False, notdef_outline=True, retain_gids=True)
    options.drop_tables += ["GSUB", "GPOS", "GDEF", "STAT", "MVAR", "DSIG"]
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=codes)
    subsetter.subset(font)
    made = instancer.instantiateVariableFont(font, {"wght": weight, "wdth": 100})
    written = BytesIO()
    made.save(written)
    metrics, names = made["hmtx"].metrics, made.getBestCmap()
    glyphs = _glyphs()
    widths = {glyphs[code]: metrics[name][0] for code, name in names.items()}
    widths[0] = metrics[".notdef"][0]
    return written.getvalue(), widths
