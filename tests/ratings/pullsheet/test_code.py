"""The code leads to the commitment's page."""

from __future__ import annotations

from typing import Any

import pytest
import segno

from ratings.paper.scan_code import QUIET, code_matrix, draw_code
from ratings.pullsheet.paper import CODE
from tests.ratings.pullsheet.printed import URL


class Squares:
    """A canvas that keeps the squares drawn on it."""

    def __init__(self) -> None:
        self.drawn: list[tuple[float, float]] = []

    def setFillGray(self, _gray: float) -> None:  # noqa: N802 - reportlab's name
        """Every square is black."""

    def rect(self, x: float, y: float, *_size: float, **_how: Any) -> None:
        self.drawn.append((x, y))


@pytest.mark.parametrize("url", [URL, f"https://{'yard.' * 20}example/commitments/123456/"])
def test_the_code_drawn_is_that_of_the_page(url: str) -> None:
    canvas: Any = Squares()
    side = len(code_matrix(url))
    draw_code(canvas, url, 0.0, 0.0, float(side))
    places = {(round(x) - QUIET, side - round(y) - 1 - QUIET) for x, y in canvas.drawn}
    made = segno.make(url, error="m", micro=False).matrix
    assert places == {
        (across, down) for down, row in enumerate(made) for across, dark in enumerate(row) if dark
    }


def test_it_is_an_inch_at_least_and_has_its_quiet_zone() -> None:
    assert CODE >= 72.0
    rows = code_matrix(URL)
    edges = (*rows[:QUIET], *rows[-QUIET:], *(row[:QUIET] + row[-QUIET:] for row in rows))
    assert not any(any(edge) for edge in edges)
