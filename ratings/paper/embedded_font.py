"""The letters of long papers: Noto Sans, of which each paper holds the glyphs it uses."""

from __future__ import annotations

import unicodedata
from bisect import bisect_right
from collections.abc import Callable
from functools import cache, lru_cache
from io import BytesIO
from itertools import accumulate
from typing import Any, Generic, TypeVar

from fontpkg_noto_sans import ROOT
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

from ratings.paper.pdf_file import PdfFile

T = TypeVar("T")

_FILE = ROOT / "files" / "NotoSans[wdth,wght].ttf"
# In every paper, so that most papers hold the same glyphs, which are then made once.
_ALWAYS = frozenset({*range(0x20, 0x7F), *range(0xA1, 0x100), *map(ord, "–—‘’“”…−⁴₀₁Σσπ")})
# Letters of a word that is not kept, and how many words are.
_LONG, _MOST_KEPT = 60, 20_000
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
        self._shown = _OfWords(lambda word: word.translate(self._hex))
        # With a space after it, as it stands in a line.
        self._wide = _OfWords(lambda word: sum(map(self.widths.__getitem__, map(ord, f"{word} "))))

    def width(self, text: str) -> float:
        """Return how long a word is, in thousandths of its size."""
        return self._wide[text] - self.widths[32]

    def written(self, text: str) -> str:
        """Return text as the operand of what shows it."""
        return f"<{self._hex[32].join(map(self._shown.__getitem__, text.split(' ')))}>"

    def lines(self, text: str, size: float, width: float) -> list[str]:
        """Return text in lines no longer than a width in points; a word too long is broken."""
        # With the space that each word is measured with.
        most, lines = width * 1000.0 / size + self.widths[32], []
        for given in text.split("\n"):
            words = given.split(" ")
            wide = list(map(self._wide.__getitem__, words))
            if sum(wide) <= most:
                lines.append(given)
            elif max(wide) <= most:
                lines += _filled(words, wide, most)
            else:
                lines += self._filled_with_broken(words, most)
        return lines

    def _filled_with_broken(self, words: list[str], most: float) -> list[str]:
        lines: list[str] = []
        begun: list[str] = []
        for word in words:
            rest = word
            if self._wide[word] > most:
                *full, rest = self._broken(word, most - self.widths[32])
                lines += [*_filled(begun, [self._wide[each] for each in begun], most), *full]
                begun = []
            begun.append(rest)
        return lines + _filled(begun, [self._wide[each] for each in begun], most)

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


def _filled(words: list[str], wide: list[float], most: float) -> list[str]:
    """Return words in as few lines as they fit in. wide: each with a space.

    Widths are whole numbers: their sums are exact.
    """
    ends = list(accumulate(wide))
    lines, begun, before = [], 0, 0.0
    while begun < len(words):
        # A single letter may be wider than a line is.
        end = max(bisect_right(ends, before + most, begun), begun + 1)
        lines.append(" ".join(words[begun:end]))
        begun, before = end, ends[end - 1]
    return lines


class _OfWords(dict[str, T], Generic[T]):
    """What is worked out of each word, kept while there is room: most come again and again.

    A long one is a hash, as a rule, and comes once.
    """

    def __init__(self, work_out: Callable[[str], T]) -> None:
        super().__init__()
        self._work_out = work_out

    def __missing__(self, word: str) -> T:
        found = self._work_out(word)
        if len(word) < _LONG:
            if len(self) >= _MOST_KEPT:
                self.clear()
            self[word] = found
        return found


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
