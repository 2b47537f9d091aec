"""The last of a paper: its code, what it states, and how whoever holds it checks both."""

from __future__ import annotations

from reportlab.platypus import Flowable, KeepTogether, Table

from ratings.drawing.surface import Ink, Surface
from ratings.paper import long_paper
from ratings.paper.long_paper import LongPaper
from ratings.paper.scan_code import dark_runs, draw_code
from ratings.paper.style import HEADING, MONO, SMALL, WIDTH, cells, paragraph
from ratings.record.papers import Stamp, entry_lines

CODE = 92.0
_PLAIN = cells(0, 8, 0, 2)


class ScanCode(Flowable):  # type: ignore[misc, unused-ignore]
    """A code among the paragraphs of a paper."""

    def __init__(self, url: str, size: float = CODE) -> None:
        super().__init__()
        self.url, self.width, self.height = url, size, size

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        draw_code(self.canv, self.url, 0, 0, self.width)


def check_lines(stamp: Stamp) -> list[str]:
    """Return how a paper is checked, in sentences."""
    lines = [
        f"Scan the code, or open {stamp.url}. No account is needed: the page says whether this "
        "paper is known, what it stated when it was made, and what was added since.",
    ]
    if stamp.is_of_its_day:
        lines.append("It tells of the day it was made, and is not kept up.")
    return lines


def check_block(stamp: Stamp) -> list[Flowable]:
    """Return what stands at the end of a paper for whoever checks it."""
    figures: list[list[Flowable]] = [
        [paragraph(name, SMALL), paragraph(words, SMALL, bold=True)]
        for name, words in stamp.stated.figures
    ]
    room = WIDTH - CODE
    beside: list[Flowable] = [
        paragraph(f"Code {stamp.code}", SMALL, bold=True),
        *(paragraph(line, SMALL) for line in check_lines(stamp)),
    ]
    if figures:
        beside.append(Table(figures, colWidths=[0.3 * room, 0.7 * room], style=_PLAIN))
    beside += [paragraph(line, MONO) for line in entry_lines(stamp.stated.entries)]
    block = Table([[ScanCode(stamp.url), beside]], colWidths=[CODE + 8, room - 8], style=_PLAIN)
    heading = paragraph(f"To check this paper: {stamp.stated.title}", HEADING)
    return [KeepTogether([heading, block])]


def write_check(paper: LongPaper, stamp: Stamp) -> None:
    """Write what stands at the end of a paper of any length for whoever checks it."""

    def draw(surface: Surface) -> None:
        size, runs = dark_runs(stamp.url)
        unit = CODE / size
        for across, down, many in runs:
            # A hair taller, so that no printer leaves gaps between rows.
            surface.rect(across * unit, down * unit, many * unit, unit * 1.02, Ink.INK)

    heading = f"To check this paper: {stamp.stated.title}"
    with paper.section(heading, bookmark="To check this paper", below=CODE):
        paper.picture(CODE, CODE, draw, f"A code to scan, which leads to {stamp.url}")
        paper.text(f"Code {stamp.code}", long_paper.STRONG)
        for line in check_lines(stamp):
            paper.text(line, long_paper.SMALL)
        if stamp.stated.figures:
            with paper.rows(("What it states", ""), (150.0, WIDTH - 150.0)) as add:
                for figure in stamp.stated.figures:
                    add(figure)
        for line in entry_lines(stamp.stated.entries):
            paper.text(line, long_paper.CODE)
