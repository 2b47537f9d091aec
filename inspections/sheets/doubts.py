"""Doubts about a sheet: each asked once per value, wherever it stands, and answered in place."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field

LEAVE_CELL, LEAVE_ROW = "=cell", "=row"
CELL = (LEAVE_CELL, "leave these cells out")
ROW = (LEAVE_ROW, "leave these rows out")
SHOWN_ROWS = 12

Choices = tuple[tuple[str, str], ...]


@dataclass
class Doubt:
    """Something the program doesn't know, with what it would take it for.

    places: rows by sheet. asks: whether something may be typed. likely: the choice offered.
    place: under which an answer is remembered for the yard, "" where it isn't. rows: table and
    row each, where the answer is for these rows alone; about: the meaning it is given for.
    """

    key: str
    column: str
    given: str
    words: str
    choices: Choices = ()
    asks: bool = False
    likely: str = ""
    place: str = ""
    about: str = ""
    places: dict[str, list[int]] = field(default_factory=dict)
    rows: list[tuple[int, int]] = field(default_factory=list)
    example: str = ""

    @property
    def id(self) -> str:
        """What its form field is called."""
        return hashlib.sha256(self.key.encode("utf-8", "replace")).hexdigest()[:16]

    @property
    def count(self) -> int:
        return sum(len(rows) for rows in self.places.values())

    @property
    def where(self) -> list[str]:
        """Where it stands, in words: each sheet with its rows."""
        return [f"{sheet}, {row_words(rows)}" for sheet, rows in self.places.items()]

    @property
    def likely_label(self) -> str:
        return dict(self.choices).get(self.likely, "")


def row_words(rows: list[int]) -> str:
    """Return rows in words, those that follow each other as a span: "rows 4–9, 12"."""
    spans: list[list[int]] = []
    for row in sorted(set(rows)):
        if spans and row == spans[-1][-1] + 1:
            spans[-1][1:] = [row]
        else:
            spans.append([row])
    shown = [str(span[0]) if len(span) == 1 else f"{span[0]}–{span[-1]}" for span in spans]
    more = f" and {len(shown) - SHOWN_ROWS} more" if len(shown) > SHOWN_ROWS else ""
    word = "row" if len(spans) == 1 and len(spans[0]) == 1 else "rows"
    return f"{word} {', '.join(shown[:SHOWN_ROWS])}{more}"


def answer_words(value: str) -> str:
    """Return an answer in words."""
    for kept, words in (CELL, ROW):
        if value == kept:
            return words
    if value.startswith("=new:"):
        return f"{value.removeprefix('=new:')}, new"
    return value.replace(":", " ", 1) if value.split(":")[0] in MARKED else value


MARKED = ("housing", "hammer", "lot")


class Doubts:
    """The doubts of a file, in the order they were met."""

    def __init__(self) -> None:
        self.by_key: dict[str, Doubt] = {}

    def add(self, doubt: Doubt, sheet: str, row: int) -> None:
        """Add a doubt at a row, or that row to a doubt met before."""
        held = self.by_key.setdefault(doubt.key, doubt)
        rows = held.places.setdefault(sheet, [])
        if not rows or rows[-1] != row:
            rows.append(row)

    def __iter__(self) -> Iterator[Doubt]:
        return iter(self.by_key.values())

    def __len__(self) -> int:
        return len(self.by_key)
