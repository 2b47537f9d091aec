"""Pages that say which of how many they are."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from reportlab.lib.pagesizes import letter
from reportlab.pdfgen.canvas import Canvas

PAGE = letter
MARGIN = 42.0
WIDTH = PAGE[0] - 2 * MARGIN

HeadAndFoot = Callable[[Canvas, int, int], None]


def numbered_canvas(head_and_foot: HeadAndFoot) -> type[Canvas]:
    """Return a canvas that writes head and foot once it knows how many pages there are.

    head_and_foot: given the canvas, the page's number and how many pages there are.
    """

    class NumberedCanvas(Canvas):  # type: ignore[misc]  # the library carries no types
        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self._kept: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 - reportlab's name
            self._kept.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for number, page in enumerate(self._kept, start=1):
                self.__dict__.update(page)
                head_and_foot(self, number, len(self._kept))
                super().showPage()
            super().save()

    return NumberedCanvas
