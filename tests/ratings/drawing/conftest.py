"""A surface that remembers its strokes, for the tests to look at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import pytest

from ratings.drawing.labels import Box, text_box
from ratings.drawing.surface import Anchor, Ink, Point


@dataclass
class Recording:
    """Every stroke as (kind, values), in the order drawn."""

    strokes: list[tuple[str, dict[str, Any]]] = field(default_factory=list)

    def line(
        self,
        x1: float,
        y1: float,
        x2: float,
        y2: float,
        ink: Ink,
        width: float,
        dashed: bool = False,
    ) -> None:
        points = [(x1, y1), (x2, y2)]
        self._keep("line", points=points, ink=ink, width=width, dashed=dashed)

    def rect(self, x: float, y: float, w: float, h: float, ink: Ink, filled: bool = True) -> None:
        assert w >= 0
        assert h >= 0
        self._keep("rect", points=[(x, y), (x + w, y + h)], ink=ink, filled=filled)

    def polygon(self, points: Sequence[Point], ink: Ink, filled: bool = True) -> None:
        self._keep("polygon", points=list(points), ink=ink, filled=filled)

    def polyline(
        self, points: Sequence[Point], ink: Ink, width: float, dashed: bool = False
    ) -> None:
        self._keep("polyline", points=list(points), ink=ink, width=width, dashed=dashed)

    def circle(self, x: float, y: float, r: float, ink: Ink, filled: bool = True) -> None:
        self._keep("circle", points=[(x, y)], r=r, ink=ink, filled=filled)

    def text(
        self,
        x: float,
        y: float,
        string: str,
        ink: Ink,
        size: float,
        anchor: Anchor = "start",
        bold: bool = False,
    ) -> None:
        box = text_box(x, y, string, size, anchor, bold)
        self._keep("text", points=[(x, y)], string=string, ink=ink, bold=bold, box=box)

    def _keep(self, kind: str, **values: Any) -> None:
        self.strokes.append((kind, values))

    def of(self, kind: str, **wanted: Any) -> list[dict[str, Any]]:
        """Return the strokes of a kind whose values are those wanted."""
        return [
            values
            for each, values in self.strokes
            if each == kind and all(values[name] == value for name, value in wanted.items())
        ]

    def words(self) -> list[str]:
        return [values["string"] for values in self.of("text")]

    def overlapping(self) -> list[tuple[str, str]]:
        """Return every two texts whose boxes share room."""
        texts = [(values["string"], values["box"]) for values in self.of("text")]
        return [
            (one[0], other[0])
            for index, one in enumerate(texts)
            for other in texts[index + 1 :]
            if one[1].meets(other[1])
        ]

    def outside(self, width: float, height: float) -> list[str]:
        """Return every text and stroke that leaves the drawing."""
        hair = 1e-6
        page = Box(-hair, -hair, width + hair, height + hair)
        left_out = [
            str(values)
            for _, values in self.strokes
            for x, y in values["points"]
            if not (page.left <= x <= page.right and page.top <= y <= page.bottom)
        ]
        boxes = [(values["string"], values["box"]) for values in self.of("text")]
        return left_out + [
            words
            for words, box in boxes
            if box.left < page.left
            or box.right > page.right
            or box.top < page.top
            or box.bottom > page.bottom
        ]


@pytest.fixture
def recording() -> Recording:
    return Recording()


@pytest.fixture(scope="session")
def new_recording() -> type[Recording]:
    """The surface itself, for tests that draw more than once."""
    return Recording
