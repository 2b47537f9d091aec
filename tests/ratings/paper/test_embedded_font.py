"""Text broken into lines of the letters that a paper embeds."""

from __future__ import annotations

from itertools import pairwise

import pytest

from ratings.paper.embedded_font import EmbeddedFont

SIZE = 7.5
TEXT = "Entry 12: line pull 12.4 tons, sound pads 7 of 8, and what differs from the entry before."


def points(font: EmbeddedFont, text: str) -> float:
    return font.width(text) * SIZE / 1000.0


@pytest.mark.parametrize("room", [60.0, 90.0, 200.0, 600.0])
def test_each_line_holds_as_many_words_as_fit(room: float) -> None:
    font = EmbeddedFont(400)
    lines = font.lines(TEXT, SIZE, room)
    assert " ".join(lines) == TEXT
    for line, after in pairwise(lines):
        assert points(font, line) <= room < points(font, f"{line} {after.split(' ')[0]}")


def test_a_line_given_as_such_stays_one() -> None:
    assert EmbeddedFont(400).lines("one  two\n\nthree", SIZE, 500.0) == ["one  two", "", "three"]


def test_a_word_longer_than_a_line_begins_one_of_its_own() -> None:
    font = EmbeddedFont(700)
    lines = font.lines(f"hash {'0' * 64} stands", SIZE, 100.0)
    assert lines[0] == "hash"
    assert "".join(lines[1:]).replace(" ", "") == f"{'0' * 64}stands"
    assert all(points(font, line) <= 100.0 for line in lines)


def test_a_letter_wider_than_a_line_stands_alone() -> None:
    assert EmbeddedFont(400).lines("WW W", SIZE, 2.0) == ["W", "W", "W"]


def test_text_is_written_as_its_letters_one_by_one() -> None:
    font = EmbeddedFont(400)
    assert font.written("a b") == f"<{''.join(font.written(each)[1:-1] for each in 'a b')}>"
